"""At which heights, and where, each cutter goes round the walls.

Who cuts what (the first of each kind of cutter):
- a ball takes the walls that lean, at steps that leave the scallop;
- a flat (or bull) cutter takes the plumb walls at its stepdown, the foot of every wall, and, in the lowest reach of
  the ball above a floor or the through height where the ball cannot come, fine steps: a step down d leaves d sin(a)
  along the normal of a wall that leans a off the vertical (plane geometry);
- with no ball the flat cutter takes all walls in fine steps; with no flat cutter the ball takes all;
- a smaller flat cutter goes only into the corners that the bigger one had to leave.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from witnessmark.job.models import Cutter

from .areas import area_in, box
from .levels import ball_heights, stepped
from .nogo import NoGo
from .request import CutRequest
from .slopes import PLUMB_RAD
from .work import Work

PLUMB_LOOK_MM = 1.0  # a wall is plumb where the no-go area this much higher has the same border
PLUMB_SHIFT_MM = PLUMB_LOOK_MM * math.tan(PLUMB_RAD) + 0.005
FOOT_REACH_MM = 0.5  # how far beyond a floor's edge the axis may be and still be at that floor's walls
FINEST_MM = 0.05
TRIM_LEFT_MM = 0.2  # what trimming leaves sideways on walls that the assembly must pass
LEAST_NARROW_MM2 = 0.3  # rounded corners of the ground lose less than this to the look for narrow places
NARROW_MORE_MM = 1.0
CORNER_BAND_MM = 2.0  # corners are looked for once in so much height, and with so much more reach


@dataclass(frozen=True, eq=False)
class WallLevel:
    """A height to go round at, and the ground to which it is limited (None: everywhere)."""

    z_mm: float
    within: shapely.Geometry | None


def flat_levels(work: Work, ball_edge_mm: float | None) -> list[WallLevel]:
    """The first flat cutter's levels; ``ball_edge_mm``: the rounding of a ball that takes the leaning walls."""
    request, nogo = work.request, work.nogo
    bottoms, top_mm = bottoms_of(request, nogo), top_of(nogo)
    levels = [WallLevel(z_mm, None) for z_mm in bottoms]
    step_mm = work.cutter.stepdown_mm
    for z_mm in stepped(top_mm, bottoms, step_mm):
        if z_mm not in bottoms and nogo.slopes.has_plumb(z_mm, z_mm + step_mm):
            levels.append(WallLevel(z_mm, _plumb(work, z_mm)))
    if ball_edge_mm is None:
        fine = fine_heights(request, nogo, top_mm, min(bottoms))
        return levels + [WallLevel(z_mm, None) for z_mm in fine if z_mm not in bottoms]
    levels += [WallLevel(z_mm, None) for z_mm in _trim_heights(work, top_mm, min(bottoms)) if z_mm not in bottoms]
    for z_mm in stepped(top_mm, bottoms, step_mm):
        narrow = _narrow(work, z_mm)
        if narrow is not None and z_mm not in bottoms:
            levels.append(WallLevel(z_mm, narrow))
    for bottom_mm in bottoms:
        foot = _foot(work, bottom_mm)
        fine = fine_heights(request, nogo, bottom_mm + ball_edge_mm, bottom_mm)
        levels += [WallLevel(z_mm, foot) for z_mm in fine if z_mm not in bottoms]
    return levels


def _trim_heights(work: Work, top_mm: float, bottom_mm: float) -> list[float]:
    """Heights at which leaning walls are trimmed close where the nut comes beside them when the tip is at the foot.

    The flat cutter works at the foot before the ball has finished the walls above; what roughing left on those
    would be in the nut's way.
    """
    wider = [step.z_from_mm for step in work.task.assembly.rigid_steps() if step.radius_mm > work.radius_mm + 1e-6]
    heights, z_mm = [], top_mm
    while z_mm > bottom_mm + min(wider, default=math.inf) - work.cutter.stepdown_mm:
        leaning = work.nogo.slopes.drafted(z_mm - TRIM_LEFT_MM, z_mm)
        if len(leaning):
            heights.append(z_mm)
        z_mm -= min(work.cutter.stepdown_mm, TRIM_LEFT_MM / math.tan(float(leaning.max())) if len(leaning) else 0.5)
    return [z_mm for z_mm in heights if z_mm > bottom_mm]


def ball_levels(work: Work, alone: bool) -> list[WallLevel]:
    """The first ball's levels; ``alone`` if no flat cutter takes plumb walls and feet."""
    request, nogo = work.request, work.nogo
    bottoms = bottoms_of(request, nogo)
    scallop_mm = request.settings.scallop_mm
    heights = {*ball_heights(nogo.slopes, work.edge_mm, scallop_mm, top_of(nogo), min(bottoms)), *bottoms}
    kept = [z_mm for z_mm in heights if alone or len(nogo.slopes.drafted(z_mm, z_mm + work.edge_mm))]
    return [WallLevel(z_mm, None) for z_mm in kept]


def corner_levels(work: Work, bigger: Cutter) -> Iterator[WallLevel]:
    """A smaller flat cutter's levels, from the highest down, with the ground round the corners left by the bigger."""
    request, nogo = work.request, work.nogo
    bottoms, top_mm = [*bottoms_of(request, nogo), request.corners_to_mm], top_of(nogo)
    coarse = stepped(top_mm, bottoms, work.cutter.stepdown_mm)
    heights = {round(z_mm, 6) for z_mm in (*coarse, *fine_heights(request, nogo, top_mm, min(bottoms)))}
    inside = shapely.buffer(nogo.silhouette, -work.radius_mm)
    band, corners = None, None
    for z_mm in sorted(heights, reverse=True):
        if band != math.floor(z_mm / CORNER_BAND_MM):
            band = math.floor(z_mm / CORNER_BAND_MM)
            corners = _corners(work, bigger, z_mm)
            if corners is not None and z_mm < request.corners_to_mm - CORNER_BAND_MM:
                corners = shapely.intersection(corners, inside)
            if corners is not None and not _any_room(work, corners, z_mm):
                corners = None
        if corners is not None and not corners.is_empty:
            yield WallLevel(z_mm, corners)


