"""Where the surface of a mesh passes through itself.

Question  which pairs of triangles that share no corner pass through each other
Method    an edge of one pierces the other: its ends lie on both sides of the plane, the crossing inside the
          triangle; every pair whose boxes overlap is tried (a tree over two axes, the third by comparison)
Units     mm
Source    plane geometry
Valid     passages deeper than CLEAR_MM; triangles that only touch, or overlap in one plane, are not reported
"""

from __future__ import annotations

import numpy as np
import shapely
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
    found = [_pierced(vertices, faces, chunk) for chunk in np.array_split(pairs, len(pairs) // _CHUNK + 1)]
    return np.concatenate(found)


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


def _pierced(vertices: Floats, faces: Ints, pairs: Ints) -> Floats:
    places = []
    for one, other in ((pairs[:, 0], pairs[:, 1]), (pairs[:, 1], pairs[:, 0])):
        triangle = vertices[faces[other]]
        normal = np.cross(triangle[:, 1] - triangle[:, 0], triangle[:, 2] - triangle[:, 0])
        size = np.linalg.norm(normal, axis=1)
        normal = np.divide(normal, size[:, None], out=np.zeros_like(normal), where=size[:, None] > 0)
        for k in range(3):
            start, end = vertices[faces[one, k]], vertices[faces[one, (k + 1) % 3]]
            places.append(_through(start, end, triangle, normal))
    return np.concatenate(places)


def _through(start: Floats, end: Floats, triangle: Floats, normal: Floats) -> Floats:
    """Crossing places of segments (n) with triangles (n), where they pass clearly through."""
    before = np.einsum("ij,ij->i", start - triangle[:, 0], normal)
    after = np.einsum("ij,ij->i", end - triangle[:, 0], normal)
    passes = (np.minimum(before, after) < -CLEAR_MM) & (np.maximum(before, after) > CLEAR_MM)
    start, end, triangle, normal = start[passes], end[passes], triangle[passes], normal[passes]
    share = before[passes] / (before[passes] - after[passes])
    place = start + share[:, None] * (end - start)
    inside = np.ones(len(place), dtype=bool)
    for k in range(3):
        along = triangle[:, (k + 1) % 3] - triangle[:, k]
        left = np.einsum("ij,ij->i", np.cross(along, place - triangle[:, k]), normal)
        inside &= left > CLEAR_MM * np.linalg.norm(along, axis=1)
    return np.asarray(place[inside], dtype=np.float64)
