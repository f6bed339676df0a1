"""The reachable floor: the deepest that one cutter in one placement can get anywhere, order and all.

A tip is allowed where piece and hardware are safe, the assembly is clear of the wood that is left *now*, and the
machine can go. Cutting with every allowed tip lowers the wood, which allows lower tips, until nothing changes.
Raising a tip never breaks a condition, so cutting in descending levels realises this floor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.field.dilate import lowered_by, tip_clear_of
from witnessmark.field.grid import Heights

from .scene import SAME_MM, Scene, Spindle, tips_off_hardware, tips_off_piece


@dataclass(frozen=True, eq=False)
class Floor:
    """tip (ny, nx): lowest allowed tip, +inf where the axis cannot go; floor (ny, nx): the wood left at the least.

    ``sweeps``: how often all was cut until nothing changed, the last look included.
    """

    tip: Heights
    floor: Heights
    sweeps: int


def reachable_floor(
    scene: Scene, spindle: Spindle, wall_allowance_mm: float = 0.0, floor_allowance_mm: float = 0.0
) -> Floor:
    """The reachable floor, never deeper than the truth: the assembly grows and the cutter shrinks by half a cell.

    Tips are allowed at the cells' centres; a level move between the centres of two neighbouring cells, both allowed
    at that height, is safe to pitch^2 / (4 R), the sagitta between the two circles (0.02 mm at 0.5 mm and R = 3).
    The fixed point takes at most ceil(H / a) + 1 sweeps, H the height from the lowest tip to the top of the wood and
    a the lowest underside of what is wider than the cutter.
    """
    grid = scene.grid
    least = tips_off_piece(scene, spindle.profile, wall_allowance_mm, floor_allowance_mm)
    least = np.maximum(least, tips_off_hardware(scene, spindle))
    least = np.maximum(least, np.float32(spindle.lowest_tip_mm))
    out = ~spindle.in_window(grid) | (least > spindle.highest_tip_mm + SAME_MM)
    steps, left, sweeps = spindle.wide_steps, scene.top, 0
    while True:
        tip = np.maximum(least, tip_clear_of(left, grid, steps, grid.reach_mm))
        tip[out | (tip > spindle.highest_tip_mm + SAME_MM)] = np.inf
        lower = np.minimum(left, lowered_by(tip, grid, spindle.profile, grid.reach_mm))
        sweeps += 1
        if not np.any(lower < left - SAME_MM):
            return Floor(tip, left, sweeps)
        left = lower


def floors_in_order(
    scene: Scene,
    spindles: Sequence[Spindle],
    wall_allowance_mm: float = 0.0,
    floor_allowance_mm: float = 0.0,
) -> tuple[Floor, ...]:
    """The floors of several cutters in the order listed: each starts from the wood that the one before leaves."""
    floors = []
    for spindle in spindles:
        floors.append(reachable_floor(scene, spindle, wall_allowance_mm, floor_allowance_mm))
        scene = replace(scene, top=floors[-1].floor)
    return tuple(floors)
