"""Which steep face belongs to which wall, and the worst of each wall.

Frame     piece frame
Units     mm
Arrays    triangles (n, 3, 3); number (n,): the wall of each triangle, -1 where it is no wall
Method    steep triangles that share an edge (the same two corners, to a micron) and turn by less than SHARP_DEG
          across it are one wall
Valid     a wall's worst is that of the places looked at (proof.walls): every edge for gouges, a sample for wood left
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from .edges import STEEPEST_FLOOR_RATIO

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Point = tuple[float, float, float]

SHARP_DEG = 30.0
SAME_MM = 1e-3


@dataclass(frozen=True)
class WallWorst:
    """One wall: its box, its area, how deep it was cut into and how much wood was left at most, and where."""

    low_mm: Point
    high_mm: Point
    area_mm2: float
    gouge_mm: float
    gouge_at_mm: Point | None
    left_mm: float
    left_at_mm: Point | None

    def turned(self, rotation: Floats) -> WallWorst:
        """With its places said in the frame to which ``rotation`` (3, 3) leads."""

        def place(at_mm: Point | None) -> Point | None:
            return None if at_mm is None else _point(np.array(at_mm) @ rotation.T)

        ends = np.array([self.low_mm, self.high_mm]) @ rotation.T
        return replace(
            self,
            low_mm=_point(ends.min(axis=0)),
            high_mm=_point(ends.max(axis=0)),
            gouge_at_mm=place(self.gouge_at_mm),
            left_at_mm=place(self.left_at_mm),
        )


def wall_numbers(triangles: Floats) -> Ints:
    """The wall of each triangle, (n,); -1 for shallow ones."""
    cross = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(cross, axis=1)
    normals = np.divide(cross, size[:, None], out=np.zeros_like(cross), where=size[:, None] > 0)
    steep = np.flatnonzero((size > 0) & (np.abs(normals[:, 2]) < STEEPEST_FLOOR_RATIO))
    number = np.full(len(triangles), -1, dtype=np.int64)
    if not len(steep):
        return number
    corners = np.round(triangles[steep].reshape(-1, 3) / SAME_MM).astype(np.int64)
    _, corner = np.unique(corners, axis=0, return_inverse=True)
    corner = corner.reshape(-1, 3)
    ends = np.concatenate([np.sort(corner[:, pair], axis=1) for pair in ([0, 1], [1, 2], [2, 0])])
    face = np.tile(np.arange(len(steep)), 3)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    ends, face = ends[order], face[order]
    same = np.flatnonzero((ends[1:] == ends[:-1]).all(axis=1))
    one, other = face[same], face[same + 1]
    gentle = (normals[steep[one]] * normals[steep[other]]).sum(axis=1) > math.cos(math.radians(SHARP_DEG))
    one, other = one[gentle], other[gentle]
    links = coo_matrix((np.ones(len(one)), (one, other)), shape=(len(steep), len(steep)))
    number[steep] = connected_components(links, directed=False)[1]
    return number


class WorstOfWalls:
    """Keeps the worst of each wall while places are looked at."""

    def __init__(self, triangles: Floats) -> None:
        self.number = wall_numbers(triangles)
        count = int(self.number.max(initial=-1)) + 1
        self._gouge, self._left = np.zeros(count), np.zeros(count)
        self._gouge_at, self._left_at = np.full((count, 3), np.nan), np.full((count, 3), np.nan)
        cross = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
        walls = self.number >= 0
        self._area = np.bincount(self.number[walls], np.linalg.norm(cross[walls], axis=1) / 2, count)
        self._met = np.zeros(count, dtype=bool)
        self._low, self._high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
        np.minimum.at(self._low, self.number[walls], triangles[walls].min(axis=1))
        np.maximum.at(self._high, self.number[walls], triangles[walls].max(axis=1))

    def gouged(self, face: Ints, at_mm: Floats, by_mm: Floats) -> None:
        """Places (n, 3) on faces (n,) that were cut by so much along the normal."""
        _keep_worst(self.number[face], at_mm, by_mm, self._gouge, self._gouge_at)

    def left(self, face: Ints, at_mm: Floats, by_mm: Floats) -> None:
        """The same for wood left."""
        _keep_worst(self.number[face], at_mm, by_mm, self._left, self._left_at)

    def met(self, face: Ints) -> None:
        """The passes had something to do with these faces."""
        self._met[self.number[face]] = True

    def told(self, only_met: bool = False) -> tuple[WallWorst, ...]:
        """All walls, or those that were met; the largest first."""
        return tuple(
            WallWorst(
                _point(self._low[k]),
                _point(self._high[k]),
                float(self._area[k]),
                float(self._gouge[k]),
                _point(self._gouge_at[k]) if self._gouge[k] > 0 else None,
                float(self._left[k]),
                _point(self._left_at[k]) if self._left[k] > 0 else None,
            )
            for k in np.argsort(-self._area, kind="stable")
            if self._met[k] or not only_met
        )


def worst_wall(walls: Sequence[WallWorst]) -> WallWorst | None:
    """The wall that was cut into the most, or where none was, the one with the most wood left."""
    return max(walls, key=lambda wall: (wall.gouge_mm, wall.left_mm), default=None)


def _keep_worst(wall: Ints, at_mm: Floats, by_mm: Floats, worst: Floats, places: Floats) -> None:
    order = np.argsort(by_mm, kind="stable")  # the last one written is the worst
    order = order[wall[order] >= 0]
    better = order[by_mm[order] > worst[wall[order]]]
    worst[wall[better]] = by_mm[better]
    places[wall[better]] = at_mm[better]


def _point(at: Floats) -> Point:
    return (float(at[0]), float(at[1]), float(at[2]))
