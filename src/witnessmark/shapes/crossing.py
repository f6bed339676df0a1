"""Where the surface of a mesh passes through itself.

Question  which pairs of triangles that share no corner pass through each other
Method    an edge of one pierces the other: its ends lie on both sides of the plane, the crossing inside the
          triangle; every pair whose boxes overlap is tried (a tree over two axes, the third by comparison)
Units     mm
Source    plane geometry
Valid     passages deeper than CLEAR_MM; triangles that only touch, or overlap in one plane, are not reported
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CLEAR_MM = 1e-3
MOST_PAIRS = 4_000_000
_CHUNK = 200_000


def crossings(vertices: Floats, faces: Ints) -> Floats | None:
    """Places (n, 3) where the surface passes through itself; None if there is too much to test."""
    pairs = _close_pairs(vertices, faces)
    if pairs is None:
        return None
    places: Floats = _pierced(np.ascontiguousarray(vertices, dtype=np.float64), np.asarray(faces, np.int64), pairs)
    return places


def _close_pairs(vertices: Floats, faces: Ints) -> Ints | None:
    """Pairs (n, 2) of faces whose boxes overlap and that share no corner."""
    corner = vertices[faces]
    low, high = corner.min(axis=1), corner.max(axis=1)
    u, v, w = np.argsort(np.ptp(vertices, axis=0))[::-1]
    boxes = shapely.box(low[:, u], low[:, v], high[:, u], high[:, v])
    tree = shapely.STRtree(boxes)
    each = tree.query(boxes[:: max(1, len(faces) // 20)]).shape[1] / 20  # boxes that overlap one, on the average
    if each * len(faces) > 20 * MOST_PAIRS:
        return None
    found, total, step = [], 0, max(1, int(_CHUNK * 5 / max(each, 1.0)))
    for start in range(0, len(faces), step):
        one, other = tree.query(boxes[start : start + step])
        one = one + start
        keep = (one < other) & (low[one, w] <= high[other, w]) & (low[other, w] <= high[one, w])
        one, other = one[keep], other[keep]
        apart = ~(faces[one][:, :, None] == faces[other][:, None, :]).any(axis=(1, 2))
        found.append(np.column_stack([one[apart], other[apart]]))
        total += len(found[-1])
        if total > MOST_PAIRS:
            return None
    return np.concatenate(found) if found else np.empty((0, 2), dtype=np.int64)


@njit(cache=True, error_model="numpy", nogil=True)  # type: ignore[untyped-decorator]
def _pierced(vertices: Floats, faces: Ints, pairs: Ints) -> Floats:
    """Places (n, 3) where an edge of one face of a pair goes clearly through the other."""
    places = np.empty((16, 3))
    count = 0
    normal, side, place = np.empty(3), np.empty(3), np.empty(3)
    for row in range(len(pairs)):
        for way in range(2):
            one, other = faces[pairs[row, way]], faces[pairs[row, 1 - way]]
            a, b, c = vertices[other[0]], vertices[other[1]], vertices[other[2]]
            _square_to(a, b, c, normal)
            size = math.sqrt(normal[0] ** 2 + normal[1] ** 2 + normal[2] ** 2)
            if size == 0.0:
                continue
            for k in range(3):
                p = vertices[one[k]]
                side[k] = ((p[0] - a[0]) * normal[0] + (p[1] - a[1]) * normal[1] + (p[2] - a[2]) * normal[2]) / size
            if side.min() >= -CLEAR_MM or side.max() <= CLEAR_MM:
                continue
            for k in range(3):
                before, after = side[k], side[(k + 1) % 3]
                if min(before, after) >= -CLEAR_MM or max(before, after) <= CLEAR_MM:
                    continue
                start, end = vertices[one[k]], vertices[one[(k + 1) % 3]]
                share = before / (before - after)
                for axis in range(3):
                    place[axis] = start[axis] + share * (end[axis] - start[axis])
                if _inside(place, a, b, c, normal, size):
                    if count == len(places):
                        places = np.concatenate((places, np.empty_like(places)))
                    places[count] = place
                    count += 1
    return places[:count]


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _square_to(a: Floats, b: Floats, c: Floats, normal: Floats) -> None:
    ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    vx, vy, vz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    normal[0], normal[1], normal[2] = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _inside(place: Floats, a: Floats, b: Floats, c: Floats, normal: Floats, size: float) -> bool:
    """Whether a place in a triangle's plane lies within it, further than CLEAR_MM from its sides."""
    corners = (a, b, c)
    for k in range(3):
        p, q = corners[k], corners[(k + 1) % 3]
        ux, uy, uz = q[0] - p[0], q[1] - p[1], q[2] - p[2]
        wx, wy, wz = place[0] - p[0], place[1] - p[1], place[2] - p[2]
        left = (uy * wz - uz * wy) * normal[0] + (uz * wx - ux * wz) * normal[1] + (ux * wy - uy * wx) * normal[2]
        if left <= CLEAR_MM * size * math.sqrt(ux * ux + uy * uy + uz * uz):
            return False
    return True
