"""Scenes for the tests of reach: small, by formula."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.reach.scene import Scene, Spindle

ENDLESS_MM = (-1e6, -1e6, 1e6, 1e6)


def spindle(
    diameter_mm: float = 6.0,
    stickout_mm: float = 45.0,
    nut_mm: tuple[float, float] = (20.0, 20.0),
    nose_mm: float = 65.0,
    kind: str = "flat",
    flutes_mm: float = 32.0,
    shank_mm: float | None = None,
    **more: object,
) -> Spindle:
    """A cutter on a spindle over an endless bed; nut (diameter, length), nose diameter."""
    shank = diameter_mm if shank_mm is None else shank_mm
    nut_diameter_mm, nut_length_mm = nut_mm
    steps = np.array(
        [
            (shank / 2, flutes_mm, stickout_mm),
            (nut_diameter_mm / 2, stickout_mm, stickout_mm + nut_length_mm),
            (nose_mm / 2, stickout_mm + nut_length_mm, stickout_mm + nut_length_mm + 80.0),
        ]
    )
    profile = profile_vector(kind, diameter_mm, corner_radius_mm=1.0, included_angle_deg=60.0)
    plain = Spindle(profile, steps, flutes_mm, 0.0, 1e4, ENDLESS_MM, kinds=("shank", "nut", "nose"))
    return replace(plain, **more)  # type: ignore[arg-type]


def block_scene(
    pitch_mm: float, size_mm: tuple[float, float] = (120.0, 90.0), height_mm: float = 60.0, margin_mm: float = 0.0
) -> Scene:
    """A block of wood with its corner at the origin and no piece in it."""
    grid = Grid.over(-margin_mm, -margin_mm, size_mm[0] + margin_mm, size_mm[1] + margin_mm, pitch_mm)
    x, y = grid.x_mm[None, :], grid.y_mm[:, None]
    wood = (x > 0) & (x < size_mm[0]) & (y > 0) & (y < size_mm[1])
    top = np.where(wood, np.float32(height_mm), np.float32(-np.inf)).astype(np.float32)
    return Scene(grid, top, grid.full(-np.inf))


def hilly_scene(seed: int, pitch_mm: float = 1.0, height_mm: float = 50.0) -> Scene:
    """A block with a piece of random steps, slopes and holes in it."""
    rng = np.random.default_rng(seed)
    scene = block_scene(pitch_mm, (64.0, 48.0), height_mm, 6.0)
    x, y = scene.grid.x_mm[None, :], scene.grid.y_mm[:, None]
    piece = scene.grid.full(-np.inf)
    for _ in range(5):
        cx, cy, rx, ry = rng.uniform(8, 56), rng.uniform(8, 40), rng.uniform(3, 18), rng.uniform(3, 14)
        inside = (abs(x - cx) < rx) & (abs(y - cy) < ry)
        slope = rng.choice([0.0, 0.3, -0.7]) * (x - cx) + rng.choice([0.0, 0.4]) * (y - cy)
        tops = np.clip(rng.uniform(5, height_mm - 4) + slope, 1.0, height_mm - 1.0)
        hole = np.hypot(x - cx, y - cy) < rng.uniform(0, 6)
        piece = np.where(inside & ~hole, np.maximum(piece, tops), piece).astype(np.float32)
    return replace(scene, piece_top=piece)
