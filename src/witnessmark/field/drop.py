"""A solid's top surface, dropped onto a grid: bounds over each cell, and the exact height at each cell's centre.

Question   between which heights does the top surface lie over a cell; how high is it at the cell's centre
Frame      standing frame; rows along +y, columns along +x
Units      mm
Arrays     triangles (n, 3, 3) float64, counter-clockwise seen from outside; lowest, highest, top (ny, nx) float32;
           -inf: nothing there (lowest: also where the cell is not surely covered)
Method     every triangle facing up (or standing upright) is clipped to each cell that it crosses; the greatest
           corner of the clipped polygon bounds the surface from above. Triangles come highest first, and the least
           corner of those that together cover a cell, once, bounds it from below: their areas come to the cell's
           area, and the integrals over them of a quadratic without symmetry to that over the cell (so that a gap
           does not hide behind an equal overlap). What comes after them lies beneath and does not count. A single
           triangle that covers the whole cell bounds it from below too.
Source     plane geometry; clipping by half-planes: Sutherland, I. E. and Hodgman, G. W. (1974), Reentrant polygon
           clipping, Communications of the ACM 17(1), 32-42 (from memory)
Valid      highest is exact (the supremum over the open cell) and lowest a true lower bound, both to float32
           rounding; contact with a cell narrower than TOUCH_MM is not counted. Where the edge of an overhang runs
           through a cell, lowest may be -inf although the cell is covered.
Refuses    nothing: the caller checks once
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .grid import Grid, Heights
from .threads import in_strips

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

TOUCH_MM = 1e-7  # an overlap with a cell narrower than this is rounding, not material
_COVER_RATIO = 1e-9  # of a cell's area: what the sum of clipped areas may be off through rounding
_FULL_WEIGHT = (0.618034 + 1.259921) / 2 + (0.732051 - 0.871780) / 3 + 0.414214 / 4  # of ``_weight`` over a cell


def top_bounds(triangles: Floats, grid: Grid) -> tuple[Heights, Heights]:
    """Lower and upper bound of the top surface over each cell, ``(lowest, highest)`` (ny, nx) float32 mm."""
    corners = np.ascontiguousarray(triangles, dtype=np.float64).reshape(-1, 3, 3)
    facing_up = corners[_normal_z(corners) >= 0.0]
    facing_up = np.ascontiguousarray(facing_up[np.argsort(-facing_up[:, :, 2].sum(axis=1), kind="stable")])
    low = np.full(grid.shape, np.inf)
    under = np.full(grid.shape, -np.inf)
    high = np.full(grid.shape, -np.inf)
    area = np.zeros(grid.shape)
    weighted = np.zeros(grid.shape)
    place = np.array([grid.x0_mm, grid.y0_mm, grid.pitch_mm])

    def work(y_from: int, y_to: int) -> None:
        _bound_rows(facing_up, place, low, under, high, area, weighted, y_from, y_to)

    in_strips(work, grid.ny, strips_each=2)
    once = (np.abs(area - 1.0) <= _COVER_RATIO) & (np.abs(weighted - _FULL_WEIGHT) <= _COVER_RATIO)
    lowest = np.where(once, np.maximum(low, under), under)
    return lowest.astype(np.float32), high.astype(np.float32)


def top_centre(triangles: Floats, grid: Grid) -> tuple[Heights, Ints]:
    """Exact top at the cell centres (ny, nx) float32, and the row of ``triangles`` hit there (int32, -1: none).

    A centre on a triangle's edge counts as under it.
    """
    corners = np.ascontiguousarray(triangles, dtype=np.float64).reshape(-1, 3, 3)
    rows = np.flatnonzero(_normal_z(corners) > 0.0).astype(np.int32)
    top = grid.full(-np.inf)
    hit = np.full(grid.shape, -1, dtype=np.int32)
    place = np.array([grid.x0_mm, grid.y0_mm, grid.pitch_mm])
    in_strips(lambda a, b: _centre_rows(corners, rows, place, top, hit, a, b), grid.ny, strips_each=2)
    return top, hit


def _normal_z(triangles: Floats) -> Floats:
    """Twice the signed area of each triangle seen from above, mm2."""
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    return np.asarray(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])


@njit(cache=True, error_model="numpy", nogil=True)
def _clip(source: Floats, count: int, target: Floats, axis: int, limit: float, sign: float) -> int:
    """Clip a polygon of (x, y, z) corners to sign * (p[axis] - limit) >= 0; returns the new number of corners."""
    kept = 0
    for i in range(count):
        k = i + 1 if i + 1 < count else 0
        here = sign * (source[i, axis] - limit)
        there = sign * (source[k, axis] - limit)
        if here >= 0.0:
            for d in range(3):
                target[kept, d] = source[i, d]
            kept += 1
        if (here > 0.0 and there < 0.0) or (here < 0.0 and there > 0.0):
            t = here / (here - there)
            for d in range(3):
                target[kept, d] = source[i, d] + t * (source[k, d] - source[i, d])
            target[kept, axis] = limit
            kept += 1
    return kept


@njit(cache=True, error_model="numpy", nogil=True)
def _range(polygon: Floats, count: int, axis: int) -> tuple[float, float]:
    low = high = polygon[0, axis]
    for i in range(1, count):
        low, high = min(low, polygon[i, axis]), max(high, polygon[i, axis])
    return low, high


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def _weight(u: float, v: float) -> float:
    """A quadratic with no symmetry over the unit cell: where it is covered, not only how much."""
    return u * (0.618034 + u * 0.732051 + v * 0.414214) + v * (1.259921 - v * 0.871780)


@njit(cache=True, error_model="numpy", nogil=True)
def _cover_of(polygon: Floats, count: int, x: float, y: float, pitch: float) -> tuple[float, float]:
    """Area of a polygon in the cell at (x, y) and the integral of the weight over it, both in cells (exact)."""
    area = weighted = 0.0
    u0, v0 = (polygon[0, 0] - x) / pitch, (polygon[0, 1] - y) / pitch
    for i in range(1, count - 1):
        u1, v1 = (polygon[i, 0] - x) / pitch, (polygon[i, 1] - y) / pitch
        u2, v2 = (polygon[i + 1, 0] - x) / pitch, (polygon[i + 1, 1] - y) / pitch
        part = 0.5 * ((u1 - u0) * (v2 - v0) - (v1 - v0) * (u2 - u0))
        at_sides = _weight(0.5 * (u0 + u1), 0.5 * (v0 + v1)) + _weight(0.5 * (u1 + u2), 0.5 * (v1 + v2))
        at_sides += _weight(0.5 * (u2 + u0), 0.5 * (v2 + v0))
        area += part
        weighted += part * at_sides / 3.0
    return area, weighted


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def _is_covered(area: float, weighted: float) -> bool:
    """Whether the polygons so far cover the cell exactly once."""
    return abs(area - 1.0) <= _COVER_RATIO and abs(weighted - _FULL_WEIGHT) <= _COVER_RATIO


@njit(cache=True, error_model="numpy", nogil=True)
def _span(triangle: Floats, y: float) -> tuple[float, float]:
    """Where the level line y crosses the triangle seen from above, (from, to); (inf, -inf) if it does not."""
    left, right = np.inf, -np.inf
    for i in range(3):
        k = i + 1 if i < 2 else 0
        y0, y1 = triangle[i, 1], triangle[k, 1]
        if min(y0, y1) <= y <= max(y0, y1):
            x0, x1 = triangle[i, 0], triangle[k, 0]
            if y0 == y1:
                left, right = min(left, x0, x1), max(right, x0, x1)
            else:
                x = x0 + (y - y0) / (y1 - y0) * (x1 - x0)
                left, right = min(left, x), max(right, x)
    return left, right


@njit(cache=True, error_model="numpy", nogil=True)
def _bound_cell(
    band: Floats,
    count: int,
    spare: Floats,
    spare2: Floats,
    corner: tuple[float, float, float],
    cell: tuple[int, int],
    low: Floats,
    high: Floats,
    area: Floats,
    weighted: Floats,
) -> None:
    """Account for one triangle in one cell that it crosses but does not cover; band is clipped to the cell's row."""
    x, y, pitch = corner
    j, i = cell
    first = _clip(band, count, spare, 0, x, 1.0)
    left = _clip(spare, first, spare2, 0, x + pitch, -1.0)
    if left < 2:
        return
    x_low, x_high = _range(spare2, left, 0)
    y_low, y_high = _range(spare2, left, 1)
    z_low, z_high = _range(spare2, left, 2)
    on_rim_x = x_high - x_low < TOUCH_MM and (x_low - x < TOUCH_MM or x + pitch - x_high < TOUCH_MM)
    on_rim_y = y_high - y_low < TOUCH_MM and (y_low - y < TOUCH_MM or y + pitch - y_high < TOUCH_MM)
    if on_rim_x or on_rim_y:
        return
    high[j, i] = max(high[j, i], z_high)
    part, weight = _cover_of(spare2, left, x, y, pitch)
    if part <= 0.0 or _is_covered(area[j, i], weighted[j, i]):
        return
    low[j, i] = min(low[j, i], z_low)
    area[j, i] += part
    weighted[j, i] += weight


