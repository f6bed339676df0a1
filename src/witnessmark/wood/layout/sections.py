"""The best section of a board for given prices of parts: lanes side by side, parts one behind another in each lane.

Question  which parts, sawn from one section of a board, are worth most beyond what the section's length costs
Frame     a section is as long as its longest part, which so is alone in its lane and is said to lead; its lanes run
          along it, each as wide as its widest part
Units     whole mm
Arrays    lengths, widths, counts (n,) int64, items by rising width; worth (n,) float64; leaders (s,) int64: the
          items that are looked at as leaders, rents (s,) what a section led by each costs
Method    a knapsack along the length for lanes of every width (items by rising width, each no more often than it is
          wanted), then one across the board for every leader. These may use an item in two lanes; the best
          section that does not is searched for lane by lane (branch and bound, the knapsacks are its bounds)
Source    Gilmore and Gomory, Multistage cutting stock problems of two and more dimensions, Operations Research 13
          (1965) 94-120 (from memory)
Valid     exact for sections of this kind; where the search is cut short (``most_nodes``) the bound that comes with it
          still holds
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

SHALLOW, DEEP = 300_000, 3_000_000  # so many nodes are searched, no more
DEEPEST = 64

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@njit(cache=True, error_model="numpy", nogil=True)
def lane_values(lengths: Ints, counts: Ints, worth: Floats, most: int, kerf: int) -> Floats:
    """(n, most + 1): the worth of lanes as wide as each item within each length."""
    n = lengths.size
    best = np.zeros((n, most + 1))
    now = np.zeros(most + 1)
    for i in range(n):
        step = lengths[i] + kerf
        if worth[i] > 0.0:
            for _ in range(counts[i]):
                for at in range(most, step - 1, -1):
                    now[at] = max(now[at], now[at - step] + worth[i])
        best[i] = now
    return best


@njit(cache=True, error_model="numpy", nogil=True)
def best_sections(leaders: Ints, lengths: Ints, widths: Ints, lanes: Floats, across: int, kerf: int) -> Floats:
    """values (s, across + 1): the worth of lanes within each width, beside every leader."""
    values = np.zeros((leaders.size, across + 1))
    for s in range(leaders.size):
        length = lengths[leaders[s]] + kerf
        value = values[s]
        narrower = 0.0
        for k in range(widths.size):
            worth = lanes[k, length]
            if worth <= narrower:  # a narrower lane is worth as much
                continue
            narrower = worth
            wide = widths[k] + kerf
            for at in range(wide, across + 1):
                value[at] = max(value[at], value[at - wide] + worth)
        for at in range(1, across + 1):
            value[at] = max(value[at], value[at - 1])
    return values


@njit(cache=True, error_model="numpy", nogil=True)
def proper_section(
    lengths: Ints, widths: Ints, counts: Ints, worth: Floats, lanes: Floats, leaders: Ints, rents: Floats,
    values: Floats, order: Ints, across: int, kerf: int, least: float, most_nodes: int, cut_of: Ints, cut_from: Ints,
    fines: Floats,
) -> tuple[float, float, Ints, NDArray[np.bool_]]:  # fmt: skip
    """The best section in which no item comes more often than it is wanted, of more gain than ``least``.

    lanes, values: see ``lane_values``, ``best_sections``; order: numbers of the leaders to look at, by falling gain
    of ``values``; cut_of[cut_from[i] : cut_from[i + 1]]: the cuts that hold item i, fines (c,): what a section pays
    that holds two or more of a cut's items. Returns (gain, bound on the gain of any, items of the section and
    which of them begin a lane: arrays of DEEPEST, the items ended by -1).
    """
    n = lengths.size
    found = np.full(DEEPEST, -1, dtype=np.int64)
    begins = np.zeros(DEEPEST, dtype=np.bool_)
    items = np.full(DEEPEST, -1, dtype=np.int64)  # item at each depth of the search
    lead = np.zeros(DEEPEST, dtype=np.bool_)  # whether it begins a lane
    trying = np.zeros(DEEPEST, dtype=np.int64)  # next candidate at each depth: 0..n-1 in the lane, n..2n-1 a new lane
    room = np.zeros(DEEPEST + 1, dtype=np.int64)  # length left in the lane
    wide = np.zeros(DEEPEST + 1, dtype=np.int64)  # width left
    head = np.zeros(DEEPEST + 1, dtype=np.int64)  # the item that is as wide as the lane
    sum_ = np.zeros(DEEPEST + 1)
    hits = np.zeros(fines.size, dtype=np.int64)
    left = counts.copy()
    top = least
    open_ = least
    nodes = 0
    for which in range(order.size):
        s = order[which]
        leader, rent = leaders[s], rents[s]
        length, beside = lengths[leader] + kerf, across - widths[leader] - kerf
        most = worth[leader] + values[s, beside] - rent
        if most <= top + 1e-9:
            break
        hits[:] = 0
        for c in range(cut_from[leader], cut_from[leader + 1]):
            hits[cut_of[c]] += 1
        left[leader] -= 1
        items[0], lead[0], depth = leader, True, 1
        wide[1], room[1], head[1], sum_[1], trying[1] = beside, 0, n - 1, worth[leader], n
        if worth[leader] - rent > top:
            top = worth[leader] - rent
            found[:] = -1
            found[0], begins[0] = leader, True
        stopped = False
        while depth > 0:
            nodes += 1
            if nodes > most_nodes:
                stopped = True
                break
            at = trying[depth]
            # candidates fall from wide to narrow, so that every section is met once
            if at >= 2 * n or depth >= DEEPEST - 1:
                depth -= 1
                if depth > 0:
                    left[items[depth]] += 1
                    for c in range(cut_from[items[depth]], cut_from[items[depth] + 1]):
                        hits[cut_of[c]] -= 1
                continue
            trying[depth] = at + 1
            fresh = at >= n
            i = n - 1 - (at - n) if fresh else n - 1 - at
            if left[i] <= 0 or worth[i] <= 0.0 or lengths[i] + kerf > (length if fresh else room[depth]):
                continue
            if fresh:
                if i > head[depth] or widths[i] + kerf > wide[depth]:
                    continue
                new_wide, new_room, new_head = wide[depth] - widths[i] - kerf, length - lengths[i] - kerf, i
            else:
                if i > items[depth - 1]:
                    continue
                new_wide, new_room, new_head = wide[depth], room[depth] - lengths[i] - kerf, head[depth]
            new_sum = sum_[depth] + worth[i]
            for c in range(cut_from[i], cut_from[i + 1]):
                if hits[cut_of[c]] == 1:
                    new_sum -= fines[cut_of[c]]
            could = new_sum + lanes[i, new_room] + values[s, new_wide] - rent
            if could <= top + 1e-9:
                continue
            items[depth], lead[depth] = i, fresh
            left[i] -= 1
            for c in range(cut_from[i], cut_from[i + 1]):
                hits[cut_of[c]] += 1
            depth += 1
            sum_[depth], wide[depth], room[depth], head[depth] = new_sum, new_wide, new_room, new_head
            trying[depth] = 0
            if new_sum - rent > top:
                top = new_sum - rent
                found[:] = -1
                found[:depth] = items[:depth]
                begins[:depth] = lead[:depth]
        if stopped:
            open_ = max(open_, most)
            break
        left[leader] += 1
    return top, max(open_, top), found, begins