def fine_heights(request: CutRequest, nogo: NoGo, from_mm: float, to_mm: float) -> list[float]:
    """Heights downward at which the steps of a sharp-edged cutter on the leaning walls leave the scallop at most."""
    scallop_mm = request.settings.scallop_mm
    heights, z_mm = [], from_mm
    while z_mm > to_mm + 1e-4:
        leaning = nogo.slopes.drafted(z_mm - scallop_mm, z_mm)
        if len(leaning):
            heights.append(z_mm)
            z_mm -= max(FINEST_MM, scallop_mm / math.sin(float(leaning.max())))
        else:
            z_mm -= scallop_mm
    return [*heights, to_mm]


def bottoms_of(request: CutRequest, nogo: NoGo) -> list[float]:
    """Heights at which walls end: floors and the through height, none below the lowest tip; highest first."""
    found = {round(z_mm, 6) for z_mm in (*nogo.floor_heights_mm, request.through_z_mm)}
    return sorted((z for z in found if z >= request.lowest_tip_mm - 1e-6), reverse=True) or [request.lowest_tip_mm]


def top_of(nogo: NoGo) -> float:
    return float(nogo.slopes.to_z_mm.max(initial=0.0))


def _plumb(work: Work, z_mm: float) -> shapely.Geometry:
    """Ground along the walls that are plumb just above z."""
    higher = work.nogo.area(work.cutter, z_mm + PLUMB_LOOK_MM)
    return shapely.buffer(higher, PLUMB_SHIFT_MM, quad_segs=4)


def _narrow(work: Work, z_mm: float) -> shapely.Geometry | None:
    """Ground round the places at z that the axis may enter but roughing, with its allowances, could not.

    There the wood still stands: it must be cut step by step before the foot of its walls can be.
    """
    grid = work.request.grid
    shy_mm = work.settings.wall_allowance_mm + 2 * grid.reach_mm + grid.pitch_mm
    seen = box(work.request.region_mm, work.settings.seam_overlap_mm + work.cutter.diameter_mm)
    free = shapely.difference(seen, work.nogo.area(work.cutter, z_mm))
    wide = shapely.buffer(shapely.buffer(free, -shy_mm, quad_segs=4), 1.05 * shy_mm, quad_segs=8)
    narrow = area_in(shapely.difference(free, wide), LEAST_NARROW_MM2)
    return None if narrow.is_empty else shapely.buffer(narrow, NARROW_MORE_MM, quad_segs=4)


def _foot(work: Work, bottom_mm: float) -> shapely.Geometry:
    """Ground over the floors at a height, and outside the piece if that is the through height."""
    floors = [area for z_mm, area in work.nogo.floors if abs(z_mm - bottom_mm) < 1e-4]
    foot = shapely.buffer(shapely.union_all(floors), FOOT_REACH_MM, quad_segs=4)
    if abs(bottom_mm - work.request.through_z_mm) > 1e-4:
        return foot
    inside = shapely.buffer(work.nogo.silhouette, -work.radius_mm)
    outside = shapely.difference(box(work.request.window_mm, work.cutter.diameter_mm), inside)
    return shapely.union(foot, outside)


def _any_room(work: Work, ground: shapely.Geometry, z_mm: float) -> bool:
    """Whether the assembly is clear of the wood anywhere over this ground with the tip at z."""
    if ground.is_empty:
        return False
    grid = work.request.grid
    low_x, low_y, high_x, high_y = shapely.bounds(ground)
    columns = np.flatnonzero((grid.x_mm >= low_x - grid.pitch_mm) & (grid.x_mm <= high_x + grid.pitch_mm))
    rows = np.flatnonzero((grid.y_mm >= low_y - grid.pitch_mm) & (grid.y_mm <= high_y + grid.pitch_mm))
    j, i = np.nonzero(work.room.clear_cells(z_mm)[np.ix_(rows, columns)])
    shapely.prepare(ground)
    return bool(shapely.contains_xy(ground, grid.x_mm[columns[i]], grid.y_mm[rows[j]]).any())


def _corners(work: Work, bigger: Cutter, z_mm: float) -> shapely.Geometry | None:
    """Ground round the corners near z that the smaller cutter reaches and the bigger one did not."""
    around = box(work.request.region_mm, work.settings.seam_overlap_mm + bigger.diameter_mm)
    reached = [
        shapely.buffer(shapely.difference(around, work.nogo.area(cutter, z_mm)), cutter.diameter_mm / 2, quad_segs=16)
        for cutter in (work.cutter, bigger)
    ]
    thin_mm = 0.2 * work.settings.leftover_tolerance_mm
    seen = box(
        work.request.region_mm, work.settings.seam_overlap_mm
    )  # the edge of ``around`` makes corners of its own
    rest = area_in(shapely.intersection(shapely.buffer(shapely.difference(*reached), -thin_mm), seen), 1e-3)
    if rest.is_empty:
        return None
    return shapely.buffer(rest, work.radius_mm + 0.5 + CORNER_BAND_MM / 2, quad_segs=4)
