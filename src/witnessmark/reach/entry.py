"""Entry: can the cutter get down into what it is to cut, level by level.

A level's region can be entered if the cutter cuts at its centre, if the region is open somewhere (the tip comes down
beside the wood or in a place already lower and goes in sideways), or if the region is long enough for a ramp or
helix. What cannot be entered stays at the level above.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.field.dilate import tip_over_surface
from witnessmark.field.grid import Heights
from witnessmark.field.parts import extents, regions

from .scene import SAME_MM, Mask, Scene, Spindle

LEAST_FLAT_CELLS = 9  # a height shared by fewer cells than three by three is no floor of its own


@dataclass(frozen=True, eq=False)
class Entered:
    """tips (ny, nx): as asked, raised to the lowest level that can be entered; ``shut``: the tips so raised."""

    tips: Heights
    shut: Mask


def enterable(scene: Scene, spindle: Spindle, tips: Heights, least_ramp_mm: float | None = None) -> Entered:
    """Raise tips (ny, nx, +inf: none) whose region, at their level, has no way in.

    Levels run down from the top of the wood by the spindle's ``level_mm``; each tip is cut at the first level at or
    below it as well as at its own height. ``least_ramp_mm``: the length of a region that takes a ramp; the cutter's
    diameter if not given (a straight ramp that long leaves no pillar under a cutter that does not cut at its
    centre: common practice, no source).
    """
    asked = np.isfinite(tips)
    if spindle.centre_cutting or not asked.any():
        return Entered(tips, np.zeros(tips.shape, dtype=bool))
    ramp_mm = 2 * spindle.radius_mm if least_ramp_mm is None else least_ramp_mm
    resting = tip_over_surface(scene.top, scene.grid, spindle.profile, 0.0)
    raised = tips.copy()
    above_mm = float(scene.top.max())
    for level_mm in _levels(tips, above_mm, spindle):
        in_air = resting <= np.maximum(tips, level_mm)
        for region in (tips <= level_mm, tips < above_mm):
            no_way = _without_a_way_in(region, in_air, ramp_mm / scene.grid.pitch_mm)
            raised[no_way] = np.maximum(raised[no_way], np.minimum(above_mm, resting[no_way]))
        above_mm = level_mm
    return Entered(raised, asked & (raised > tips + SAME_MM))


def _levels(tips: Heights, top_mm: float, spindle: Spindle) -> list[float]:
    """Cutting levels from the top down: regular ones, and one at every flat height."""
    step_mm = max(spindle.level_mm, 0.01)
    lowest_mm = float(tips.min())
    regular = np.arange(top_mm - step_mm, lowest_mm, -step_mm)
    middle = tips[1:-1, 1:-1]
    flat = np.isfinite(middle)
    for neighbour in (tips[:-2, 1:-1], tips[2:, 1:-1], tips[1:-1, :-2], tips[1:-1, 2:]):
        flat &= neighbour == middle
    heights, cells = np.unique(np.round(middle[flat], 3), return_counts=True)
    heights = heights[(cells >= LEAST_FLAT_CELLS) & (heights < top_mm)]
    return sorted({*regular.tolist(), *heights.tolist(), lowest_mm}, reverse=True)


def _without_a_way_in(region: Mask, in_air: Mask, ramp_cells: float) -> Mask:
    """Cells of the connected regions that are nowhere in air and too short for a ramp."""
    labels, count = regions(region, corners=True)
    if count == 0:
        return np.zeros(region.shape, dtype=bool)
    side, open_somewhere = extents(labels, count, in_air)
    shut = ~open_somewhere & (side < ramp_cells)
    shut[0] = False
    return np.asarray(shut[labels])
