"""What a disc leaves of an area: whether it gets into a hole, and the area closed by it.

Question  where does no disc of a radius come in between an area's borders
Units     mm
Method    closing: grown by the radius and shrunk again. Each opening of an area is closed by itself, so round holes
          are told apart first: one that the disc fits stays as it is, one that it does not fit is filled. Grown or
          shrunk to next to nothing, a round ring of many chords takes the library some hundred times as long
Source    mathematical morphology (Serra, Image Analysis and Mathematical Morphology; from memory)
Valid     holes round to ``ROUND_MM`` count as round
Refuses   nothing
"""

from __future__ import annotations

import numpy as np
import shapely

from .rings import Area

ROUND_MM = 0.002


def fits(hole: shapely.Polygon, radius_mm: float) -> bool:
    """Whether a disc gets into a ring."""
    if hole.area < np.pi * radius_mm**2:
        return False
    if shapely.distance(hole.centroid, hole.exterior) > radius_mm and shapely.contains(hole, hole.centroid):
        return True
    return _round_mm(hole) is None and not shapely.buffer(hole, -radius_mm).is_empty


def closed(area: Area, radius_mm: float, quad_segs: int) -> Area:
    """An area without what is too narrow in it for a disc."""
    kept: list[shapely.Polygon] = []
    filled = []
    for part in shapely.get_parts(area):
        others = []
        for ring in part.interiors:
            hole = shapely.Polygon(ring)
            least_mm = _round_mm(hole)
            if least_mm is None:
                others.append(ring)
            elif least_mm >= radius_mm:
                kept.append(hole)
        filled.append(shapely.Polygon(part.exterior, others))
    grown = shapely.buffer(shapely.MultiPolygon(filled), radius_mm, quad_segs=quad_segs)
    whole: Area = shapely.buffer(grown, -radius_mm, quad_segs=quad_segs)
    return shapely.difference(whole, shapely.MultiPolygon(kept)) if kept else whole


def _round_mm(hole: shapely.Polygon) -> float | None:
    """The radius of the circle within a round ring; None where it is not round."""
    middle = hole.centroid
    corners = shapely.get_coordinates(hole.exterior)
    away = np.hypot(corners[:, 0] - middle.x, corners[:, 1] - middle.y)
    if np.ptp(away) > ROUND_MM:
        return None
    least = float(shapely.distance(middle, hole.exterior))
    return least if float(away.max()) - least <= ROUND_MM else None
