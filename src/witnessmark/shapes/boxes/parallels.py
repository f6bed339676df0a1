"""Parallels of an area, and corners eased so that a round cutter makes them. mm.

Opening an area (shrunk by r, then grown again) rounds its corners that point outward; closing it (grown, then shrunk)
fills its corners and slots that point inward. A pocket that is open by r is what a cutter of radius r mills whole.
Source  Minkowski erosion and dilation by a disc; Serra, Image Analysis and Mathematical Morphology (1982), textbook
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from ..rings import Area, only_area

SAG_MM = 0.0015  # an arc's chords stray no farther from it
KEPT_MM = 0.0005  # points that stray less from their neighbours' chord are left out
TELLING_MM = 0.05  # less wood more or less than this at a corner is not worth a word
CRUMB_MM2 = 0.5
ROUNDS = 4


@dataclass(frozen=True)
class Place:
    """Somewhere on an outline, and by how much; mm, piece frame."""

    x_mm: float
    y_mm: float
    by_mm: float

    def __str__(self) -> str:
        return f"x {self.x_mm:.1f} y {self.y_mm:.1f} (by {self.by_mm:.2f} mm)"


def inset(area: Area, by_mm: float) -> Area:
    """The parallel ``by_mm`` inside (negative: outside); it may be empty, or fall into parts."""
    if by_mm == 0.0:
        return area
    moved = shapely.buffer(area, -by_mm, quad_segs=_quad_segs(abs(by_mm)))
    return only_area(shapely.simplify(moved, KEPT_MM))


def _quad_segs(radius_mm: float) -> int:
    """Chords in a quarter of a circle."""
    half_rad = math.acos(max(0.0, 1.0 - SAG_MM / max(radius_mm, SAG_MM)))
    return max(2, math.ceil(math.pi / 4 / half_rad))


def opened(area: Area, radius_mm: float) -> Area:
    """Without what a disc of this radius does not reach inside it."""
    return only_area(shapely.intersection(area, inset(inset(area, radius_mm), -radius_mm)))


def closed(area: Area, radius_mm: float) -> Area:
    """With what a disc of this radius does not reach from outside."""
    return only_area(shapely.union(area, inset(inset(area, -radius_mm), radius_mm)))


def eased(area: Area, radius_mm: float) -> Area:
    """Opened and closed in turn until neither changes anything that counts: both mates can be milled along it."""
    for _ in range(ROUNDS):
        area = opened(closed(area, radius_mm), radius_mm)
        if closed(area, radius_mm).area - area.area < CRUMB_MM2 * TELLING_MM:
            break
    return area


def corners_eased(before: Area, after: Area) -> list[Place]:
    """Where the boundary was moved, and the farthest it was moved there; the farthest first."""
    parts = shapely.get_parts(shapely.symmetric_difference(before, after))
    parts = parts[(shapely.area(parts) >= 1e-6) & (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON)]
    chords = _chords(after)
    if not len(parts) or not len(chords):
        return []
    corners, of = shapely.get_coordinates(shapely.get_exterior_ring(parts), return_index=True)
    (at, _), near_mm = shapely.STRtree(chords).query_nearest(
        shapely.points(corners), return_distance=True, all_matches=False
    )
    off_mm = np.zeros(len(corners))
    off_mm[at] = near_mm
    farthest = np.lexsort((-off_mm, of))[np.unique(of, return_index=True)[1]]
    told = [(*corners[k].tolist(), float(off_mm[k])) for k in farthest if off_mm[k] > TELLING_MM]
    found = [Place(x_mm, y_mm, by_mm) for x_mm, y_mm, by_mm in told]
    return sorted(found, key=lambda place: -place.by_mm)


def _chords(area: Area) -> np.ndarray:
    """Every straight piece of its boundary."""
    places, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(area)), return_index=True)
    same = ring[1:] == ring[:-1]
    return np.asarray(shapely.linestrings(np.stack([places[:-1][same], places[1:][same]], axis=1)))


def thickest(most_mm: float, holds: Callable[[float], bool], within_mm: float = 0.05) -> float:
    """The greatest size up to ``most_mm`` that ``holds``, rounded down; 0 where none does."""
    if holds(most_mm):
        return most_mm
    low, high = 0.0, most_mm
    while high - low > within_mm:
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return math.floor(low / within_mm) * within_mm


def widest_circle(area: Area) -> tuple[float, float, float]:
    """The middle and the radius of the largest circle in an area: where it is thickest."""
    line = shapely.maximum_inscribed_circle(area, 0.1)
    (x, y), _ = line.coords
    return float(x), float(y), float(line.length)