@njit(cache=True, error_model="numpy", nogil=True)
def _bound_covered(
    triangle: Floats,
    slopes: tuple[float, float],
    corner: tuple[float, float, float],
    cells: tuple[int, int, int],
    low: Floats,
    under: Floats,
    high: Floats,
    area: Floats,
    weighted: Floats,
) -> None:
    """Account for one triangle in cells i_from..i_to of row j, all of which it covers."""
    x0, y, pitch = corner
    j, i_from, i_to = cells
    swing = 0.5 * pitch * (abs(slopes[0]) + abs(slopes[1]))
    at_row = triangle[0, 2] + slopes[1] * (y + 0.5 * pitch - triangle[0, 1])
    floor, ceiling = triangle[:, 2].min(), triangle[:, 2].max()
    for i in range(i_from, i_to):
        z = at_row + slopes[0] * (x0 + (i + 0.5) * pitch - triangle[0, 0])
        z_low, z_high = max(z - swing, floor), min(z + swing, ceiling)
        under[j, i] = max(under[j, i], z_low)
        high[j, i] = max(high[j, i], z_high)
        if _is_covered(area[j, i], weighted[j, i]):
            continue
        low[j, i] = min(low[j, i], z_low)
        area[j, i] += 1.0
        weighted[j, i] += _FULL_WEIGHT


