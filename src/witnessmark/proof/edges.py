"""The piece's outline at a height, straight from its triangles: edges with outward normal and draft.

Question  where does the piece's surface cross the plane z, which way does it face there, and how steep is it
Frame     piece frame
Units     mm
Arrays    triangles (n, 3, 3); levels (m,) rising; edges (k, 4) x, y, x, y; normals (k, 2) level unit vectors out of
          the wood; steep (k,) cosine of the wall's lean off vertical; lean (k,) +1 faces up, -1 down, 0 upright
Method    a corner counts as above where its z > level; each triangle with corners on both sides gives one edge
Source    plane geometry
Valid     exact to float64; a level at the height of a corner is taken just above it
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.field.threads import in_strips

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

UPRIGHT_RATIO = 1e-6  # |normal z| below which a face counts as upright
STEEPEST_FLOOR_RATIO = math.sqrt(0.5)  # |normal z| at 45 degrees: shallower faces are the floors' business


@dataclass(frozen=True, eq=False)
class Edges:
    """k straight edges of the outline, sorted by level; ``level`` (k,) numbers the row of ``levels_mm``.

    ``face`` (k,): the row of the triangles.
    """

    ends_mm: Floats
    normals: Floats
    steep: Floats
    lean: NDArray[np.int8]
    level: Ints
    levels_mm: Floats
    face: Ints

    def __len__(self) -> int:
        return len(self.level)

    @property
    def z_mm(self) -> Floats:
        """Height of each edge (k,), mm."""
        return self.levels_mm[self.level]


def wall_edges(triangles: Floats, levels_mm: Floats, longest_mm: float) -> Edges:
    """Edges of all faces steeper than 45 degrees at each level, none longer than ``longest_mm``."""
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    lengths = np.linalg.norm(normals, axis=1)
    normals = normals[lengths > 0] / lengths[lengths > 0, None]
    rows = np.flatnonzero(lengths > 0)
    triangles = triangles[rows]
    walls = np.abs(normals[:, 2]) < STEEPEST_FLOOR_RATIO
    triangles, normals = np.ascontiguousarray(triangles[walls]), np.ascontiguousarray(normals[walls])
    rows = rows[walls]
    levels = np.ascontiguousarray(np.sort(levels_mm))
    counts = np.zeros(len(triangles), dtype=np.int64)
    _count(triangles, levels, longest_mm, counts)
    starts = np.concatenate([[0], np.cumsum(counts)])
    ends = np.empty((starts[-1], 4))
    face = np.empty(starts[-1], dtype=np.int64)
    level = np.empty(starts[-1], dtype=np.int64)
    _fill(triangles, levels, longest_mm, starts, ends, face, level)
    order = np.argsort(level, kind="stable")
    face = face[order]
    level_normals = normals[face, :2]
    steep = np.linalg.norm(level_normals, axis=1)
    lean = np.where(np.abs(normals[face, 2]) < UPRIGHT_RATIO, 0, np.sign(normals[face, 2])).astype(np.int8)
    return Edges(ends[order], level_normals / steep[:, None], steep, lean, level[order], levels, rows[face])


@njit(cache=True, error_model="numpy")
def _crossing(a: Floats, b: Floats, z: float) -> tuple[float, float]:
    t = (z - a[2]) / (b[2] - a[2])
    return a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])


@njit(cache=True, error_model="numpy")
def _edge_at(triangle: Floats, z: float) -> tuple[float, float, float, float]:
    """The edge in which one triangle, known to cross, meets the plane z."""
    ends = np.empty(4)
    found = 0
    for i in range(3):
        a, b = triangle[i], triangle[(i + 1) % 3]
        if (a[2] > z) != (b[2] > z) and found < 2:
            # from the lower to the higher corner, so that neighbours get the very same point
            x, y = _crossing(a, b, z) if a[2] < b[2] else _crossing(b, a, z)
            ends[2 * found], ends[2 * found + 1] = x, y
            found += 1
    return ends[0], ends[1], ends[2], ends[3]


@njit(cache=True, error_model="numpy")
def _range(triangle: Floats, levels: Floats) -> tuple[int, int]:
    low = min(triangle[0, 2], triangle[1, 2], triangle[2, 2])
    high = max(triangle[0, 2], triangle[1, 2], triangle[2, 2])
    return np.searchsorted(levels, low), np.searchsorted(levels, high)


@njit(cache=True, error_model="numpy")
def _parts(x0: float, y0: float, x1: float, y1: float, longest: float) -> int:
    return max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / longest))


@njit(cache=True, error_model="numpy")
def _count(triangles: Floats, levels: Floats, longest: float, counts: Ints) -> None:
    for i in range(len(triangles)):
        first, last = _range(triangles[i], levels)
        for j in range(first, last):
            x0, y0, x1, y1 = _edge_at(triangles[i], levels[j])
            counts[i] += _parts(x0, y0, x1, y1, longest)


@njit(cache=True, error_model="numpy")
def _fill(
    triangles: Floats, levels: Floats, longest: float, starts: Ints, ends: Floats, face: Ints, level: Ints
) -> None:
    for i in range(len(triangles)):
        row = starts[i]
        first, last = _range(triangles[i], levels)
        for j in range(first, last):
            x0, y0, x1, y1 = _edge_at(triangles[i], levels[j])
            parts = _parts(x0, y0, x1, y1, longest)
            for k in range(parts):
                ends[row, 0] = x0 + (x1 - x0) * k / parts
                ends[row, 1] = y0 + (y1 - y0) * k / parts
                ends[row, 2] = x0 + (x1 - x0) * (k + 1) / parts
                ends[row, 3] = y0 + (y1 - y0) * (k + 1) / parts
                face[row] = i
                level[row] = j
                row += 1


def inside_solid(points: Floats, triangles: Floats) -> NDArray[np.bool_]:
    """Which points (n, 3) lie in the wood of a closed solid: a ray along +x leaves it an odd number of times."""
    inside = np.zeros(len(points), dtype=np.bool_)
    points, triangles = np.ascontiguousarray(points), np.ascontiguousarray(triangles)
    in_strips(lambda a, b: _inside(points, triangles, inside, a, b), len(points), strips_each=2)
    return inside


@njit(cache=True, error_model="numpy", nogil=True)
def _inside(points: Floats, triangles: Floats, inside: NDArray[np.bool_], from_row: int, to_row: int) -> None:
    for i in range(from_row, to_row):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        odd = False
        for j in range(len(triangles)):
            one, two, three = triangles[j, 0, 2] > z, triangles[j, 1, 2] > z, triangles[j, 2, 2] > z
            if one == two and two == three:
                continue
            x0, y0, x1, y1 = _edge_at(triangles[j], z)
            if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
                odd = not odd
        inside[i] = odd
