"""The planes of a solid's shallow faces over each cell: what a made surface is held against, cell by cell.

Question   between which heights can the wanted surface lie at each corner and at the middle of a cell, if any of the
           faces that touch the cell may be the one there
Frame      standing frame; rows along +y, columns along +x; corners in the order (0, 0), (1, 0), (0, 1), (1, 1)
Units      mm
Arrays     triangles (n, 3, 3) float64 facing up, none upright; Facets: float64 fields
Method     a face counts for every cell that it touches, by its plane carried on over the whole cell; those well
           beneath the top at the cell's middle are hidden
Source     plane geometry
Valid      for faces of up to 45 degrees; a face within 1e-9 mm of a cell touches it
Refuses    nothing: the caller checks once
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .grid import Grid, Heights

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

HIDDEN_MM = 1.0  # and twice the pitch: how far planes of up to 45 degrees that meet in a cell lie apart at its middle
TOUCH_MM = 1e-9


@dataclass(frozen=True, eq=False)
class Facets:
    """low (ny, nx, 4): least plane at each corner; middle, high (ny, nx): greatest plane at the middle, and at any
    corner; upright (ny, nx): greatest share of z in a normal. Where no face lies low is inf and the others -inf."""

    low: Floats
    middle: Floats
    high: Floats
    upright: Floats


def facets_over(triangles: Floats, top: Heights, grid: Grid) -> Facets:
    """The planes over every cell of the grid; ``top`` (ny, nx): the whole top surface at the cells' middles."""
    shape = grid.shape
    found = Facets(np.full((*shape, 4), np.inf), *(np.full(shape, -np.inf) for _ in range(3)))
    corners = np.ascontiguousarray(triangles, dtype=np.float64).reshape(-1, 3, 3)
    place = np.array([grid.x0_mm, grid.y0_mm, grid.pitch_mm])
    _planes(corners, place, top, found.low, found.middle, found.high, found.upright)
    return found


def touched(triangles: Floats, grid: Grid) -> Mask:
    """The cells that any of the triangles touches, seen from above (upright ones are lines there)."""
    mask = np.zeros(grid.shape, dtype=bool)
    corners = np.ascontiguousarray(triangles, dtype=np.float64).reshape(-1, 3, 3)
    _touch(corners, np.array([grid.x0_mm, grid.y0_mm, grid.pitch_mm]), mask)
    return mask


@njit(cache=True, error_model="numpy", nogil=True)
def _rows_of(triangle: Floats, y0: float, pitch: float, ny: int) -> tuple[int, int]:
    """Rows j0 <= j < j1 that a triangle touches."""
    first = math.floor((triangle[:, 1].min() - TOUCH_MM - y0) / pitch)
    last = math.floor((triangle[:, 1].max() + TOUCH_MM - y0) / pitch)
    return max(first, 0), min(last + 1, ny)


@njit(cache=True, error_model="numpy", nogil=True)
def _columns_of(triangle: Floats, y_from: float, y_to: float, x0: float, pitch: float, nx: int) -> tuple[int, int]:
    """Columns i0 <= i < i1 that it touches within a band of rows: exact, for triangle and band are convex."""
    left, right = math.inf, -math.inf
    for n in range(3):
        k = n + 1 if n < 2 else 0
        ax, ay, bx, by = triangle[n, 0], triangle[n, 1], triangle[k, 0], triangle[k, 1]
        if max(ay, by) < y_from or min(ay, by) > y_to:
            continue
        for y in (y_from, y_to):
            share = 0.0 if ay == by else min(max((y - ay) / (by - ay), 0.0), 1.0)
            x = ax + share * (bx - ax)
            left, right = min(left, x), max(right, x)
        if ay == by:
            left, right = min(left, bx), max(right, bx)
    if left > right:
        return 0, 0
    first, last = math.floor((left - TOUCH_MM - x0) / pitch), math.floor((right + TOUCH_MM - x0) / pitch)
    return max(first, 0), min(last + 1, nx)


@njit(cache=True, error_model="numpy", nogil=True)
def _touch(triangles: Floats, place: Floats, mask: Mask) -> None:
    x0, y0, pitch = place
    ny, nx = mask.shape
    for t in range(triangles.shape[0]):
        j0, j1 = _rows_of(triangles[t], y0, pitch, ny)
        for j in range(j0, j1):
            y = y0 + j * pitch
            i0, i1 = _columns_of(triangles[t], y - TOUCH_MM, y + pitch + TOUCH_MM, x0, pitch, nx)
            mask[j, i0:i1] = True


@njit(cache=True, error_model="numpy", nogil=True)
def _planes(
    triangles: Floats, place: Floats, top: Heights, low: Floats, middle: Floats, high: Floats, upright: Floats
) -> None:
    x0, y0, pitch = place
    ny, nx = middle.shape
    half, hidden = 0.5 * pitch, HIDDEN_MM + 2.0 * pitch
    for t in range(triangles.shape[0]):
        p = triangles[t]
        ux, uy, uz = p[1, 0] - p[0, 0], p[1, 1] - p[0, 1], p[1, 2] - p[0, 2]
        vx, vy, vz = p[2, 0] - p[0, 0], p[2, 1] - p[0, 1], p[2, 2] - p[0, 2]
        area = ux * vy - uy * vx
        if area <= 0.0:
            continue
        gx, gy = (uz * vy - vz * uy) / area, (vz * ux - uz * vx) / area  # rise along x and y
        share = 1.0 / math.sqrt(1.0 + gx * gx + gy * gy)
        j0, j1 = _rows_of(p, y0, pitch, ny)
        for j in range(j0, j1):
            y = y0 + j * pitch
            i0, i1 = _columns_of(p, y - TOUCH_MM, y + pitch + TOUCH_MM, x0, pitch, nx)
            at_row = p[0, 2] + gy * (y + half - p[0, 1]) + gx * (x0 + half - p[0, 0])
            for i in range(i0, i1):
                z = at_row + gx * i * pitch
                if z < top[j, i] - hidden:
                    continue
                middle[j, i] = max(middle[j, i], z)
                high[j, i] = max(high[j, i], z + half * (abs(gx) + abs(gy)))
                upright[j, i] = max(upright[j, i], share)
                for k in range(4):
                    corner = z + half * (gx * (2 * (k & 1) - 1) + gy * (2 * (k >> 1) - 1))
                    low[j, i, k] = min(low[j, i, k], corner)
