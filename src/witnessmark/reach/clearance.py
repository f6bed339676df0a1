"""The least clearance: the wood that must go first, so that the assembly clears while the wanted tips are cut.

Wood above the lowest pass of the assembly's underside, G, is in the way. Tips that cut it without touching what may
stay are found by dilating what stays; corners too tight for the cutter are covered with the least over-cut. Those
tips need clearance of their own, and join the wanted ones, until nothing is in the way. Wood that is neither in the
way nor wanted stays: it is support.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.field.cover import cover
from witnessmark.field.dilate import lowered_by, tip_clear_of, tip_over_surface, underside_over
from witnessmark.field.grid import Heights

from .floor import Floor
from .scene import SAME_MM, Mask, Scene, Spindle

LONGEST_ROUNDS = 200  # more rounds than any terrace has steps: each round clears at least one step's height


@dataclass(frozen=True, eq=False)
class Clearance:
    """All fields (ny, nx) on the scene's grid.

    tips     lowest tips to cut, wanted and clearance together; +inf where none
    wanted   the wanted tips among them (those the floor allows)
    wood     depth of wood cut for clearance alone; 0 where none. Like ``left`` it counts what surely goes: the true
             cutter takes up to half a cell's diagonal more at the rim
    needed   depth of wood that is in the way; never more than ``wood``, to SAME_MM, save what is only in the way of
             later cutters and out of this one's reach
    left     the wood left after all tips are cut, at the most over each cell
    unreached  wanted tips that the floor does not allow (left out of ``tips``)
    """

    tips: Heights
    wanted: Heights
    wood: Heights
    needed: Heights
    left: Heights
    unreached: Mask
    volume_mm3: float
    needed_mm3: float
    rounds: int


def least_clearance(
    scene: Scene, spindle: Spindle, floor: Floor, wanted: Heights, also_under: Heights | None = None
) -> Clearance:
    """The least clearance for the wanted tips (ny, nx, +inf: none) that the forward floor allows.

    ``floor`` must have been found with allowances no greater than those of ``wanted``; a wanted tip below its
    lowest allowed one is named in ``unreached`` and not cut. ``also_under`` (ny, nx): heights above which wood is
    in the way of cutters that come later; this one clears it as far as it can (see ``underside_of``).
    """
    allowed = np.isfinite(wanted) & (wanted >= floor.tip - 2 * SAME_MM)
    while True:
        kept = np.where(allowed, wanted, np.float32(np.inf)).astype(np.float32)
        tips, first, left, needed, rounds = _cleared(scene, spindle, floor, kept, also_under)
        shut = np.isfinite(kept) & (_lowest_clear(scene, spindle, left) > kept + 4 * SAME_MM)
        if not shut.any():
            break
        allowed &= ~shut
    wood = _depth(first, left)
    area_mm2 = scene.grid.pitch_mm**2
    return Clearance(
        tips=tips,
        wanted=kept,
        wood=wood,
        needed=needed,
        left=left,
        unreached=np.isfinite(wanted) & ~allowed,
        volume_mm3=float(wood.sum(dtype=np.float64)) * area_mm2,
        needed_mm3=float(needed.sum(dtype=np.float64)) * area_mm2,
        rounds=rounds,
    )


def underside_of(scene: Scene, spindle: Spindle, tips: Heights) -> Heights:
    """Lowest pass (ny, nx) of the assembly over each cell while all ``tips`` are cut; +inf where it never comes."""
    return underside_over(tips, scene.grid, spindle.wide_steps, scene.grid.reach_mm)


def _lowest_clear(scene: Scene, spindle: Spindle, left: Heights) -> Heights:
    return tip_clear_of(left, scene.grid, spindle.wide_steps, scene.grid.reach_mm)


def _depth(before: Heights, after: Heights) -> Heights:
    """How far ``after`` lies below ``before``, 0 where there was no wood."""
    return np.where(np.isfinite(before), before - np.where(np.isfinite(before), after, 0), 0).astype(np.float32)


def _cleared(
    scene: Scene, spindle: Spindle, floor: Floor, wanted: Heights, also_under: Heights | None
) -> tuple[Heights, Heights, Heights, Heights, int]:
    """Tips, wood left by the wanted tips alone, wood left by all, depth in the way, rounds."""
    grid, shrink_mm = scene.grid, scene.grid.reach_mm
    first = np.minimum(scene.top, lowered_by(wanted, grid, spindle.profile, shrink_mm))
    tips, left, under, rounds = wanted, first, grid.full(np.inf), 0
    while rounds < LONGEST_ROUNDS:
        under = underside_of(scene, spindle, tips)
        if also_under is not None:
            under = np.minimum(under, also_under)
        if not np.any(left > under + SAME_MM):
            break
        stay = np.minimum(left, under)
        more = np.maximum(tip_over_surface(stay, grid, spindle.profile, -shrink_mm), floor.tip)
        useful = tip_over_surface(left, grid, spindle.profile, -shrink_mm) > more + SAME_MM
        more = np.where(useful, more, np.float32(np.inf)).astype(np.float32)
        lower = np.ascontiguousarray(np.minimum(left, lowered_by(more, grid, spindle.profile, shrink_mm)))
        tight = cover(lower, stay, under, floor.tip, grid, spindle.profile, shrink_mm, SAME_MM)
        if not np.any(lower < left - SAME_MM):
            break
        tips, left, rounds = np.minimum(np.minimum(tips, more), tight), lower, rounds + 1
    return tips, first, left, _depth(first, np.minimum(first, under)), rounds
