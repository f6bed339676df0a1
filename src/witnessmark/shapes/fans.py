"""Parts of a mesh that touch along an edge or at a corner, given corners of their own.

Question  which faces belong together where more than two meet at an edge
Units     mm
Arrays    vertices (n, 3), faces (m, 3), closed: every edge is run as often one way as the other
Method    round the edge in order of angle the faces begin and end wedges of wood; each face that begins a wedge is
          paired with the next that ends one (at one angle, ends come before beginnings). Corners of faces that are
          paired, directly or through others, stay one corner; the rest part.
Source    plane geometry
Valid     wedges thicker than SAME_RAD
Refuses   nothing: the caller checks that the mesh is closed, and the volume afterwards
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .edges import edges_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAME_RAD = 1e-6


def parted(vertices: Floats, faces: Ints) -> tuple[Floats, Ints]:
    """The same surface with no edge shared by more than two faces; unchanged if it has none, or is not closed."""
    edges = edges_of(faces)
    if not np.any(edges.crowded) or not edges.closed:
        return vertices, faces
    one, other = _paired_sides(vertices, faces)
    corner_count = 3 * len(faces)
    # a side runs from its own corner to the next; its partner runs the other way, so ends meet beginnings
    links = np.concatenate([np.stack([one, _next(other)]), np.stack([_next(one), other])], axis=1)
    label = _labels(links, corner_count)
    first = np.unique(label, return_index=True)[1]
    return vertices[faces.ravel()[first]], label.reshape(-1, 3)


def _next(corner: Ints) -> Ints:
    """The corner after each corner (3 f + k) round its face."""
    return np.asarray(corner - corner % 3 + (corner % 3 + 1) % 3, dtype=np.int64)


def _labels(links: Ints, count: int) -> Ints:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    graph = coo_array((np.ones(links.shape[1]), (links[0], links[1])), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _paired_sides(vertices: Floats, faces: Ints) -> tuple[Ints, Ints]:
    """Sides, each named by the corner (3 f + k) it starts from, and the side across the same wedge of wood."""
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    key = np.minimum(start, end) * (int(faces.max()) + 1) + np.maximum(start, end)
    order = np.argsort(key, kind="stable").astype(np.int64)
    begins = np.unique(key[order], return_index=True)[1]
    counts = np.diff(np.append(begins, len(order)))
    plain = begins[counts == 2]
    one, other = [order[plain]], [order[plain + 1]]
    for begin, count in zip(begins[counts > 2].tolist(), counts[counts > 2].tolist()):
        first, second = _across_wood(order[begin : begin + count], vertices, faces, start, end)
        one.append(first)
        other.append(second)
    return np.concatenate(one), np.concatenate(other)


def _across_wood(sides: Ints, vertices: Floats, faces: Ints, start: Ints, end: Ints) -> tuple[Ints, Ints]:
    """Pair the sides at one crowded edge."""
    low, high = sorted((int(start[sides[0]]), int(end[sides[0]])))
    along = vertices[high] - vertices[low]
    along = along / np.linalg.norm(along)
    across = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    across /= np.linalg.norm(across)
    third = vertices[faces[sides // 3, (sides % 3 + 2) % 3]] - vertices[low]
    turn = np.arctan2(third @ np.cross(along, across), third @ across)
    step = np.rint(turn / SAME_RAD).astype(np.int64) % round(2 * np.pi / SAME_RAD)
    begins_wood = start[sides] == high  # runs high to low: its outward side looks back, wood lies ahead
    order = np.lexsort([begins_wood, step])
    rise = np.where(begins_wood[order], 1, -1)
    order = np.roll(order, -(int(np.argmin(np.cumsum(rise))) + 1))  # begin where no wedge is open
    waiting: list[int] = []
    pairs: list[tuple[int, int]] = []
    for place in order.tolist():
        if begins_wood[place]:
            waiting.append(place)
        else:
            pairs.append((waiting.pop(), place))
    return sides[[a for a, _ in pairs]], sides[[b for _, b in pairs]]
