"""Tips that cut given cells down to a goal with as little else as can be.

Question   where to put the cutter so that every cell comes down to its goal and the least other wood goes
Frame      standing frame; rows along +y, columns along +x
Units      mm
Arrays     left (ny, nx) float32: the wood now, lowered in place; stay: the wood that should stay; goal: what each
           cell must come down to; allowed: lowest allowed tip (+inf: none); the tips found (ny, nx), +inf where none
Method     cell by cell (row by row), of all tips that bring the cell to its goal, the one is taken that cuts least
           below ``stay``; among equals the one that cuts most of what is to go
Source     a greedy cover; Chvatal, V. (1979), A greedy heuristic for the set-covering problem, Mathematics of
           Operations Research 4(3), 233-235 (from memory)
Valid      every cell reaches its goal if any allowed tip can bring it there; least up to the order of the cells
Refuses    nothing: the caller checks once
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .dilate import footprint
from .grid import Grid, Heights

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def cover(
    left: Heights,
    stay: Heights,
    goal: Heights,
    allowed: Heights,
    grid: Grid,
    profile: Floats,
    shrink_mm: float,
    same_mm: float,
) -> Heights:
    """Tips (ny, nx) that lower ``left`` (changed in place) to ``goal`` wherever it lies above by over ``same_mm``.

    The cutter counts as shrunk by ``shrink_mm``, as in ``lowered_by``.
    """
    tips = grid.full(np.inf)
    if profile[1] < shrink_mm:
        return tips
    rows, columns, rise = footprint(grid.pitch_mm, tuple(float(v) for v in profile), -shrink_mm)
    cells = np.argwhere(left > goal + np.float32(same_mm))
    _cover(left, stay, goal, allowed, cells, rows, columns, rise, np.float32(same_mm), tips)
    return tips


@njit(cache=True, error_model="numpy", nogil=True)
def _waste_and_gain(
    left: Heights, stay: Heights, rows: Ints, columns: Ints, rise: Heights, j: int, i: int, tip: float, most: float
) -> tuple[float, float]:
    """Height cut below ``stay`` and above it by one tip, summed over cells; given up once the first exceeds most."""
    ny, nx = left.shape
    waste = gain = 0.0
    for m in range(rows.size):
        y, x = j + rows[m], i + columns[m]
        if y < 0 or y >= ny or x < 0 or x >= nx:
            continue
        surface = tip + rise[m]
        if left[y, x] <= surface:
            continue
        keep = min(left[y, x], stay[y, x])
        waste += max(0.0, keep - surface)
        gain += left[y, x] - max(surface, keep)
        if waste > most:
            break
    return waste, gain


@njit(cache=True, error_model="numpy", nogil=True)
def _cover(
    left: Heights,
    stay: Heights,
    goal: Heights,
    allowed: Heights,
    cells: Ints,
    rows: Ints,
    columns: Ints,
    rise: Heights,
    same: float,
    tips: Heights,
) -> None:
    ny, nx = left.shape
    for n in range(cells.shape[0]):
        y, x = cells[n, 0], cells[n, 1]
        if left[y, x] <= goal[y, x] + same:
            continue
        best, best_gain, best_j, best_i, best_tip = np.inf, 0.0, -1, -1, 0.0
        for m in range(rows.size):
            j, i = y - rows[m], x - columns[m]
            if j < 0 or j >= ny or i < 0 or i >= nx:
                continue
            tip = goal[y, x] - rise[m]
            if allowed[j, i] > tip + same:
                continue
            waste, gain = _waste_and_gain(left, stay, rows, columns, rise, j, i, tip, best)
            if waste < best or (waste == best and gain > best_gain):
                best, best_gain, best_j, best_i, best_tip = waste, gain, j, i, tip
        if best_j < 0:
            continue
        tips[best_j, best_i] = min(tips[best_j, best_i], best_tip)
        for m in range(rows.size):
            j, i = best_j + rows[m], best_i + columns[m]
            if 0 <= j < ny and 0 <= i < nx:
                left[j, i] = min(left[j, i], best_tip + rise[m])
