"""What a placement is to cut: the tips that the piece's surface needs from this side."""

from __future__ import annotations

import numpy as np

from witnessmark.field.dilate import disc_max, lowered_by, tip_over_surface
from witnessmark.field.grid import Heights

from .scene import SAME_MM, Mask, Rectangle, Scene, Spindle, inside, tips_off_piece


def wanted_tips(
    scene: Scene,
    spindle: Spindle,
    through_z_mm: float,
    trench_mm: float,
    region_mm: Rectangle,
    wall_allowance_mm: float = 0.0,
    floor_allowance_mm: float = 0.0,
    least_wood_mm: float = 1e-3,
) -> Heights:
    """Tip heights (ny, nx) that the wanted surface needs; +inf where no tip is wanted.

    All waste over the piece is wanted, cavities included. Beside it (and in holes through it) the cutter goes down
    to ``through_z_mm`` in a trench: its own width plus ``trench_mm``. Only inside ``region_mm``, and only where the
    tip has at least ``least_wood_mm`` of wood to cut. The allowances are left on the piece.
    """
    grid = scene.grid
    tips = tips_off_piece(scene, spindle.profile, wall_allowance_mm, floor_allowance_mm)
    beside = ~np.isfinite(scene.piece_top)
    tips[beside] = np.maximum(tips[beside], np.float32(through_z_mm))
    beside_mm = spindle.radius_mm + wall_allowance_mm + trench_mm + grid.reach_mm
    wanted = near_piece(scene, beside_mm) & inside(region_mm, grid)
    wanted &= cuts_wood(scene, spindle, tips, least_wood_mm)
    return np.where(wanted, tips, np.float32(np.inf)).astype(np.float32)


def near_piece(scene: Scene, distance_mm: float) -> Mask:
    """Cells over the piece or within ``distance_mm`` of it."""
    footprint = np.where(np.isfinite(scene.piece_top), np.float32(0.0), np.float32(-np.inf))
    return np.asarray(np.isfinite(disc_max(footprint, scene.grid, distance_mm)))


def cuts_wood(scene: Scene, spindle: Spindle, tips: Heights, least_wood_mm: float = SAME_MM) -> Mask:
    """Where a tip has wood of at least this height over some whole cell under the cutter."""
    resting = tip_over_surface(scene.top, scene.grid, spindle.profile, -scene.grid.reach_mm)
    return np.asarray(resting > tips + np.float32(least_wood_mm))


def wanted_floor(scene: Scene, spindle: Spindle, wanted: Heights) -> Heights:
    """The wood (ny, nx) that cutting all wanted tips would leave, at the most over each cell."""
    return np.minimum(scene.top, lowered_by(wanted, scene.grid, spindle.profile, scene.grid.reach_mm))
