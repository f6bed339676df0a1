"""What a mesh alone does not show: the names of faces, and the axes of holes. mm."""

from __future__ import annotations

from dataclasses import dataclass
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


@dataclass(frozen=True)
class Face:
    """A face with what it is for ("show", "hidden", "joint"), and how true it must be."""

    name: str
    role: str
    tolerance_mm: float
