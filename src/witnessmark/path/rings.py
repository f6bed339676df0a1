"""Filling an area with rings: its outline, and outlines drawn in by a stepover until nothing is left.

No islands: with the stepover at most the cutter's radius, every place of an area is nearer than the radius to a ring,
since a place that the next ring does not enclose lies within one stepover of this one (an erosion by a then b is one
by a + b). A ring is left out only where all that it encloses is within the radius of the ring outside it.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from witnessmark.shapes.rings import Area

from .areas import outline, polygons_in
from .track import Floats, Track, track_of

WIDEST_STEPOVER_RATIO = 0.95  # of the radius
ROUGH_MM = 0.02  # how far an inner ring may be thinned; only the outline must be true


def fill(area: Area, z_mm: float, stepover_mm: float, radius_mm: float, xy_mm: Floats | None) -> Iterator[Track]:
    """Closed tracks that cover an area at one height, from the inside out, the next polygon always the nearest.

    The area lies on the left of every ring, what bounds it on the right.
    """
    step_mm = min(stepover_mm, WIDEST_STEPOVER_RATIO * radius_mm)
    spare_mm = radius_mm - step_mm
    left = polygons_in(area)
    while left:
        k = _nearest(left, xy_mm)
        for track in _inside_out(left.pop(k), z_mm, step_mm, spare_mm, xy_mm):
            yield track
            xy_mm = track.points_mm[0, :2]


def _nearest(polygons: list[shapely.Polygon], xy_mm: Floats | None) -> int:
    if xy_mm is None or len(polygons) == 1:
        return 0
    return int(shapely.distance(polygons, shapely.Point(xy_mm)).argmin())


def _inside_out(
    polygon: shapely.Polygon, z_mm: float, step_mm: float, spare_mm: float, xy_mm: Floats | None
) -> Iterator[Track]:
    """The rings within a polygon first, then its own."""
    inner = shapely.simplify(shapely.buffer(polygon, -step_mm, quad_segs=8), ROUGH_MM)
    children = [p for p in polygons_in(inner) if not shapely.buffer(p, -0.8 * spare_mm, quad_segs=4).is_empty]
    while children:
        child = children.pop(_nearest(children, xy_mm))
        for track in _inside_out(child, z_mm, step_mm, spare_mm, xy_mm):
            yield track
            xy_mm = track.points_mm[0, :2]
    rings = [track_of(ring, z_mm) for ring in shapely.get_parts(outline(polygon, solid_on_right=False))]
    while rings:
        gaps = [0.0 if xy_mm is None else ring.gap_mm(xy_mm) for ring in rings]
        ring = rings.pop(gaps.index(min(gaps)))
        yield ring
        xy_mm = (ring if xy_mm is None else ring.started_near(xy_mm)).points_mm[0, :2]
