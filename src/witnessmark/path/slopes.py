"""How steep the faces are that can be seen from above, by height.

Angles are off the vertical: 0 a plumb wall, 45 degrees the border between walls by level and tops by row, 90 a floor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.placement import Rectangle
from witnessmark.shapes.solid import Solid

Floats = NDArray[np.float64]

STEEP_RAD = math.radians(45.0)
PLUMB_RAD = math.radians(1.0)  # a wall nearer to the vertical counts as plumb
FLAT_RAD = math.radians(89.9)
FEEL_DEG = 3.75  # width of the bins in which contact angles are sampled


@dataclass(frozen=True, eq=False)
class Slopes:
    """Faces not turned down, in the region: angle off vertical and heights from, to, each (n,)."""

    angle_rad: Floats
    from_z_mm: Floats
    to_z_mm: Floats

    def between(self, from_mm: float, to_mm: float) -> Floats:
        """Angles of the faces that reach into a band of heights."""
        return self.angle_rad[(self.to_z_mm > from_mm) & (self.from_z_mm < to_mm)]

    def steep(self, from_mm: float, to_mm: float) -> Floats:
        """The same, walls only."""
        angles = self.between(from_mm, to_mm)
        return angles[angles <= STEEP_RAD + 1e-9]

    def drafted(self, from_mm: float, to_mm: float) -> Floats:
        """The same, walls that lean."""
        angles = self.steep(from_mm, to_mm)
        return angles[angles > PLUMB_RAD]

    def has_plumb(self, from_mm: float, to_mm: float) -> bool:
        return bool((self.between(from_mm, to_mm) <= PLUMB_RAD).any())

    def contact_angles(self, from_mm: float, to_mm: float) -> Floats:
        """Middles of the bins of angle at which faces of the band may touch a round cutter."""
        count = round(90.0 / FEEL_DEG)
        bins = np.unique(np.minimum((np.degrees(self.between(from_mm, to_mm)) / FEEL_DEG).astype(int), count - 1))
        return np.asarray(np.radians((bins + 0.5) * FEEL_DEG), dtype=np.float64)


def slopes_of(solid: Solid, region_mm: Rectangle) -> Slopes:
    """The faces of a solid over a rectangle, and its sharp edges (a round cutter may hang on those)."""
    corners = solid.triangles
    x0, y0, x1, y1 = region_mm
    low, high = corners.min(axis=1), corners.max(axis=1)
    near = (high[:, 0] >= x0) & (low[:, 0] <= x1) & (high[:, 1] >= y0) & (low[:, 1] <= y1)
    up = near & (solid.normals[:, 2] > -1e-6) & (solid.areas_mm2 > 1e-9)
    angle = np.arcsin(np.clip(solid.normals[up, 2], 0.0, 1.0))
    return Slopes(angle, low[up, 2], high[up, 2])


def ridges_of(solid: Solid, region_mm: Rectangle) -> Slopes:
    """Sharp edges that stand out (dihedral over a degree), by the angle of the edge itself off the vertical."""
    faces, points = solid.faces, solid.vertices
    edges = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    owner = np.tile(np.arange(len(faces)), 3)
    order = np.lexsort(np.sort(edges, axis=1).T)
    first, second = order[0::2], order[1::2]
    normals, third = solid.normals, faces[owner[second]].sum(axis=1) - edges[second].sum(axis=1)
    bend = (normals[owner[first]] * normals[owner[second]]).sum(axis=1) < math.cos(math.radians(1.0))
    out = ((points[third] - points[edges[first, 0]]) * normals[owner[first]]).sum(axis=1) < 0
    ends = np.sort(points[edges[first]][..., 2], axis=1)
    at = points[edges[first]][..., :2]
    x0, y0, x1, y1 = region_mm
    near = (at.max(axis=1) >= (x0, y0)).all(axis=1) & (at.min(axis=1) <= (x1, y1)).all(axis=1)
    keep = bend & out & near
    run = np.linalg.norm(at[keep, 0] - at[keep, 1], axis=1)
    return Slopes(np.arctan2(run, ends[keep, 1] - ends[keep, 0]), ends[keep, 0], ends[keep, 1])
