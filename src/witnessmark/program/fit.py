"""Which runs of level strokes an arc may stand for.

Question  where can one arc replace three or more level strokes, and about which centre?
Frame     program frame, any level
Units     counts of the format's least decimal throughout (so places and centres are written exactly)
Arrays    x, y (n + 1,) float64 whole counts; usable (n,) bool: stroke i is level, at a feed and of its run's mode;
          run (n,) int64, strokes of unequal run never join. Out: rows (k, 5) int64:
          first stroke, stroke after the last, centre x, centre y, 1 counter-clockwise or 2 clockwise
Method    centre on the perpendicular bisector of the ends by least squares, moved to the nearest whole count that
          keeps both ends at one radius; kept if the strokes stay within ``tolerance`` of the arc everywhere
          (corners: |r_i - R|; along a stroke: R - distance of the stroke from the centre), all turn one way and
          together at most half a circle. Longest run found by doubling, then halving.
Source    plane geometry
Valid     the tolerance holds in both directions (strokes to arc, arc to strokes)
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

LEAST_STROKES = 3
HALF_TURN_RAD = math.pi + 1e-9
LARGEST_RADIUS = 2e6  # counts: 2 m at 0.001 mm; a flatter run is as well left straight


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _bisector_height(x: NDArray[np.float64], y: NDArray[np.float64], i: int, j: int) -> float:
    """Signed distance of the best centre from the chord's middle, along its left normal; nan where none."""
    chord_x, chord_y = x[j] - x[i], y[j] - y[i]
    chord = math.hypot(chord_x, chord_y)
    if chord == 0.0:
        return math.nan
    above, below = 0.0, 0.0
    for k in range(i + 1, j):
        dx, dy = x[k] - 0.5 * (x[i] + x[j]), y[k] - 0.5 * (y[i] + y[j])
        along, left = (dx * chord_x + dy * chord_y) / chord, (dy * chord_x - dx * chord_y) / chord
        above += left * (along * along + left * left - 0.25 * chord * chord)
        below += 2.0 * left * left
    return above / below if below > 0.0 else math.nan


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _centre(
    x: NDArray[np.float64], y: NDArray[np.float64], i: int, j: int, mismatch: float
) -> tuple[float, float, float]:
    """The whole-count centre near the best one at which both ends have most nearly one radius; radius < 0: none."""
    height = _bisector_height(x, y, i, j)
    if not abs(height) < 1e9:
        return 0.0, 0.0, -1.0
    chord_x, chord_y = x[j] - x[i], y[j] - y[i]
    chord = math.hypot(chord_x, chord_y)
    near_x = np.rint(0.5 * (x[i] + x[j]) - height * chord_y / chord)
    near_y = np.rint(0.5 * (y[i] + y[j]) + height * chord_x / chord)
    best, best_x, best_y, best_radius = mismatch, 0.0, 0.0, -1.0
    for step_x in range(-1, 2):
        for step_y in range(-1, 2):
            cx, cy = near_x + step_x, near_y + step_y
            radius = math.hypot(x[i] - cx, y[i] - cy)
            unequal = abs(math.hypot(x[j] - cx, y[j] - cy) - radius)
            if unequal <= best and radius > 0.0:
                best, best_x, best_y, best_radius = unequal, cx, cy, radius
    return best_x, best_y, best_radius


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _way_round(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    i: int,
    j: int,
    cx: float,
    cy: float,
    radius: float,
    tolerance: float,
) -> int:
    """1 or 2 when points i to j lie on the arc within tolerance, all going that way round; else 0."""
    turned, way = 0.0, 0
    for k in range(i, j):
        ax, ay, bx, by = x[k] - cx, y[k] - cy, x[k + 1] - cx, y[k + 1] - cy
        cross, dot = ax * by - ay * bx, ax * bx + ay * by
        this_way = 1 if cross > 0.0 else 2
        if cross == 0.0 or (way != 0 and this_way != way):
            return 0
        way = this_way
        turned += abs(math.atan2(cross, dot))
        length = math.hypot(bx - ax, by - ay)
        if abs(math.hypot(bx, by) - radius) > tolerance or radius - abs(cross) / length > tolerance:
            return 0
    return way if turned <= HALF_TURN_RAD else 0


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _longest(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    i: int,
    end: int,
    tolerance: float,
    mismatch: float,
    row: NDArray[np.int64],
) -> int:
    """The end of the longest run found that starts at i (i itself: none); fills the row."""
    good, jump, growing = i, LEAST_STROKES, True
    while jump > 0 and good < end:
        j = min(good + jump, end)
        cx, cy, radius = _centre(x, y, i, j, mismatch)
        way = 0
        if 0.0 < radius < LARGEST_RADIUS:
            way = _way_round(x, y, i, j, cx, cy, radius, tolerance)
        if way:
            good = j
            row[0], row[1], row[2], row[3], row[4] = i, j, int(cx), int(cy), way
        elif good == i:
            return i
        growing = growing and way != 0
        jump = jump * 2 if growing else jump // 2
    return good


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def fit_arcs(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    usable: NDArray[np.bool_],
    run: NDArray[np.int64],
    tolerance: float,
    mismatch: float,
) -> NDArray[np.int64]:
    """Arcs that may stand for runs of strokes, in order; see the head of this module."""
    n = len(usable)
    rows = np.empty((n // LEAST_STROKES + 1, 5), dtype=np.int64)
    found, i = 0, 0
    while i < n:
        end = i
        while end < n and usable[end] and run[end] == run[i]:
            end += 1
        while i + LEAST_STROKES <= end:
            after = _longest(x, y, i, end, tolerance, mismatch, rows[found])
            if after > i:
                found += 1
            i = max(after, i + 1)
        i = max(end, i + 1)
    return rows[:found]
