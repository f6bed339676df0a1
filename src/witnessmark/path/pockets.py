"""Pockets cut exactly to an outline, level by level: touch lands in the waste, among others."""

from __future__ import annotations

import shapely

from .areas import area_in
from .levels import stepped
from .request import Pocket
from .rings import fill
from .work import Work

MITRE_LIMIT = 5.0  # corners of the outline keep the radius of the cutter; the axis turns sharply


def cut_pockets(work: Work) -> list[str]:
    """Cut every pocket of the request from the wood's top down; what is too narrow is said."""
    notes = []
    for pocket in work.request.pockets:
        if not _cut(work, pocket):
            notes.append(f"{work.cutter.name}: pocket {pocket.name} is too narrow for this cutter")
    return notes


def _cut(work: Work, pocket: Pocket) -> bool:
    outline = shapely.Polygon(pocket.outline_mm)
    area = area_in(shapely.buffer(outline, -work.radius_mm, join_style="mitre", mitre_limit=MITRE_LIMIT), 1e-3)
    if area.is_empty:
        return False
    ground = shapely.buffer(area, 0.01)
    shapely.prepare(ground)
    step_mm = min(work.cutter.stepdown_mm, work.task.assembly.cutting_length_mm)
    bottom_mm = max(pocket.bottom_z_mm, work.request.lowest_tip_mm)
    for z_mm in stepped(pocket.top_z_mm, [bottom_mm], step_mm):
        for track in fill(area, z_mm, work.cutter.stepover_mm, work.radius_mm, work.joiner.xy_mm):
            work.joiner.follow(track, ground)
    return True
