"""Stand-ins for the tests of paths: solids from plane shapes, requests, and an independent look at strokes."""

from __future__ import annotations

import manifold3d
import numpy as np
import shapely

from witnessmark.field.dilate import disc_max, tip_over_surface
from witnessmark.field.drop import top_bounds
from witnessmark.field.grid import Grid
from witnessmark.job.assembly import Assembly, Step, assembly_of
from witnessmark.job.models import Cutter, Machine, Settings
from witnessmark.path.request import CutRequest, CutterTask
from witnessmark.path.strokes import RAPID, Strokes
from witnessmark.path.wood import profile_of
from witnessmark.shapes.solid import Solid

MACHINE = Machine(
    name="test",
    travel_x_mm=300,
    travel_y_mm=400,
    travel_z_mm=90,
    nose_above_bed_mm=155,
    gantry_above_bed_mm=95,
    clear_width_mm=500,
)
FLAT_6 = Cutter(
    name="flat 6",
    kind="flat",
    diameter_mm=6,
    flute_length_mm=32,
    stickout_mm=45,
    shank_diameter_mm=6,
    stepover_mm=2.5,
)
BALL_6 = FLAT_6.model_copy(update={"name": "ball 6", "kind": "ball", "stepdown_mm": 2.0})
FLAT_3 = FLAT_6.model_copy(
    update={"name": "flat 3", "diameter_mm": 3.0, "stepdown_mm": 1.5, "stepover_mm": 1.2, "shank_diameter_mm": 3.0}
)


def prism(polygon, from_mm, to_mm):
    """A manifold3d prism over a shapely polygon (holes and all)."""
    rings = []
    for part in shapely.get_parts(polygon):
        part = shapely.geometry.polygon.orient(part, 1.0)
        rings += [np.array(ring.coords)[:-1] for ring in (part.exterior, *part.interiors)]
    section = manifold3d.CrossSection(rings, manifold3d.FillRule.Positive)
    return manifold3d.Manifold.extrude(section, to_mm - from_mm).translate([0, 0, from_mm])


def tapered(polygon, from_mm, to_mm, draft_deg):
    """A convex polygon's prism whose walls lean inward going up."""
    inset = (to_mm - from_mm) * np.tan(np.radians(draft_deg))
    high = polygon.buffer(-inset, join_style="mitre")
    ring = lambda p, z: [(x, y, z) for x, y in list(p.exterior.coords)[:-1]]  # noqa: E731
    return manifold3d.Manifold.hull_points(ring(polygon, from_mm) + ring(high, to_mm))


def solid_of(*manifolds):
    """The union of manifolds as a Solid."""
    total = manifolds[0]
    for other in manifolds[1:]:
        total = total + other
    return Solid(total)


def task_of(cutter, machine=MACHINE):
    return CutterTask(cutter, assembly_of(cutter, machine))


def slim_task(cutter):
    """A task whose nut never meets anything: as if the stick-out were a metre."""
    long = Assembly(
        cutter,
        (
            Step(cutter.diameter_mm / 2, 0.0, 500.0, "cut"),
            Step(10.0, 1000.0, 1020.0, "nut"),
            Step(30.0, 1020.0, 1100.0, "nose"),
        ),
    )
    return CutterTask(cutter, long)


def request_for(solid, blank, through_mm=0.0, pitch_mm=0.5, region=None, settings=None, **more):
    """A request on a block ``blank`` = (x0, y0, x1, y1, height) that the window overhangs by 20 mm."""
    x0, y0, x1, y1, height = blank
    grid = Grid.over(x0, y0, x1, y1, pitch_mm)
    asked = {
        "solid": solid,
        "grid": grid,
        "top": grid.full(height),
        "region_mm": region or (x0, y0, x1, y1),
        "window_mm": (x0 - 20, y0 - 20, x1 + 20, y1 + 20),
        "through_z_mm": through_mm,
        "lowest_tip_mm": 0.0,
        "safe_z_mm": height + 5.0,
        "settings": settings or Settings(),
    }
    return CutRequest(**(asked | more))


def with_rough_tips(request, task):
    """The lowest tips over the piece and its allowances, everywhere in the region near the piece (a stand-in)."""
    settings, grid = request.settings, request.grid
    _, high = top_bounds(request.solid.triangles, grid)
    piece = high + np.float32(settings.floor_allowance_mm)
    tips = tip_over_surface(piece, grid, profile_of(task.cutter), grid.reach_mm + settings.wall_allowance_mm)
    tips = np.where(np.isfinite(high), tips, np.maximum(tips, np.float32(request.through_z_mm)))
    near = (
        disc_max(np.isfinite(high).astype(np.float32), grid, task.cutter.diameter_mm / 2 + settings.trench_mm) > 0.5
    )
    x0, y0, x1, y1 = request.region_mm
    inside = ((grid.x_mm >= x0) & (grid.x_mm <= x1))[None, :] & ((grid.y_mm >= y0) & (grid.y_mm <= y1))[:, None]
    tips = np.where(near & inside, tips, np.inf).astype(np.float32)
    return CutterTask(task.cutter, task.assembly, tips)


def fed(strokes: Strokes):
    """Start and end (n, 3) of every stroke that is no rapid."""
    cutting = strokes.mode != RAPID
    return strokes.points_mm[:-1][cutting], strokes.points_mm[1:][cutting]


def swept_at(strokes: Strokes, radius_mm, z_mm, arc_parts=32):
    """Ground that a flat cutter sweeps at a height: all it passes with its tip at or below it."""
    start, end = fed(strokes)
    low = np.maximum(start[:, 2], end[:, 2]) <= z_mm + 1e-6
    lines = shapely.linestrings(np.stack([start[low, :2], end[low, :2]], axis=1))
    ground = shapely.buffer(lines, radius_mm, quad_segs=arc_parts)
    return shapely.union_all(
        ground, grid_size=1e-7
    )  # without a grid GEOS 3.14 loses parts where arcs nearly coincide
