"""Closed rings to polygons with holes: the border between manifold3d's cross-sections and shapely."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

Area: TypeAlias = "Polygon | MultiPolygon"
Ring = NDArray[np.float64]

LEAST_AREA_MM2 = 1e-9  # slivers below this are rounding, not wood


def area_of_section(section: manifold3d.CrossSection) -> Area:
    """The area of a manifold3d cross-section, whose outer rings run counter-clockwise and holes clockwise. mm."""
    return area_of_rings(section.to_polygons())


def area_of_rings(rings: Sequence[Ring]) -> Area:
    """Rings (n, 2) mm that do not cross, outer counter-clockwise, holes clockwise, to a valid area."""
    kept = [ring for ring in rings if len(ring) >= 3]
    if not kept:
        return MultiPolygon()
    signed = [signed_area_mm2(ring) for ring in kept]
    outers = [Polygon(ring) for ring, area in zip(kept, signed) if area > LEAST_AREA_MM2]
    holes = [ring for ring, area in zip(kept, signed) if area < -LEAST_AREA_MM2]
    if not holes:
        return tidy(outers)
    return tidy([Polygon(outer.exterior, inner) for outer, inner in zip(outers, _holes_by_outer(outers, holes))])


def signed_area_mm2(ring: Ring) -> float:
    """Area within a ring (n, 2), positive if it runs counter-clockwise (the shoelace formula)."""
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def tidy(polygons: Sequence[Polygon]) -> Area:
    """One valid area of polygons that do not overlap; rings that touch at a point are mended."""
    area: Area = polygons[0] if len(polygons) == 1 else MultiPolygon(list(polygons))
    if area.is_valid:
        return area
    return only_area(shapely.make_valid(area))


def only_area(geometry: shapely.Geometry) -> Area:
    """What of a geometry has area."""
    parts = [part for part in shapely.get_parts(geometry) if part.area > LEAST_AREA_MM2]
    polygons = [p for part in parts for p in shapely.get_parts(part) if p.geom_type == "Polygon"]
    return polygons[0] if len(polygons) == 1 else MultiPolygon(polygons)


def _holes_by_outer(outers: Sequence[Polygon], holes: Sequence[Ring]) -> list[list[Ring]]:
    """Each hole goes to the smallest outer ring that holds a point of its inside."""
    found: list[list[Ring]] = [[] for _ in outers]
    if len(outers) == 1:
        return [list(holes)]
    inside = [Polygon(hole).representative_point() for hole in holes]
    hole_index, outer_index = shapely.STRtree(outers).query(inside, predicate="within")
    areas = np.array([outer.area for outer in outers])
    for k, hole in enumerate(holes):
        around = outer_index[hole_index == k]
        if len(around):
            found[int(around[np.argmin(areas[around])])].append(hole)
    return found
