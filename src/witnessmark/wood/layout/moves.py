"""Parts moved between lanes, lanes between sections, sections between boards, by chance: annealing a layout.

Question  is there a layout near this one that costs less
Units     whole mm; costs in the maker's money
Arrays    n parts, lanes and sections, each by its number (empty ones are there to be used); m forms; b clear areas.
          A layout is (4, n) int64: parts' lanes (-1: left over) and forms, each lane's section, each section's board
Method    simulated annealing. A section wider than its board, one with a lane longer than its longest part, and more
          sections than a board has room for are allowed on the way and cost the more; only layouts without any are
          kept. ``climbed`` anneals again and again the parts of a few sections, the others stay
Source    Kirkpatrick, Gelatt and Vecchi, Optimization by simulated annealing, Science 220 (1983) 671-680; a few at a
          time: Shaw, CP98 (1998) 417-431 (both from memory)
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

OVER_RATIO = 10.0  # a section over its board's width or its own length costs so many times the overhang's share more
OVER_ROOM = 3.0  # a mm of sections that a board has no room for costs so many times a mm of the dearest board
MOVES_A_PART = 4000
LEAST_HOT, MOST_HOT, COOLED = 0.1, 0.4, 20.0  # of what a part costs on the average; cooled down by
LEAST_FREE, MOST_FREE = 14, 29
ELSEWHERE = 0.5
TINY, HOPELESS = 2.0**-53, 16.0  # what is by so much worse is done less than once in millions
PART, SWAP, LANE = 0.45, 0.85, 0.95  # so often a part is moved, two change places, a lane; else a section

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


LANE_OF, FORM, SECTION_OF, AREA_OF = range(4)  # rows of a layout
LANE_LENGTH, LANE_WIDTH, LANE_LONGEST, LENGTH, WIDTH, LANES = range(6)  # rows of sizes: of lanes, of sections
PRICE, ROOM, ACROSS, USED = range(4)  # rows of areas


class Saw(NamedTuple):
    """What does not change. ``forms`` (2, m): lengths and widths, a kerf after each; ``first``, ``ways``, ``penalty``
    (n,): each part's first form, how many it has, what it costs left over; ``areas`` (4, b): the price of a mm,
    the room and the width of each area, a kerf after each, and 0; ``fits`` (m, b): which form fits which area."""

    forms: Ints
    first: Ints
    ways: Ints
    penalty: Floats
    areas: Floats
    fits: NDArray[np.bool_]


@njit(inline="always", error_model="numpy")
def _put(rows: Ints, row: int, one: int) -> None:
    """Into a row of (n, n + 1): how many there are, then which."""
    rows[row, 0] += 1
    rows[row, rows[row, 0]] = one


@njit(inline="always", error_model="numpy")
def _drop(rows: Ints, row: int, one: int) -> None:
    for k in range(1, rows[row, 0] + 1):
        if rows[row, k] == one:
            rows[row, k] = rows[row, rows[row, 0]]
            rows[row, 0] -= 1
            return


@njit(inline="always", error_model="numpy")
def _lane(forms: Ints, state: Ints, parts: Ints, lane: int, out: int, more: int) -> tuple[int, int, int]:
    """(Length, width, longest part) of a lane without the part ``out`` and with the form ``more`` (-1: none)."""
    length, width = 0, 0
    if more >= 0:
        length, width = forms[0, more], forms[1, more]
    longest = length
    for k in range(1, parts[lane, 0] + 1):
        part = parts[lane, k]
        if part != out:
            form = state[FORM, part]
            length += forms[0, form]
            width = max(width, forms[1, form])
            longest = max(longest, forms[0, form])
    return length, width, longest


@njit(inline="always", error_model="numpy")
def _section(
    sizes: Ints, lanes: Ints, section: int, a: int, b: int, length: int, width: int, longest: int
) -> tuple[int, int, int]:
    """(Length, width, longest lane) of a section without the lanes ``a`` and ``b`` and with others: their longest
    part, width, and longest lane."""
    for k in range(1, lanes[section, 0] + 1):
        lane = lanes[section, k]
        if lane != a and lane != b:
            length = max(length, sizes[LANE_LONGEST, lane])
            width += sizes[LANE_WIDTH, lane]
            longest = max(longest, sizes[LANE_LENGTH, lane])
    return length, width, longest


@njit(inline="always", error_model="numpy")
def _cost(areas: Floats, area: int, length: int, width: int, longest: int) -> tuple[float, float]:
    """(What a section costs, by how much it is too wide and its longest lane too long)."""
    if length == 0:
        return 0.0, 0.0
    wide, long_ = max(0.0, width - areas[ACROSS, area]), max(0.0, float(longest - length))
    share = wide / areas[ACROSS, area] + long_ / length
    return areas[PRICE, area] * length * (1.0 + OVER_RATIO * share), wide + long_


@njit(inline="always", error_model="numpy")
def _excess(areas: Floats, a: int, b: int, c: int) -> float:
    """By how much the sections of up to three areas are longer than there is room."""
    found = max(0.0, areas[USED, a] - areas[ROOM, a])
    if b != a:
        found += max(0.0, areas[USED, b] - areas[ROOM, b])
    if c != a and c != b:
        found += max(0.0, areas[USED, c] - areas[ROOM, c])
    return found


@njit(inline="always", error_model="numpy")
def _out(state: Ints, parts: Ints, lanes: Ints, part: int) -> None:
    """A part out of its lane, if it is in one."""
    lane = state[LANE_OF, part]
    if lane >= 0:
        _drop(parts, lane, part)
        if parts[lane, 0] == 0:
            _drop(lanes, state[SECTION_OF, lane], lane)


@njit(inline="always", error_model="numpy")
def _into(state: Ints, parts: Ints, lanes: Ints, part: int, form: int, lane: int) -> None:
    """A part, as this form, into a lane (whose section is told), or to what is left over (-1)."""
    if lane >= 0:
        if parts[lane, 0] == 0:
            _put(lanes, state[SECTION_OF, lane], lane)
        _put(parts, lane, part)
    state[LANE_OF, part] = lane
    state[FORM, part] = form


@njit(cache=True, error_model="numpy", nogil=True)
def _lane_fits(fits: NDArray[np.bool_], state: Ints, parts: Ints, lane: int, area: int) -> bool:
    able = True
    for k in range(1, parts[lane, 0] + 1):
        able = able and fits[state[FORM, parts[lane, k]], area]
    return able


@njit(cache=True, error_model="numpy", nogil=True)
def _fits(fits: NDArray[np.bool_], state: Ints, parts: Ints, lanes: Ints, section: int, area: int) -> bool:
    """Whether all parts of a section may come from an area."""
    able = True
    for k in range(1, lanes[section, 0] + 1):
        able = able and _lane_fits(fits, state, parts, lanes[section, k], area)
    return able


@njit(cache=True, error_model="numpy", nogil=True)
def _empty(rows: Ints) -> int:
    """The first row that holds nothing, or -1."""
    for k in range(rows.shape[0]):
        if rows[k, 0] == 0:
            return k
    return -1


@njit(inline="always", error_model="numpy")
def _draw(rng: NDArray[np.uint64]) -> float:
    """A number from 0 to 1 by chance; with it moves come twice as fast as with numpy's.

    Source  Marsaglia, Xorshift RNGs, Journal of Statistical Software 8 (2003) 14 (from memory)"""
    x = rng[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    rng[0] = x
    return (x >> np.uint64(11)) * TINY


@njit(inline="always", error_model="numpy")
def _below(rng: NDArray[np.uint64], most: int) -> int:
    """A whole number below ``most``, by chance (as good as even: ``most`` is small)."""
    return int(_draw(rng) * most)


@njit(cache=True, error_model="numpy", nogil=True)
def annealed(saw: Saw, state: Ints, free: Ints, moves: int, hot: float, cold: float) -> float:
    """The layout becomes the cheapest that was met while its parts ``free`` were moved about; its cost.

    ``hot``, ``cold``: what a move may cost more, about, first and last.
    """
    forms, first, ways, penalty, given, fits = saw
    dear = OVER_ROOM * given[PRICE].max()
    loose = state[LANE_OF].min() >= 0  # with something left over, boards would only be filled too full
    n, boards = state.shape[1], given.shape[1]
    areas = given.copy()
    sizes, costs = np.zeros((6, n), dtype=np.int64), np.zeros((2, n))
    parts, lanes = np.zeros((n, n + 1), dtype=np.int64), np.zeros((n, n + 1), dtype=np.int64)
    cost = 0.0
    for part in range(n):
        _into(state, parts, lanes, part, state[FORM, part], state[LANE_OF, part])
        if state[LANE_OF, part] < 0:
            cost += penalty[part]
    for lane in range(n):
        length, width, longest = _lane(forms, state, parts, lane, -1, -1)
        sizes[LANE_LENGTH, lane], sizes[LANE_WIDTH, lane], sizes[LANE_LONGEST, lane] = length, width, longest
    for section in range(n):
        length, width, longest = _section(sizes, lanes, section, -1, -1, 0, 0, 0)
        sizes[LENGTH, section], sizes[WIDTH, section], sizes[LANES, section] = length, width, longest
        areas[USED, state[AREA_OF, section]] += length
        costs[0, section], costs[1, section] = _cost(areas, state[AREA_OF, section], length, width, longest)
        cost += costs[0, section]
    kept = state.copy()
    best, over, temper = cost, 0.0, hot
    cooler = (cold / hot) ** (1.0 / moves)
    rng = np.array([1 + int(np.random.random() * 2.0**62)], dtype=np.uint64)
    for _ in range(moves):
        temper *= cooler
        kind = _draw(rng)
        i, j = free[_below(rng, free.size)], free[_below(rng, free.size)]
        a, b = state[LANE_OF, i], state[LANE_OF, j]
        form_i, form_j = -1, -1  # what they become
        was, now = -1, -1
        length_a, width_a, longest_a, length_b, width_b, longest_b = 0, 0, 0, 0, 0, 0  # of both lanes, if it is done
        if kind < PART:  # to another lane, or one of its own
            where = _draw(rng)
            lane = b if where < 0.75 else _empty(parts)
            if lane < 0 or lane == a:
                continue
            if where >= 0.95 or (where >= 0.75 and b < 0):  # in a section of its own
                now = _empty(lanes)
                if now < 0:
                    continue
                state[SECTION_OF, lane] = now
                state[AREA_OF, now] = _below(rng, boards)
            elif where >= 0.75:
                state[SECTION_OF, lane] = state[SECTION_OF, b]
            now = state[SECTION_OF, lane]
            form_i = first[i] + _below(rng, ways[i])
            if not fits[form_i, state[AREA_OF, now]]:
                continue
            was, b = now, lane
            if a >= 0:
                was = state[SECTION_OF, a]
                length_a, width_a, longest_a = _lane(forms, state, parts, a, i, -1)
            length_b, width_b, longest_b = _lane(forms, state, parts, b, -1, form_i)
        elif a < 0:
            continue
        elif kind < SWAP:  # two parts change places
            if b < 0 or a == b:
                continue
            was, now = state[SECTION_OF, a], state[SECTION_OF, b]
            form_i, form_j = first[i] + _below(rng, ways[i]), first[j] + _below(rng, ways[j])
            if not fits[form_i, state[AREA_OF, now]] or not fits[form_j, state[AREA_OF, was]]:
                continue
            length_a, width_a, longest_a = _lane(forms, state, parts, a, i, form_j)
            length_b, width_b, longest_b = _lane(forms, state, parts, b, j, form_i)
        elif kind < LANE:  # to another section, or one of its own
            was = state[SECTION_OF, a]
            if _draw(rng) < 0.9:
                now = state[SECTION_OF, b] if b >= 0 else was
            else:
                now = _empty(lanes)
                if now >= 0:
                    state[AREA_OF, now] = _below(rng, boards)
            if now < 0 or now == was or not _lane_fits(fits, state, parts, a, state[AREA_OF, now]):
                continue
            b, length_b, width_b, longest_b = -1, sizes[LANE_LENGTH, a], sizes[LANE_WIDTH, a], sizes[LANE_LONGEST, a]
        else:  # a section to another area, or two change theirs
            was = state[SECTION_OF, a]
            now = state[SECTION_OF, b] if b >= 0 and kind < 0.975 else was
        area_was, area_now = state[AREA_OF, was], state[AREA_OF, now]
        to_was, to_now = area_was, area_now
        able = True
        if kind >= LANE:
            to_was, to_now = area_now, area_was
            if now == was:
                to_was = to_now = _below(rng, boards)
            able = _fits(fits, state, parts, lanes, was, to_was) and _fits(fits, state, parts, lanes, now, to_now)
            length, width, longest = sizes[LENGTH, was], sizes[WIDTH, was], sizes[LANES, was]
            length_now, width_now, longest_now = sizes[LENGTH, now], sizes[WIDTH, now], sizes[LANES, now]
        elif now == was:
            long_, most = max(longest_a, longest_b), max(length_a, length_b)
            length, width, longest = _section(sizes, lanes, was, a, b, long_, width_a + width_b, most)
            length_now, width_now, longest_now = 0, 0, 0
        else:
            length, width, longest = _section(sizes, lanes, was, a, -1, longest_a, width_a, length_a)
            length_now, width_now, longest_now = _section(sizes, lanes, now, b, -1, longest_b, width_b, length_b)
        before = costs[0, was]
        after, over_was = _cost(areas, to_was, length, width, longest)
        over_before, over_after, over_now = costs[1, was], over_was, 0.0
        after_was, after_now = after, 0.0
        excess = -_excess(areas, area_was, area_now, to_was)
        areas[USED, area_was] -= sizes[LENGTH, was]
        areas[USED, to_was] += length
        if now != was:
            after_now, over_now = _cost(areas, to_now, length_now, width_now, longest_now)
            before += costs[0, now]
            after += after_now
            over_before += costs[1, now]
            over_after += over_now
            areas[USED, area_now] -= sizes[LENGTH, now]
            areas[USED, to_now] += length_now
        if kind < PART and a < 0:
            before += penalty[i]
        excess += _excess(areas, area_was, area_now, to_was)
        able = able and (loose or excess <= 0.0)
        after += excess * dear
        over_after += excess
        worse = (after - before) / temper
        if not able or (worse > 0.0 and (worse > HOPELESS or _draw(rng) >= math.exp(-worse))):
            areas[USED, to_was] -= length
            areas[USED, area_was] += sizes[LENGTH, was]
            if now != was:
                areas[USED, to_now] -= length_now
                areas[USED, area_now] += sizes[LENGTH, now]
            continue
        if kind < SWAP:
            _out(state, parts, lanes, i)
            if kind >= PART:
                _out(state, parts, lanes, j)
                _into(state, parts, lanes, j, form_j, a)
            _into(state, parts, lanes, i, form_i, b)
            if a >= 0:
                sizes[LANE_LENGTH, a], sizes[LANE_WIDTH, a], sizes[LANE_LONGEST, a] = length_a, width_a, longest_a
            sizes[LANE_LENGTH, b], sizes[LANE_WIDTH, b], sizes[LANE_LONGEST, b] = length_b, width_b, longest_b
        elif kind < LANE:
            _drop(lanes, was, a)
            _put(lanes, now, a)
            state[SECTION_OF, a] = now
        state[AREA_OF, was] = to_was
        sizes[LENGTH, was], sizes[WIDTH, was], sizes[LANES, was] = length, width, longest
        costs[0, was], costs[1, was] = after_was, over_was
        if now != was:
            state[AREA_OF, now] = to_now
            sizes[LENGTH, now], sizes[WIDTH, now], sizes[LANES, now] = length_now, width_now, longest_now
            costs[0, now], costs[1, now] = after_now, over_now
        cost += after - before
        over += over_after - over_before
        if over < 0.5 and cost < best - 1e-9:
            best = cost
            kept[:] = state
    state[:] = kept
    return best


@njit(cache=True, error_model="numpy", nogil=True)
def _some(state: Ints, most: int) -> Ints:
    """Parts to move about: what is left over and those of some sections, rather of one board; so many at most."""
    n = state.shape[1]
    count = np.zeros(n, dtype=np.int64)
    for part in range(n):
        if state[LANE_OF, part] >= 0:
            count[state[SECTION_OF, state[LANE_OF, part]]] += 1
    there = np.flatnonzero(count)
    taken = np.zeros(n, dtype=np.bool_)
    have = n - count.sum()
    if there.size:
        first = there[np.random.randint(there.size)]
        near = np.random.random(there.size)
        for k in range(there.size):
            if state[AREA_OF, there[k]] != state[AREA_OF, first]:
                near[k] += ELSEWHERE
            if there[k] == first:
                near[k] = -1.0
        for k in np.argsort(near):
            if have == 0 or have + count[there[k]] <= most:
                taken[there[k]] = True
                have += count[there[k]]
    free = np.empty(n, dtype=np.int64)
    size = 0
    for part in range(n):
        lane = state[LANE_OF, part]
        if lane < 0 or taken[state[SECTION_OF, lane]]:
            free[size] = part
            size += 1
    return free[:size]


@njit(cache=True, error_model="numpy", nogil=True)
def climbed(saw: Saw, state: Ints, cost: float, tries: int, seed: int) -> tuple[float, int]:
    """Some parts moved about, and others, ``tries`` times; what is no dearer is kept. (Cost, tries since it sank.)"""
    np.random.seed(seed)
    n = state.shape[1]
    each = cost / n
    still = 0
    for _ in range(tries):
        hot = each * LEAST_HOT * (MOST_HOT / LEAST_HOT) ** np.random.random()
        free = _some(state, np.random.randint(LEAST_FREE, MOST_FREE + 1))
        other = state.copy()
        found = annealed(saw, other, free, MOVES_A_PART * free.size, hot, hot / COOLED)
        still += 1
        if found <= cost + 1e-9:
            if found < cost - 1e-9:
                still = 0
            cost = found
            state[:] = other
    return cost, still
