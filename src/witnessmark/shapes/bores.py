"""Round holes from the exact cylinders that a STEP file carries: a mesh alone loses their axes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .features import Feature
from .winding import winding_number

Floats = NDArray[np.float64]
Axis = Literal["x", "y", "z", ""]

ALONG_RATIO = 0.9999  # cosine from which an axis counts as lying along x, y or z (0.8 degrees)
SAME_MM = 0.01  # two halves of one bore agree in axis and radius to this
SECTORS, LEAST_SECTORS = 24, 22  # walls that go less far round are grooves or rounded corners


@dataclass(frozen=True, eq=False)
class CylinderFace:
    """A cylindrical face: a point of its axis, the axis, the radius, and the face's triangles (m, 3, 3). mm."""

    point_mm: Floats
    axis: Floats
    radius_mm: float
    triangles: Floats


def bores(cylinders: Sequence[CylinderFace], solid_triangles: Floats) -> tuple[Feature, ...]:
    """The cylinders that are holes open at one end at least, mouth first; halves of one hole joined."""
    hollow = [cylinder for cylinder in cylinders if _is_hollow(cylinder)]
    found = [_feature(group, solid_triangles) for group in _joined(hollow)]
    return tuple(feature for feature in found if feature is not None)


def _is_hollow(cylinder: CylinderFace) -> bool:
    """The outward normals of a hole point at its axis."""
    corner = cylinder.triangles
    normals = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    from_axis = corner.mean(axis=1) - cylinder.point_mm
    return float(np.einsum("ij,ij->", normals, from_axis - np.outer(from_axis @ cylinder.axis, cylinder.axis))) < 0.0


def _joined(cylinders: Sequence[CylinderFace]) -> list[CylinderFace]:
    groups: list[CylinderFace] = []
    for cylinder in cylinders:
        for k, group in enumerate(groups):
            if _same_bore(group, cylinder):
                both = np.concatenate([group.triangles, cylinder.triangles])
                groups[k] = CylinderFace(group.point_mm, group.axis, group.radius_mm, both)
                break
        else:
            groups.append(cylinder)
    return groups


def _same_bore(one: CylinderFace, other: CylinderFace) -> bool:
    offset = other.point_mm - one.point_mm
    aside_mm = float(np.linalg.norm(offset - (offset @ one.axis) * one.axis))
    if (
        abs(one.axis @ other.axis) < ALONG_RATIO
        or aside_mm > SAME_MM
        or abs(one.radius_mm - other.radius_mm) > SAME_MM
    ):
        return False
    (low, high), (other_low, other_high) = (
        _reach(one),
        _reach(CylinderFace(one.point_mm, one.axis, 0, other.triangles)),
    )
    return other_low <= high + SAME_MM and low <= other_high + SAME_MM


def _reach(cylinder: CylinderFace) -> tuple[float, float]:
    along = (cylinder.triangles.reshape(-1, 3) - cylinder.point_mm) @ cylinder.axis
    return float(along.min()), float(along.max())


def _feature(bore: CylinderFace, solid_triangles: Floats) -> Feature | None:
    low, high = _reach(bore)
    if not _goes_round(bore):
        return None
    low_open = _open(bore, low, -1.0, solid_triangles)
    high_open = _open(bore, high, 1.0, solid_triangles)
    if not (low_open or high_open):
        return None
    main = int(np.argmax(np.abs(bore.axis)))
    upward = bore.axis[main] > 0
    from_high = high_open if low_open != high_open else bool(upward)  # through holes: from the greater coordinate
    mouth = bore.point_mm + (high if from_high else low) * bore.axis
    direction = -bore.axis if from_high else bore.axis
    names: tuple[Axis, Axis, Axis] = ("x", "y", "z")
    axis: Axis = names[main] if abs(bore.axis[main]) >= ALONG_RATIO else ""
    return Feature("hole", axis, _point(mouth), _point(direction), round(2 * bore.radius_mm, 4), round(high - low, 4))


def _goes_round(bore: CylinderFace) -> bool:
    """Whether the wall is there on (nearly) all sides of the axis; other holes may break through it."""
    side, other = _across(bore.axis)
    from_axis = bore.triangles.reshape(-1, 3) - bore.point_mm
    turn = np.arctan2(from_axis @ other, from_axis @ side)
    sectors = np.unique(np.floor((turn + np.pi) / (2 * np.pi) * SECTORS - 1e-9).astype(int))
    return len(sectors) >= LEAST_SECTORS


def _across(axis: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors square to the axis and to each other."""
    side = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    side /= np.linalg.norm(side)
    return side, np.cross(axis, side)


def _open(bore: CylinderFace, end_mm: float, outward_ratio: float, solid_triangles: Floats) -> bool:
    """Air just beyond an end, close inside the wall: a flat, stepped or drill-pointed bottom has wood there."""
    side, other = _across(bore.axis)
    beyond = bore.point_mm + (end_mm + outward_ratio * 0.05 * bore.radius_mm) * bore.axis
    turns = np.array([0.3, 1.9, 3.4, 5.0])
    places = [beyond + 0.97 * bore.radius_mm * (np.cos(t) * side + np.sin(t) * other) for t in turns]
    return sum(winding_number(place, solid_triangles) < 0.5 for place in places) >= 2


def _point(values: Floats) -> tuple[float, float, float]:
    x, y, z = (round(float(value), 4) + 0.0 for value in values)
    return (x, y, z)
