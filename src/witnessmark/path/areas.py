"""Small answers about plane areas (shapely) that every kind of cutting asks. Standing frame, mm."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import contourpy
import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.field.grid import Grid
from witnessmark.job.placement import Rectangle
from witnessmark.shapes.rings import Area

EMPTY: Area = shapely.MultiPolygon()
ARC_PARTS = 24  # chords in a quarter circle of an offset
CHORD_SHORT_RATIO = 1.0 - float(np.cos(np.pi / (4 * ARC_PARTS)))  # by how much of the radius a chord falls short


def box(rectangle_mm: Rectangle, grow_mm: float = 0.0) -> Area:
    """A rectangle, grown on all sides."""
    x0, y0, x1, y1 = rectangle_mm
    if x1 - x0 + 2 * grow_mm <= 0 or y1 - y0 + 2 * grow_mm <= 0:
        return EMPTY
    return shapely.box(x0 - grow_mm, y0 - grow_mm, x1 + grow_mm, y1 + grow_mm)


def polygons_in(geometry: shapely.Geometry, least_mm2: float = 1e-6) -> list[shapely.Polygon]:
    """The polygons of a geometry, whatever else an overlay left in it."""
    parts = shapely.get_parts(shapely.get_parts(geometry))
    return [part for part in parts if part.geom_type == "Polygon" and part.area > least_mm2]


def area_in(geometry: shapely.Geometry, least_mm2: float = 1e-6) -> Area:
    """Only the polygons of a geometry."""
    return shapely.MultiPolygon(polygons_in(geometry, least_mm2))


def outline(area: Area, solid_on_right: bool = True) -> shapely.Geometry:
    """The rings of an area, run so that the area lies on the right hand (or on the left)."""
    turned = [shapely.geometry.polygon.orient(p, -1.0 if solid_on_right else 1.0) for p in polygons_in(area)]
    return shapely.MultiLineString(
        [ring.coords for p in turned for ring in (p.exterior, *p.interiors) if len(ring.coords) > 3]
    )


def mask_area(mask: NDArray[np.bool_], grid: Grid, smooth: bool = True) -> Area:
    """The area of a mask of cell centres, its steps smoothed.

    Its border stays within a fifth of a pitch outside the centres that are in the mask, plus the smoothing of
    0.15 pitch; corners that stand out are cut off by up to 0.4 pitch. A band one cell wide keeps a width.
    """
    if not mask.any():
        return EMPTY
    field = np.pad(mask.astype(np.float32), 1)
    x = grid.x0_mm + (np.arange(grid.nx + 2) - 0.5) * grid.pitch_mm
    y = grid.y0_mm + (np.arange(grid.ny + 2) - 0.5) * grid.pitch_mm
    drawer = contourpy.contour_generator(x, y, field, fill_type=contourpy.FillType.OuterOffset)
    corners: Any = drawer.filled(0.5, 2.0)
    rings = [[points[a:b] for a, b in pairwise(ends)] for points, ends in zip(corners[0], corners[1])]
    area = shapely.make_valid(shapely.MultiPolygon([(outer, holes) for outer, *holes in rings]))
    if smooth:
        area = shapely.simplify(area, 0.15 * grid.pitch_mm)
    return area_in(shapely.buffer(area, -0.3 * grid.pitch_mm, quad_segs=4))


def cells_area(mask: NDArray[np.bool_], grid: Grid) -> Area:
    """All that lies within a pitch of the centres of a mask: for wood that must be kept away from."""
    rows, columns = np.nonzero(mask)
    if not len(rows):
        return EMPTY
    centres = shapely.points(grid.x_mm[columns], grid.y_mm[rows])
    return area_in(shapely.union_all(shapely.buffer(centres, grid.pitch_mm, quad_segs=2)))
