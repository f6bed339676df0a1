"""Upright straight holes that are narrower than a cutter: nothing that turns gets into them.

Question  which holes of a solid, closed all round in plan, does no disc of a given diameter fit
Frame     the solid's own
Units     mm
Method    sections at regular heights; a hole is one that keeps its outline over two of them or more (what widens
          upward is a bowl, whose bottom a round cutter still finds)
Source    plane geometry
Valid     for holes deeper than two sections are apart; a slot that is open at a side is a corner, not a hole
Refuses   nothing: the solid is closed (Solid saw to it)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely

from .closing import fits
from .solid import Solid

LEVEL_MM = 1.0
SAME_RATIO = 0.01  # how far the area of a straight hole may differ from one section to the next
SAME_MM = 0.1  # and its middle


@dataclass(frozen=True, eq=False)
class NarrowHole:
    """Middle, the widest disc that fits, lower and upper end (to a section's distance), and the outline in plan."""

    x_mm: float
    y_mm: float
    width_mm: float
    low_mm: float
    high_mm: float
    outline: shapely.Polygon


def narrow_holes(solid: Solid, narrower_than_mm: float) -> list[NarrowHole]:
    """The straight upright holes that a disc of this diameter does not fit, from the lowest."""
    low_mm, high_mm = (float(corner[2]) for corner in solid.bounds_mm)
    count = max(2, math.ceil((high_mm - low_mm) / LEVEL_MM))
    step_mm = (high_mm - low_mm) / count
    running: list[tuple[float, shapely.Polygon]] = []  # from which height on each hole has had its outline
    found: list[NarrowHole] = []
    for k in range(count + 1):
        z_mm = low_mm + k * step_mm
        rings = _narrow_rings(solid.section(z_mm + step_mm / 2), narrower_than_mm) if k < count else []
        still = []
        for from_mm, outline in running:
            match = next((n for n, ring in enumerate(rings) if _same(ring, outline)), None)
            if match is not None:
                still.append((from_mm, rings.pop(match)))
            elif z_mm - from_mm > 1.5 * step_mm:
                found.append(_hole(outline, from_mm, z_mm))
        running = still + [(z_mm, ring) for ring in rings]
    return found


def _narrow_rings(section: shapely.Geometry, narrower_than_mm: float) -> list[shapely.Polygon]:
    rings = [shapely.Polygon(ring) for part in shapely.get_parts(section) for ring in part.interiors]
    return [ring for ring in rings if not fits(ring, narrower_than_mm / 2)]


def _same(one: shapely.Polygon, other: shapely.Polygon) -> bool:
    return bool(
        abs(one.area - other.area) <= SAME_RATIO * other.area and one.centroid.distance(other.centroid) < SAME_MM
    )


def _hole(outline: shapely.Polygon, low_mm: float, high_mm: float) -> NarrowHole:
    radius_mm = shapely.maximum_inscribed_circle(outline, 0.01).length
    middle = outline.centroid
    x_mm, y_mm = round(float(middle.x), 4) + 0.0, round(float(middle.y), 4) + 0.0
    return NarrowHole(x_mm, y_mm, 2 * float(radius_mm), low_mm, high_mm, outline)
