"""Roughing by levels: everything that is wanted and allowed, from the top of the wood down.

Method    At the level z the axis may be over M(z) = {c : rough_tips(c) <= z}, and is where wood stands higher than z
          within the radius. M is nested downward, so by the time a level is cut everything that its tips rely on has
          been cleared above, since a step down is no more than the assembly's least height above the tip.
          After each level, tips that lie between it and the level above are cut on terraces, from the lowest up:
          clearance wood is cut at most ``TERRACE_MM`` below its wanted height, everything near the piece to within
          ``STEP_LEFT_MM`` (the finishing cuts take the rest). Where such steps are still in the way of nut or nose
          lower down, that place is left to the finishing cuts, which trim the wall above first.
Valid     The piece's own no-go area (with half the wall allowance) is taken off every level exactly; against the rest
          of the wood the border errs by at most 0.35 pitch outward (areas.mask_area).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.field.dilate import disc_max
from witnessmark.field.grid import Heights
from witnessmark.shapes.rings import Area

from .areas import area_in, box, mask_area
from .levels import clusters_of, stepped
from .rings import fill
from .work import Work

Flags = NDArray[np.bool_]

TERRACE_MM = 0.3
STEP_LEFT_MM = 1.0
NEAR_PIECE_MM = 1.5  # steps this near to the piece are the finishing cuts' business, if narrow
NARROW_CELLS = 2
STANDING_MM = 0.01  # wood less than this above a level is air


@dataclass(frozen=True, eq=False)
class _Field:
    tips: Heights
    wood: Heights  # highest wood within the cutter's radius


def rough(work: Work) -> None:
    """Cut everything that ``task.rough_tips`` asks for; what could not be entered the joiner counts."""
    if work.task.rough_tips is None:
        return
    grid = work.request.grid
    wood = disc_max(work.wood.top, grid, work.radius_mm + grid.reach_mm)
    tips = np.maximum(work.task.rough_tips, np.float32(work.request.lowest_tip_mm))
    field = _Field(tips, wood)
    wanted = np.isfinite(tips) & (wood > tips + STANDING_MM)
    if not wanted.any():
        return
    levels = rough_levels(work, float(wood[wanted].max()), tips[wanted])
    before_mm = float("inf")
    for z_mm in levels:
        cells = (tips <= z_mm + 1e-4) & (wood > z_mm + STANDING_MM) & work.room.clear_cells(z_mm)
        _cut_level(work, cells, z_mm)
        for terrace_mm, some in _terraces(work, field, z_mm, before_mm):
            _cut_level(work, some, terrace_mm)
        before_mm = z_mm


def rough_levels(work: Work, top_mm: float, tips: Heights) -> list[float]:
    """Levels from the wood's top down: flats plus their allowance, the through height, the lowest tip wanted."""
    lowest_mm = max(float(tips.min()), work.request.lowest_tip_mm)
    allowance_mm = work.settings.floor_allowance_mm
    flats = [z_mm + allowance_mm for z_mm in work.nogo.floor_heights_mm]
    targets = [t for t in (*flats, work.request.through_z_mm, lowest_mm) if lowest_mm - 1e-6 <= t < top_mm]
    step_mm = min(work.cutter.stepdown_mm, work.task.assembly.cutting_length_mm)
    return stepped(top_mm, targets, step_mm)


def _cut_level(work: Work, cells: Flags, z_mm: float) -> None:
    area = _ground(work, cells, z_mm)
    if area.is_empty:
        return
    ground = shapely.buffer(area, 0.01)
    shapely.prepare(ground)
    for track in fill(area, z_mm, work.cutter.stepover_mm, work.radius_mm, work.joiner.xy_mm):
        work.joiner.follow(track, ground)


def _ground(work: Work, cells: Flags, z_mm: float) -> Area:
    """Where the axis may go at a level: the cells' area within the window, less the piece's no-go area."""
    area = mask_area(cells, work.request.grid)
    if area.is_empty:
        return area
    inside = shapely.intersection(area, box(work.request.window_mm, -1e-6))
    kept_off = work.nogo.area(work.cutter, z_mm, work.settings.wall_allowance_mm / 2)
    return area_in(shapely.difference(inside, kept_off), 1e-3)


def _terraces(work: Work, field: _Field, z_mm: float, before_mm: float) -> Iterator[tuple[float, Flags]]:
    """Heights between this level and the one above with tips of their own, from the lowest up, and their cells."""
    band = (field.tips > z_mm + 1e-4) & (field.tips < before_mm - 1e-4) & (field.wood > field.tips + STANDING_MM)
    if not band.any():
        return
    near = _near_piece(work, band, z_mm)
    for some, within_mm, deep in ((band & ~near, TERRACE_MM, True), (_wide(band & near), STEP_LEFT_MM, False)):
        below_mm = z_mm
        for top_mm in clusters_of(field.tips[some], within_mm):
            cells = some & (field.tips <= top_mm + 1e-3) & (field.tips > below_mm + 1e-3)
            terrace_mm = float(field.tips[cells].min()) if deep and cells.any() else top_mm
            yield terrace_mm, cells & work.room.clear_cells(terrace_mm)
            below_mm = top_mm


def _near_piece(work: Work, band: Flags, z_mm: float) -> Flags:
    """Which cells of a band have the axis within a little of the piece's no-go area at z."""
    margin_mm = NEAR_PIECE_MM + work.settings.wall_allowance_mm + work.request.grid.reach_mm
    zone = shapely.buffer(work.nogo.area(work.cutter, z_mm), margin_mm, quad_segs=4)
    shapely.prepare(zone)
    rows, columns = np.nonzero(band)
    near = np.zeros_like(band)
    near[rows, columns] = shapely.contains_xy(zone, work.request.grid.x_mm[columns], work.request.grid.y_mm[rows])
    return near


def _wide(mask: Flags) -> Flags:
    """The cells of a mask that belong to a square block of more than ``NARROW_CELLS`` cells across in it."""
    size = NARROW_CELLS + 1
    padded = np.pad(mask, size)
    ny, nx = padded.shape
    full = np.ones((ny - size + 1, nx - size + 1), dtype=bool)
    for j in range(size):
        for i in range(size):
            full &= padded[j : ny - size + 1 + j, i : nx - size + 1 + i]
    opened = np.zeros_like(padded)
    for j in range(size):
        for i in range(size):
            opened[j : ny - size + 1 + j, i : nx - size + 1 + i] |= full
    return np.asarray(opened[size:-size, size:-size])
