"""A run of cutting: the tip's places in order, before it is entered and joined to others."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEVEL_MM = 1e-6


@dataclass(frozen=True, eq=False)
class Track:
    """points_mm (n, 3), standing frame. A closed track returns to its first point, which is given once."""

    points_mm: Floats
    closed: bool

    @property
    def length_mm(self) -> float:
        return float(np.linalg.norm(np.diff(self.chain_mm, axis=0), axis=1).sum())

    @property
    def chain_mm(self) -> Floats:
        """The points as they are run through: a closed track's first point again at the end."""
        return np.vstack([self.points_mm, self.points_mm[:1]]) if self.closed else self.points_mm

    def started_near(self, xy_mm: Floats) -> Track:
        """A closed track begun at its corner nearest to a place; an open one as it is (its direction matters)."""
        if not self.closed:
            return self
        first = int(np.argmin(((self.points_mm[:, :2] - xy_mm) ** 2).sum(axis=1)))
        return Track(np.roll(self.points_mm, -first, axis=0), True)

    def started_low(self) -> Track:
        """A closed track begun at the nearest of its lowest corners, where wood is entered to the full depth."""
        low = self.points_mm[:, 2] <= self.points_mm[:, 2].min() + LEVEL_MM
        if not self.closed or low[0]:
            return self
        away = ((self.points_mm[:, :2] - self.points_mm[0, :2]) ** 2).sum(axis=1)
        first = int(np.argmin(np.where(low, away, np.inf)))
        return Track(np.roll(self.points_mm, -first, axis=0), True)

    def gap_mm(self, xy_mm: Floats) -> float:
        """How far away a place is from where this track can begin."""
        starts = self.points_mm if self.closed else self.points_mm[:1]
        return float(np.sqrt(((starts[:, :2] - xy_mm) ** 2).sum(axis=1).min()))


def track_of(line: shapely.Geometry, z_mm: float) -> Track:
    """A level track along a shapely line or ring, in its own direction."""
    xy = shapely.get_coordinates(line)
    closed = len(xy) > 3 and bool(np.allclose(xy[0], xy[-1], atol=1e-9))
    xy = xy[:-1] if closed else xy
    return Track(np.column_stack([xy, np.full(len(xy), z_mm)]), closed)


def nearest_next(tracks: Sequence[Track], xy_mm: Floats | None) -> Iterator[Track]:
    """The tracks, each time the one that begins nearest to where the last one ended."""
    left = list(tracks)
    while left:
        k = 0 if xy_mm is None else int(np.argmin([track.gap_mm(xy_mm) for track in left]))
        track = left.pop(k) if xy_mm is None else left.pop(k).started_near(xy_mm)
        yield track
        xy_mm = track.chain_mm[-1, :2]
