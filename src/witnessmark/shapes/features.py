"""What a mesh alone does not show: the names of faces, and the axes of holes. mm."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

Point = tuple[float, float, float]


@dataclass(frozen=True)
class Feature:
    """A hole: ``direction`` (unit) runs along the axis into the wood from ``point_mm`` at its mouth.

    ``axis`` names the piece axis it lies along ("x", "y", "z"), or "" if it is oblique.
    """

    kind: Literal["hole", "pocket", "boss"]
    axis: Literal["x", "y", "z", ""]
    point_mm: Point
    direction: Point
    diameter_mm: float
    depth_mm: float
    fit: str = ""

    def scaled(self, factor_ratio: float) -> Feature:
        """The same feature in a shape made larger by a factor."""
        x, y, z = (value * factor_ratio for value in self.point_mm)
        diameter_mm, depth_mm = self.diameter_mm * factor_ratio, self.depth_mm * factor_ratio
        return replace(self, point_mm=(x, y, z), diameter_mm=diameter_mm, depth_mm=depth_mm)


Role = Literal["show", "mating", "hidden"]


@dataclass(frozen=True)
class Face:
    """A face with what it is for, and how true it must be."""

    name: str
    role: Role
    tolerance_mm: float


@dataclass(frozen=True)
class Sides:
    """What the faces of a body are called: those that face up, sideways and down in the piece frame."""

    up: Face
    side: Face
    down: Face
