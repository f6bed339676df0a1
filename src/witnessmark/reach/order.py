"""Several cutters in one placement: they share the wood, in the order listed, once each.

An earlier cutter also clears what would be in the way of the later ones, as far as it can: a wide flat cutter does
it better than a fine or a ball one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.field.dilate import lowered_by
from witnessmark.field.grid import Heights

from .clearance import Clearance, least_clearance, underside_of
from .entry import Entered, enterable
from .floor import Floor, reachable_floor
from .scene import SAME_MM, Rectangle, Scene, Spindle
from .wanted import wanted_floor, wanted_tips


@dataclass(frozen=True)
class Want:
    """What one cutter is to do here; the fields are the arguments of ``wanted_tips``."""

    through_z_mm: float
    trench_mm: float
    region_mm: Rectangle
    wall_allowance_mm: float = 0.0
    floor_allowance_mm: float = 0.0
    least_wood_mm: float = 1e-3


@dataclass(frozen=True, eq=False)
class Reached:
    """What one cutter does: its floor, its clearance, its tips as they can be entered, the wood before and after."""

    floor: Floor
    clearance: Clearance
    entered: Entered
    before: Heights
    after: Heights

    @property
    def tips(self) -> Heights:
        """Lowest tips to cut (ny, nx); +inf where none."""
        return self.entered.tips


def reach_in_order(scene: Scene, spindles: Sequence[Spindle], wants: Sequence[Want]) -> tuple[Reached, ...]:
    """Reach with each cutter in turn, every one starting from the wood that the one before leaves."""
    later = _undersides_of_later(scene, spindles, wants)
    reached: list[Reached] = []
    for spindle, want, under in zip(spindles, wants, later):
        floor = reachable_floor(scene, spindle, want.wall_allowance_mm, want.floor_allowance_mm)
        clearance = least_clearance(scene, spindle, floor, _wanted(scene, spindle, want), under)
        entered = enterable(scene, spindle, clearance.tips)
        after = wanted_floor(scene, spindle, entered.tips)
        reached.append(Reached(floor, clearance, entered, scene.top, after))
        scene = replace(scene, top=after)
    return tuple(reached)


def _wanted(scene: Scene, spindle: Spindle, want: Want) -> Heights:
    return wanted_tips(
        scene,
        spindle,
        want.through_z_mm,
        want.trench_mm,
        want.region_mm,
        want.wall_allowance_mm,
        want.floor_allowance_mm,
        want.least_wood_mm,
    )


def _undersides_of_later(scene: Scene, spindles: Sequence[Spindle], wants: Sequence[Want]) -> list[Heights | None]:
    """For each cutter, the lowest pass of the assemblies that come after it, each at the tips that it will reach."""
    if len(spindles) == 1:
        return [None]
    own: list[Heights] = []
    deepest, planned = scene, scene
    for spindle, want in zip(spindles, wants):
        floor = reachable_floor(deepest, spindle, want.wall_allowance_mm, want.floor_allowance_mm)
        wanted = _wanted(planned, spindle, want)
        tips = np.where(wanted >= floor.tip - 2 * SAME_MM, wanted, np.float32(np.inf)).astype(np.float32)
        own.append(underside_of(scene, spindle, tips))
        deepest = replace(deepest, top=floor.floor)
        lowered = lowered_by(tips, scene.grid, spindle.profile, scene.grid.reach_mm)
        planned = replace(planned, top=np.minimum(planned.top, lowered))
    under: list[Heights | None] = [None] * len(spindles)
    for k in range(len(own) - 2, -1, -1):
        after = under[k + 1]
        under[k] = own[k + 1] if after is None else np.minimum(own[k + 1], after)
    return under
