"""Closed curves that know their outward normals, and solids lofted between their parallels. mm.

A wall that leans by a constant angle is, level by level, the parallel curve of the rim at a distance that grows
with height. With the exact normal kept at every point, that distance is one multiplication, and the wall between
two levels is ruled: straight lines from ring to ring, so that nothing is approximated in height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from .solid import Solid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FAN_STEP_RAD = math.radians(2.0)  # an arc of 22 mm radius in such steps lies within 0.0034 mm of its chords
SAME_MM = 1e-9


@dataclass(frozen=True, eq=False)
class OffsetCurve:
    """Points (n, 2) mm, counter-clockwise, with outward unit normals (n, 2).

    At a sharp corner the point is repeated with a fan of normals, so that its parallels are round there.
    The parallels are true only as far as no convex bend is tighter than the distance: the maker of a curve sees
    to that, and the tests hold it against shapely's buffer.
    """

    points_mm: Floats
    normals: Floats

    def ring_mm(self, inward_mm: float) -> Floats:
        """The parallel curve ``inward_mm`` inside (negative: outside), (n, 2) mm."""
        return np.asarray(self.points_mm - inward_mm * self.normals, dtype=np.float64)

    def polygon(self, inward_mm: float = 0.0) -> shapely.Polygon:
        """The area within the parallel curve."""
        return shapely.Polygon(self.ring_mm(inward_mm))

    def mirrored_x(self) -> OffsetCurve:
        """The curve after x -> -x, again counter-clockwise."""
        flip = np.array([-1.0, 1.0])
        return OffsetCurve((self.points_mm * flip)[::-1], (self.normals * flip)[::-1])

    def loft(self, levels_mm: list[tuple[float, float]], name: str = "solid") -> Solid:
        """The solid whose outline at each (z_mm, inward_mm), z rising, is that parallel; ruled in between."""
        return loft([(z_mm, self.ring_mm(inward_mm)) for z_mm, inward_mm in levels_mm], name)


def fan(from_rad: float, to_rad: float) -> Floats:
    """Unit vectors (k, 2) from one direction to another, both included, in steps fine enough for any wall."""
    steps = max(1, math.ceil(abs(to_rad - from_rad) / FAN_STEP_RAD))
    angles = np.linspace(from_rad, to_rad, steps + 1)
    return np.column_stack([np.cos(angles), np.sin(angles)])


def rounded_rectangle(size_x_mm: float, size_y_mm: float, corner_radius_mm: float) -> OffsetCurve:
    """A rectangle about the origin with rounded corners; its parallels are true up to the corner radius."""
    points, normals = [], []
    for quarter, (sign_x, sign_y) in enumerate([(1, 1), (-1, 1), (-1, -1), (1, -1)]):
        centre = np.array([sign_x * (size_x_mm / 2 - corner_radius_mm), sign_y * (size_y_mm / 2 - corner_radius_mm)])
        out = fan(quarter * math.pi / 2, (quarter + 1) * math.pi / 2)
        points.append(centre + corner_radius_mm * out)
        normals.append(out)
    return OffsetCurve(np.concatenate(points), np.concatenate(normals))


def loft(rings_mm: list[tuple[float, Floats]], name: str = "solid") -> Solid:
    """Close the wall through rings of equally many points (n, 2) at rising heights with flat caps.

    Points that fall together within a ring (a fan at distance 0) become one corner.
    """
    merged = [_merged(ring_mm) for _, ring_mm in rings_mm]
    counts = [len(points_mm) for points_mm, _ in merged]
    starts = np.concatenate([[0], np.cumsum(counts)])
    heights_mm = np.repeat([z_mm for z_mm, _ in rings_mm], counts)
    vertices = np.column_stack([np.concatenate([points_mm for points_mm, _ in merged]), heights_mm])
    faces = [_cap(merged[0][0])[:, ::-1], _cap(merged[-1][0]) + starts[-2]]
    for level, ((_, lower), (_, upper)) in enumerate(pairwise(merged)):
        faces.append(_band(lower + starts[level], upper + starts[level + 1]))
    return Solid.from_mesh(vertices, np.concatenate(faces), name)


def _merged(ring_mm: Floats) -> tuple[Floats, Ints]:
    """The ring's distinct points (m, 2), and for each of its n points the number of the distinct one."""
    fresh = np.linalg.norm(ring_mm - np.roll(ring_mm, 1, axis=0), axis=1) > SAME_MM
    number = np.cumsum(fresh) - 1
    return ring_mm[fresh], np.asarray(number % int(fresh.sum()), dtype=np.int64)


def _band(lower: Ints, upper: Ints) -> Ints:
    """Triangles of the wall between two rings of corner numbers (n,), without those of no area."""
    lower_next, upper_next = np.roll(lower, -1), np.roll(upper, -1)
    first = np.column_stack([lower, lower_next, upper_next])[lower != lower_next]
    second = np.column_stack([lower, upper_next, upper])[upper != upper_next]
    return np.concatenate([first, second])


def _cap(points_mm: Floats) -> Ints:
    """Triangles that fill a ring, counter-clockwise from above."""
    return np.asarray(manifold3d.triangulate([points_mm]), dtype=np.int64)
