"""The shadow, seen from straight above, of all of a solid that lies higher than z.

Question  which points of the plane have wood of the solid somewhere above height z
Frame     the solid's own; the shadow lies in its x, y
Units     mm
Method    the top of every column lies on a triangle facing up, so the shadow is the union of those triangles cut
          off at z. Only the border of that set is needed: edges whose other triangle does not face up, cut off at
          z, and the cuts across triangles that pass through z. They close into loops; a point is in the shadow
          where the loops' winding number is positive.
Source    plane geometry
Refuses   nothing: the mesh is closed (Solid saw to it)
"""

from __future__ import annotations

import manifold3d
import numpy as np
from numba import njit
from numpy.typing import NDArray

from .rings import Area, area_of_section

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class ShadowCaster:
    """What of a closed mesh is the same for every height, worked out once."""

    def __init__(self, vertices: Floats, faces: Ints) -> None:
        corner = vertices[faces, :2]
        across, along = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
        up = across[:, 0] * along[:, 1] - across[:, 1] * along[:, 0] > 0.0
        self._vertices = vertices
        self._up = faces[up]
        self._rim = _rim_edges(self._up, len(vertices))
        height = vertices[:, 2]
        self._up_low = height[self._up].min(axis=1, initial=np.inf)
        self._up_high = height[self._up].max(axis=1, initial=-np.inf)

    def above(self, z_mm: float) -> Area:
        """The shadow of everything strictly higher than z."""
        start, end = self._clipped_rim(z_mm)
        cut_start, cut_end = self._cuts(z_mm)
        loops = _loops(np.concatenate([start, cut_start]), np.concatenate([end, cut_end]))
        if not loops:
            return area_of_section(manifold3d.CrossSection())
        rings = [self._places(loop, z_mm) for loop in loops]
        return area_of_section(manifold3d.CrossSection(rings, manifold3d.FillRule.Positive))

    def _clipped_rim(self, z_mm: float) -> tuple[Ints, Ints]:
        """Rim edges above z; an end below z is replaced by the edge's crossing."""
        start, end = self._rim[:, 0], self._rim[:, 1]
        start_above, end_above = self._vertices[start, 2] > z_mm, self._vertices[end, 2] > z_mm
        keep = start_above | end_above
        crossing = self._crossing(start[keep], end[keep])
        return np.where(start_above[keep], start[keep], crossing), np.where(end_above[keep], end[keep], crossing)

    def _cuts(self, z_mm: float) -> tuple[Ints, Ints]:
        """One segment across each upward triangle that passes through z, with what is higher on its left."""
        through = self._up[(self._up_low <= z_mm) & (self._up_high > z_mm)]
        above = self._vertices[through, 2] > z_mm
        row = np.arange(len(through))
        leaves = np.argmax(above & ~np.roll(above, -1, axis=1), axis=1)  # the side that goes down through z
        enters = np.argmax(~above & np.roll(above, -1, axis=1), axis=1)
        down = self._crossing(through[row, leaves], through[row, (leaves + 1) % 3])
        up = self._crossing(through[row, enters], through[row, (enters + 1) % 3])
        return down, up

    def _crossing(self, one: Ints, other: Ints) -> Ints:
        """A number for the place where an edge passes through z: the same from both triangles."""
        count = len(self._vertices)
        return np.asarray((np.minimum(one, other) + 1) * count + np.maximum(one, other), dtype=np.int64)

    def _places(self, nodes: Ints, z_mm: float) -> Floats:
        """Plan places (n, 2) of corners and crossings."""
        count = len(self._vertices)
        low, high = nodes // count - 1, nodes % count
        low = np.where(low < 0, high, low)
        a, b = self._vertices[low], self._vertices[high]
        rise = b[:, 2] - a[:, 2]
        share = np.divide(z_mm - a[:, 2], rise, out=np.zeros(len(nodes)), where=rise != 0.0)
        return np.asarray(a[:, :2] + share[:, None] * (b[:, :2] - a[:, :2]), dtype=np.float64)


def _rim_edges(up: Ints, count: int) -> Ints:
    """Directed edges (n, 2) left over when those that upward triangles run both ways have cancelled."""
    edges = np.concatenate([up[:, [0, 1]], up[:, [1, 2]], up[:, [2, 0]]])
    low, high = edges.min(axis=1), edges.max(axis=1)
    key, which = np.unique(low * count + high, return_inverse=True)
    net = np.bincount(which, weights=np.where(edges[:, 0] == low, 1.0, -1.0), minlength=len(key)).astype(np.int64)
    along = np.column_stack([key // count, key % count])
    forth, back = np.maximum(net, 0), np.maximum(-net, 0)
    return np.concatenate([np.repeat(along, forth, axis=0), np.repeat(along[:, ::-1], back, axis=0)])


def _loops(start: Ints, end: Ints) -> list[Ints]:
    """Directed edges in which every node is left as often as it is reached, as closed chains of nodes."""
    order = np.argsort(start, kind="stable")
    start, end = start[order], end[order]
    nodes, heads = np.unique(start, return_index=True)
    after = np.append(heads[1:], len(start))
    first = np.searchsorted(nodes, start)  # the node that each edge leaves, by number
    chained, breaks = _chained(np.searchsorted(nodes, end), heads.copy(), after)
    loops = np.split(nodes[first[chained]], breaks[1:-1])
    return [loop for loop in loops if len(loop) >= 3]


@njit(cache=True, error_model="numpy", nogil=True)  # type: ignore[untyped-decorator]
def _chained(reaches: Ints, unused: Ints, after: Ints) -> tuple[Ints, Ints]:
    """The edges in the order of the chains, and where each chain begins (and the last one ends).

    ``reaches`` (n,): the node each edge goes to; ``unused`` and ``after`` (m,): a node's first edge and one past its
    last; edges are sorted by the node that they leave.
    """
    chained, breaks = np.empty(len(reaches), dtype=np.int64), [0]
    taken = 0
    for head in range(len(unused)):
        while unused[head] < after[head]:
            node = head
            while unused[node] < after[node]:
                edge = unused[node]
                unused[node] += 1
                chained[taken] = edge
                taken += 1
                node = reaches[edge]
            breaks.append(taken)
    return chained[:taken], np.array(breaks, dtype=np.int64)
