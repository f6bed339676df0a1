"""How many sheets of a solid's upward-facing surface lie over each cell's centre.

Question   is anything hidden beneath an overhang (two or more sheets): what neither the side that is up nor the
           side that is down can see
Frame      standing frame; rows along +y, columns along +x
Units      mm
Arrays     triangles (n, 3, 3) float64; count (ny, nx) int32
Method     scan lines through the centres; a triangle covers the half-open span between its edges, each edge taken
           with its lower end first, so that neighbours share an edge exactly. The centres are moved by a hair so
           that no edge of a drawing runs through them.
Source     plane geometry
Valid      exact at the moved centres (MOVED_RATIO of the pitch) for closed solids
Refuses    nothing: the caller checks once
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .grid import Grid
from .threads import in_strips

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

MOVED_RATIO = 1.37e-5


def upward_sheets(triangles: Floats, grid: Grid) -> Ints:
    """Number of upward-facing sheets over each cell's centre, (ny, nx) int32."""
    corners = np.ascontiguousarray(triangles, dtype=np.float64).reshape(-1, 3, 3)
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    facing_up = np.ascontiguousarray(corners[first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0] > 0.0])
    count = np.zeros(grid.shape, dtype=np.int32)
    moved = MOVED_RATIO * grid.pitch_mm
    place = np.array([grid.x0_mm + moved, grid.y0_mm + 0.71 * moved, grid.pitch_mm])
    in_strips(lambda a, b: _count_rows(facing_up, place, count, a, b), grid.ny, strips_each=2)
    return count


@njit(cache=True, error_model="numpy", nogil=True)
def _crossing(p: Floats, q: Floats, y: float) -> float:
    """x where the edge crosses the level line y; nan where it does not (its upper end does not count)."""
    if p[1] > q[1]:
        p, q = q, p
    if not p[1] <= y < q[1]:
        return np.nan
    return p[0] + (y - p[1]) / (q[1] - p[1]) * (q[0] - p[0])


@njit(cache=True, error_model="numpy", nogil=True)
def _count_rows(triangles: Floats, place: Floats, count: Ints, y_from: int, y_to: int) -> None:
    x0, y0, pitch = place
    nx = count.shape[1]
    for t in range(triangles.shape[0]):
        triangle = triangles[t]
        first = max(y_from, int(np.ceil((triangle[:, 1].min() - y0) / pitch - 0.5 - 1e-9)))
        last = min(y_to - 1, int(np.floor((triangle[:, 1].max() - y0) / pitch - 0.5 + 1e-9)))
        for j in range(first, last + 1):
            y = y0 + (j + 0.5) * pitch
            left, right = np.inf, -np.inf
            for i in range(3):
                x = _crossing(triangle[i], triangle[i + 1 if i < 2 else 0], y)
                if not np.isnan(x):
                    left, right = min(left, x), max(right, x)
            if left < right:
                i_from = max(0, int(np.ceil((left - x0) / pitch - 0.5)))
                i_to = min(nx, int(np.ceil((right - x0) / pitch - 0.5)))
                for i in range(i_from, i_to):
                    count[j, i] += 1