@njit(cache=True, error_model="numpy", nogil=True)
def _slopes(triangle: Floats) -> tuple[float, float]:
    """dz/dx and dz/dy of the triangle's plane; 0, 0 for one that stands upright."""
    ax, ay, az = triangle[1] - triangle[0]
    bx, by, bz = triangle[2] - triangle[0]
    nz = ax * by - ay * bx
    if nz <= 0.0:
        return 0.0, 0.0
    return -(ay * bz - az * by) / nz, -(az * bx - ax * bz) / nz


@njit(cache=True, error_model="numpy", nogil=True)
def _bound_rows(
    triangles: Floats,
    place: Floats,
    low: Floats,
    under: Floats,
    high: Floats,
    area: Floats,
    weighted: Floats,
    y_from: int,
    y_to: int,
) -> None:
    """All triangles over the cells of rows y_from..y_to."""
    x0, y0, pitch = place
    nx = low.shape[1]
    band, spare, spare2 = np.empty((10, 3)), np.empty((10, 3)), np.empty((10, 3))
    for t in range(triangles.shape[0]):
        triangle = triangles[t]
        y_low, y_high = _range(triangle, 3, 1)
        first_row = max(y_from, int(np.floor((y_low - y0) / pitch)))
        last_row = min(y_to - 1, int(np.floor((y_high - y0) / pitch)))
        slopes = _slopes(triangle)
        for j in range(first_row, last_row + 1):
            y = y0 + j * pitch
            some = _clip(triangle, 3, spare, 1, y, 1.0)
            count = _clip(spare, some, band, 1, y + pitch, -1.0)
            if count < 2:
                continue
            x_low, x_high = _range(band, count, 0)
            first = max(0, int(np.floor((x_low - x0) / pitch)))
            last = min(nx - 1, int(np.floor((x_high - x0) / pitch)))
            left_a, right_a = _span(triangle, y)
            left_b, right_b = _span(triangle, y + pitch)
            whole_from = whole_to = first
            if left_a <= right_a and left_b <= right_b and last > first:
                whole_from = max(first, int(np.ceil((max(left_a, left_b) - x0) / pitch)))
                whole_to = max(whole_from, min(last + 1, int(np.floor((min(right_a, right_b) - x0) / pitch))))
            if whole_to > whole_from:
                cells = (j, whole_from, whole_to)
                _bound_covered(triangle, slopes, (x0, y, pitch), cells, low, under, high, area, weighted)
            for i in range(first, last + 1):
                if i < whole_from or i >= whole_to:
                    corner = (x0 + i * pitch, y, pitch)
                    _bound_cell(band, count, spare, spare2, corner, (j, i), low, high, area, weighted)


@njit(cache=True, error_model="numpy", nogil=True)
def _centre_rows(
    triangles: Floats, rows: Ints, place: Floats, top: Heights, hit: Ints, y_from: int, y_to: int
) -> None:
    """Drop the triangles onto the centres of rows y_from..y_to."""
    x0, y0, pitch = place
    nx = top.shape[1]
    slack = 1e-9
    for t in rows:
        triangle = triangles[t]
        slope_x, slope_y = _slopes(triangle)
        floor, ceiling = triangle[:, 2].min(), triangle[:, 2].max()
        first = max(y_from, int(np.ceil((triangle[:, 1].min() - y0) / pitch - 0.5 - slack)))
        last = min(y_to - 1, int(np.floor((triangle[:, 1].max() - y0) / pitch - 0.5 + slack)))
        for j in range(first, last + 1):
            y = min(max(y0 + (j + 0.5) * pitch, triangle[:, 1].min()), triangle[:, 1].max())
            left, right = _span(triangle, y)
            i_from = max(0, int(np.ceil((left - x0) / pitch - 0.5 - slack)))
            i_to = min(nx - 1, int(np.floor((right - x0) / pitch - 0.5 + slack)))
            at_row = triangle[0, 2] + slope_y * (y - triangle[0, 1])
            for i in range(i_from, i_to + 1):
                z = at_row + slope_x * (x0 + (i + 0.5) * pitch - triangle[0, 0])
                z = min(max(z, floor), ceiling)
                if z > top[j, i]:
                    top[j, i] = z
                    hit[j, i] = t
