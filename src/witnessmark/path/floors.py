"""Floors: exact finishing of level faces.

Method    The axis may be where the no-go area at the floor's height is not. Over the floor itself that covers all of
          it but strips that only an axis beyond the floor's edge reaches: those are found (what the cutter can reach
          of the floor less what it has covered) and the ground beside them is added.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely

from witnessmark.job.models import Cutter
from witnessmark.shapes.rings import Area

from .areas import EMPTY, area_in, box, cells_area
from .levels import scallop_spacing_mm
from .nogo import NoGo, round_edge_mm
from .request import CutRequest
from .rings import fill
from .work import Work

LEAST_MISSED_MM2 = 0.05
SHY_MM = 0.01  # floors end this much before the walls, which have cut all the way down: no shank rubs along them
CHORD_MM = 0.01  # what the chords of an arc may hide of a strip


@dataclass
class Covered:
    """What has been finished of each floor, by height, so that the next cutter does only what is left."""

    by_z_mm: dict[float, Area] = field(default_factory=dict)

    def of(self, z_mm: float) -> Area:
        return self.by_z_mm.get(round(z_mm, 4), EMPTY)

    def add(self, z_mm: float, area: Area) -> None:
        self.by_z_mm[round(z_mm, 4)] = area_in(shapely.union(self.of(z_mm), area))


def flat_radius_mm(cutter: Cutter, scallop_mm: float) -> float:
    """Half width of the flat that one pass leaves: the cutter's own, or a round edge's at the scallop."""
    edge_mm = round_edge_mm(cutter)
    flat_mm = cutter.diameter_mm / 2 - edge_mm
    return flat_mm + (scallop_spacing_mm(edge_mm, scallop_mm) / 2 if edge_mm > 0.0 else 0.0)


def cut_floors(work: Work, covered: Covered) -> None:
    """Finish every floor in the region, highest first, where this cutter reaches something not yet finished."""
    request = work.request
    radius_mm = flat_radius_mm(work.cutter, work.settings.scallop_mm)
    for z_mm, face in reversed(work.nogo.floors):
        if z_mm < request.lowest_tip_mm - 1e-6:
            continue
        wanted = floor_ground(request, work.cutter, work.nogo, z_mm, face, covered.of(z_mm))
        ground = _allowed(work, wanted, z_mm)
        if ground.is_empty:
            continue
        reach = shapely.buffer(ground, 0.005)
        shapely.prepare(reach)
        for track in fill(ground, z_mm, work.cutter.stepover_mm, radius_mm, work.joiner.xy_mm):
            work.joiner.follow(track, reach)
        covered.add(z_mm, shapely.buffer(ground, radius_mm, quad_segs=16))


def floor_ground(
    request: CutRequest, cutter: Cutter, nogo: NoGo, z_mm: float, face: Area, done: Area = EMPTY
) -> Area:
    """Where the axis must go, and may, to finish a level face (less what is done)."""
    radius_mm = flat_radius_mm(cutter, request.settings.scallop_mm)
    region = shapely.intersection(
        box(request.region_mm, request.settings.seam_overlap_mm), box(request.window_mm, -1e-6)
    )
    free = shapely.difference(region, nogo.area(cutter, z_mm, SHY_MM))
    within = shapely.intersection(face, box(request.region_mm))
    wanted = area_in(shapely.difference(within, shapely.buffer(done, CHORD_MM)), LEAST_MISSED_MM2)
    if wanted.is_empty:
        return EMPTY
    ground = shapely.intersection(free, wanted if not done.is_empty else shapely.intersection(face, region))
    near = shapely.intersection(free, shapely.buffer(wanted, radius_mm))
    reached = shapely.intersection(wanted, shapely.buffer(near, radius_mm))
    missed = shapely.difference(reached, shapely.buffer(ground, radius_mm - CHORD_MM, quad_segs=16))
    missed = area_in(shapely.buffer(missed, -CHORD_MM), LEAST_MISSED_MM2)
    if not missed.is_empty:
        beside = shapely.intersection(free, shapely.buffer(missed, radius_mm))
        ground = shapely.union(ground, beside)
    return area_in(ground, 1e-4)


def _allowed(work: Work, ground: Area, z_mm: float) -> Area:
    """The ground less a pitch round every cell where the assembly has no room."""
    if ground.is_empty:
        return ground
    x0, y0, x1, y1 = ground.bounds
    grid = work.request.grid
    i = np.flatnonzero((grid.x_mm > x0 - grid.pitch_mm) & (grid.x_mm < x1 + grid.pitch_mm))
    j = np.flatnonzero((grid.y_mm > y0 - grid.pitch_mm) & (grid.y_mm < y1 + grid.pitch_mm))
    rows, columns = (index.ravel() for index in np.meshgrid(j, i, indexing="ij"))
    tips = np.column_stack([grid.x_mm[columns], grid.y_mm[rows], np.full(rows.size, z_mm)])
    closed = ~work.room.allowed(tips)
    rows, columns, tips = rows[closed], columns[closed], tips[closed]
    near = shapely.buffer(ground, grid.pitch_mm, quad_segs=4)
    shapely.prepare(near)
    over = shapely.contains_xy(near, tips[:, 0], tips[:, 1])
    if not over.any():
        return ground
    mask = np.zeros(grid.shape, dtype=bool)
    mask[rows[over], columns[over]] = True
    blocked = cells_area(mask, grid)
    work.missed("floors").add(tips[over], grid.pitch_mm**2 / work.cutter.stepover_mm)
    return area_in(shapely.difference(ground, blocked), 1e-4)
