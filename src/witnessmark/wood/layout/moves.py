"""Parts moved between lanes, lanes between sections, sections between boards, by chance: annealing a layout.

Question  is there a layout near this one that costs less
Units     whole mm; costs in the maker's money
Arrays    n parts, lanes and sections, each by its number (empty ones are there to be used); m forms; b clear areas.
          A layout is (4, n) int64: parts' lanes (-1: left over) and forms, each lane's section, each section's board
Method    simulated annealing. A section wider than its board is allowed on the way and costs the more; only layouts
          without one are kept. ``climbed`` anneals again and again the parts of a few sections, the others stay
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

OVER_RATIO = 4.0  # a section over its board's width costs so many times the overhang's share more
MOVES_A_PART = 1000
LEAST_HOT, MOST_HOT, COOLED = 0.1, 0.4, 20.0  # of what a part costs on the average; cooled down by
LEAST_FREE, MOST_FREE = 14, 29
ELSEWHERE = 0.5

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


LANE_OF, FORM, SECTION_OF, AREA_OF = range(4)  # rows of a layout
LANE_LENGTH, LANE_WIDTH, LENGTH, WIDTH = range(4)  # rows of sizes: of lanes, of sections
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
def _lane(forms: Ints, state: Ints, sizes: Ints, parts: Ints, lane: int) -> None:
    """The lane measured anew."""
    length, width = 0, 0
    for k in range(1, parts[lane, 0] + 1):
        form = state[FORM, parts[lane, k]]
        length += forms[0, form]
        width = max(width, forms[1, form])
    sizes[LANE_LENGTH, lane] = length
    sizes[LANE_WIDTH, lane] = width


@njit(cache=True, error_model="numpy", nogil=True)
def _move(forms: Ints, state: Ints, sizes: Ints, parts: Ints, lanes: Ints, part: int, to: int) -> None:
    """A part to another lane (whose section is told), or to what is left over (-1)."""
    lane = state[LANE_OF, part]
    if lane >= 0:
        _drop(parts, lane, part)
        _lane(forms, state, sizes, parts, lane)
        if parts[lane, 0] == 0:
            _drop(lanes, state[SECTION_OF, lane], lane)
    if to >= 0:
        if parts[to, 0] == 0:
            _put(lanes, state[SECTION_OF, to], to)
        _put(parts, to, part)
        _lane(forms, state, sizes, parts, to)
    state[LANE_OF, part] = to


@njit(cache=True, error_model="numpy", nogil=True)
def _shift(state: Ints, lanes: Ints, lane: int, to: int) -> None:
    """A lane to another section."""
    _drop(lanes, state[SECTION_OF, lane], lane)
    _put(lanes, to, lane)
    state[SECTION_OF, lane] = to


@njit(inline="always", error_model="numpy")
def _cost(areas: Floats, state: Ints, sizes: Ints, section: int) -> tuple[float, float]:
    """(What a section costs, by how much it is too wide)."""
    if sizes[LENGTH, section] == 0:
        return 0.0, 0.0
    area = state[AREA_OF, section]
    over = max(0.0, sizes[WIDTH, section] - areas[ACROSS, area])
    return areas[PRICE, area] * sizes[LENGTH, section] * (1.0 + OVER_RATIO * over / areas[ACROSS, area]), over


@njit(inline="always", error_model="numpy")
def _off(areas: Floats, state: Ints, sizes: Ints, section: int) -> tuple[float, float]:
    """A section taken off its area; (what it cost, by how much it was too wide)."""
    areas[USED, state[AREA_OF, section]] -= sizes[LENGTH, section]
    return _cost(areas, state, sizes, section)


@njit(inline="always", error_model="numpy")
def _on(areas: Floats, state: Ints, sizes: Ints, lanes: Ints, section: int) -> tuple[float, float]:
    """A section measured anew and laid on its area; (what it costs, by how much it is too wide)."""
    length, width = 0, 0
    for k in range(1, lanes[section, 0] + 1):
        lane = lanes[section, k]
        length = max(length, sizes[LANE_LENGTH, lane])
        width += sizes[LANE_WIDTH, lane]
    sizes[LENGTH, section] = length
    sizes[WIDTH, section] = width
    areas[USED, state[AREA_OF, section]] += length
    return _cost(areas, state, sizes, section)


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
def _any(of: Ints) -> int:
    return of[np.random.randint(of.size)]


@njit(cache=True, error_model="numpy", nogil=True)
def annealed(saw: Saw, state: Ints, free: Ints, moves: int, hot: float, cold: float) -> float:
    """The layout becomes the cheapest that was met while its parts ``free`` were moved about; its cost.

    ``hot``, ``cold``: what a move may cost more, about, first and last.
    """
    forms, first, ways, penalty, given, fits = saw
    n, boards = state.shape[1], given.shape[1]
    areas = given.copy()
    sizes = np.zeros((4, n), dtype=np.int64)
    parts, lanes = np.zeros((n, n + 1), dtype=np.int64), np.zeros((n, n + 1), dtype=np.int64)
    cost = 0.0
    for part in range(n):
        lane = state[LANE_OF, part]
        state[LANE_OF, part] = -1
        _move(forms, state, sizes, parts, lanes, part, lane)
        if lane < 0:
            cost += penalty[part]
    for section in range(n):
        cost += _on(areas, state, sizes, lanes, section)[0]
    kept = state.copy()
    best, over, temper = cost, 0.0, hot
    cooler = (cold / hot) ** (1.0 / moves)
    for _ in range(moves):
        temper *= cooler
        kind = np.random.random()
        i, j = _any(free), _any(free)
        a, b = state[LANE_OF, i], state[LANE_OF, j]
        form_i, form_j = state[FORM, i], state[FORM, j]
        way_i, way_j = form_i, form_j
        lane, was, now = -1, -1, -1
        if kind < 0.45:  # a part to another lane, or one of its own
            lane, where = b, np.random.random()
            if where >= 0.75:
                lane = _empty(parts)
            if lane < 0 or lane == a:
                continue
            if where >= 0.95 or (where >= 0.75 and b < 0):  # in a section of its own
                now = _empty(lanes)
                if now < 0:
                    continue
                state[SECTION_OF, lane] = now
                state[AREA_OF, now] = np.random.randint(boards)
            elif where >= 0.75:
                state[SECTION_OF, lane] = state[SECTION_OF, b]
            now = state[SECTION_OF, lane]
            was = state[SECTION_OF, a] if a >= 0 else now
            way_i = first[i] + np.random.randint(ways[i])
            if not fits[way_i, state[AREA_OF, now]]:
                continue
        elif a < 0:
            continue
        elif kind < 0.85:  # two parts change places
            if b < 0 or a == b:
                continue
            was, now = state[SECTION_OF, a], state[SECTION_OF, b]
            way_i, way_j = first[i] + np.random.randint(ways[i]), first[j] + np.random.randint(ways[j])
            if not fits[way_i, state[AREA_OF, now]] or not fits[way_j, state[AREA_OF, was]]:
                continue
        elif kind < 0.95:  # a lane to another section, or one of its own
            was = state[SECTION_OF, a]
            if np.random.random() < 0.9:
                now = state[SECTION_OF, b] if b >= 0 else was
            else:
                now = _empty(lanes)
                if now >= 0:
                    state[AREA_OF, now] = np.random.randint(boards)
            if now < 0 or now == was or not _lane_fits(fits, state, parts, a, state[AREA_OF, now]):
                continue
        else:  # a section to another area, or two change theirs
            was = state[SECTION_OF, a]
            now = state[SECTION_OF, b] if b >= 0 and kind < 0.975 else was
        before, over_before = _off(areas, state, sizes, was)
        if now != was:
            more, wider = _off(areas, state, sizes, now)
            before += more
            over_before += wider
        area_was, area_now = state[AREA_OF, was], state[AREA_OF, now]
        able = True
        if kind < 0.45:
            state[FORM, i] = way_i
            _move(forms, state, sizes, parts, lanes, i, lane)
            if a < 0:
                before += penalty[i]
        elif kind < 0.85:
            state[FORM, i], state[FORM, j] = way_i, way_j
            _move(forms, state, sizes, parts, lanes, i, b)
            _move(forms, state, sizes, parts, lanes, j, a)
        elif kind < 0.95:
            _shift(state, lanes, a, now)
        elif now != was:
            state[AREA_OF, was], state[AREA_OF, now] = area_now, area_was
            able = _fits(fits, state, parts, lanes, was, area_now) and _fits(fits, state, parts, lanes, now, area_was)
        else:
            state[AREA_OF, was] = np.random.randint(boards)
            able = _fits(fits, state, parts, lanes, was, state[AREA_OF, was])
        after, over_after = _on(areas, state, sizes, lanes, was)
        if now != was:
            more, wider = _on(areas, state, sizes, lanes, now)
            after += more
            over_after += wider
        for area in (state[AREA_OF, was], state[AREA_OF, now]):
            able = able and areas[USED, area] <= areas[ROOM, area]
        if able and (after <= before or np.random.random() < math.exp((before - after) / temper)):
            cost += after - before
            over += over_after - over_before
            if over < 0.5 and cost < best - 1e-9:
                best = cost
                kept[:] = state
            continue
        _off(areas, state, sizes, was)
        if now != was:
            _off(areas, state, sizes, now)
        if kind < 0.45:
            state[FORM, i] = form_i
            _move(forms, state, sizes, parts, lanes, i, a)
        elif kind < 0.85:
            state[FORM, i], state[FORM, j] = form_i, form_j
            _move(forms, state, sizes, parts, lanes, i, a)
            _move(forms, state, sizes, parts, lanes, j, b)
        elif kind < 0.95:
            _shift(state, lanes, a, was)
        state[AREA_OF, was], state[AREA_OF, now] = area_was, area_now
        _on(areas, state, sizes, lanes, was)
        if now != was:
            _on(areas, state, sizes, lanes, now)
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
        first = _any(there)
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
