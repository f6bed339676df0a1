"""Drilling by pecks: in by a little, out to clear the chips, in again. All in plain moves."""

from __future__ import annotations

import math

import numpy as np

from .join import Joiner
from .request import Hole
from .strokes import ENTRY, RAPID
from .work import Work

PECK_RATIO = 1.0  # depth of a peck to the drill's diameter (common practice, no source)
BACK_MM = 0.3  # a rapid move back in ends this much above where the last peck ended
CLEAR_MM = 1.0  # chips are cleared this much above the mouth
SAME_MM = 0.1  # a drill serves holes whose diameter differs by no more


def cut_holes(work: Work) -> list[str]:
    """Drill every hole of this drill's size in the region; what could not be drilled is told."""
    request = work.request
    x0, y0, x1, y1 = request.region_mm
    wx0, wy0, wx1, wy1 = request.window_mm
    notes = []
    mine = [h for h in request.holes if abs(h.diameter_mm - work.cutter.diameter_mm) <= SAME_MM]
    for hole in (h for h in mine if x0 <= h.x_mm <= x1 and y0 <= h.y_mm <= y1):
        bottom = np.array([[hole.x_mm, hole.y_mm, hole.bottom_z_mm]])
        depth_mm = hole.mouth_z_mm - hole.bottom_z_mm
        where = f"hole at x {hole.x_mm:.1f} y {hole.y_mm:.1f}"
        if work.wood.standing_mm(bottom)[0] <= hole.bottom_z_mm + work.cutter.diameter_mm / 2:
            continue  # on a seam: the placement before drilled it
        if not (wx0 <= hole.x_mm <= wx1 and wy0 <= hole.y_mm <= wy1) or hole.bottom_z_mm < request.lowest_tip_mm:
            notes.append(f"{work.cutter.name}: {where} is out of the cutter's reach and was left out")
        elif depth_mm > work.task.assembly.cutting_length_mm or not bool(work.room.clear(bottom)[0]):
            notes.append(f"{work.cutter.name}: {where} leaves no room above the flutes and was left out")
        else:
            _peck(hole, work.cutter.diameter_mm * PECK_RATIO, work.joiner)
    return notes


def _peck(hole: Hole, peck_mm: float, joiner: Joiner) -> None:
    depth_mm = hole.mouth_z_mm - hole.bottom_z_mm
    count = max(1, math.ceil(depth_mm / peck_mm - 1e-9))
    clear_mm = hole.mouth_z_mm + CLEAR_MM
    heights, modes = [clear_mm], []
    for k in range(1, count + 1):
        reached_mm = hole.mouth_z_mm - depth_mm * (k - 1) / count
        if k > 1:
            heights.append(reached_mm + BACK_MM)
            modes.append(RAPID)
        heights += [hole.mouth_z_mm - depth_mm * k / count, clear_mm]
        modes += [ENTRY, RAPID]
    joiner.peck(np.array([[hole.x_mm, hole.y_mm, z] for z in heights]), modes)
