"""What reach looks at: the wood and the piece as they stand, and what the machine holds over them.

All fields lie on one grid of the standing frame, mm above the supporting face; numbers and arrays only, so that a
search may evaluate thousands of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.dilate import tip_clear_of, tip_over_surface
from witnessmark.field.grid import Grid, Heights
from witnessmark.field.profile import surface_height

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Rectangle = tuple[float, float, float, float]

SAME_MM = 1e-4  # heights closer than this are the same: ten times float32 rounding at 100 mm
SAME_RADIUS_MM = 1e-6


@dataclass(frozen=True, eq=False)
class Scene:
    """The wood's top and the piece's top, each the greatest over its cell; -inf where there is none.

    ``fixed``: tops of hardware (clamps, bolts) that nothing may touch, or None.
    """

    grid: Grid
    top: Heights
    piece_top: Heights
    fixed: Heights | None = None


@dataclass(frozen=True, eq=False)
class Spindle:
    """A cutter in its machine, over one placement.

    profile (6,) as in ``field.profile``; steps (k, 3) rigid: radius, from, to above the tip, with their ``kinds``.
    lowest_tip_mm, highest_tip_mm: the tip's range above the supporting face. window_mm: where the axis can go.
    """

    profile: Floats
    steps: Floats
    cutting_length_mm: float
    lowest_tip_mm: float
    highest_tip_mm: float
    window_mm: Rectangle
    centre_cutting: bool = True
    stepdown_mm: float = 3.0
    kinds: tuple[str, ...] = ()

    @property
    def radius_mm(self) -> float:
        return float(self.profile[1])

    @property
    def level_mm(self) -> float:
        """How far apart cutting levels may lie: the stepdown, but never more than the flutes can clear.

        With levels no further apart than this, the flute rule (wood not yet passed counts against the flute length
        within the cutter's own radius) never binds: the level above has cleared what stands over the flutes.
        """
        full_width_mm = float(surface_height(self.radius_mm, self.profile))
        return max(0.0, min(self.stepdown_mm, self.cutting_length_mm - full_width_mm))

    @property
    def wide_steps(self) -> Floats:
        """The rigid steps wider than the cutter, (k, 3): the only ones that wood beside a cut can meet.

        A shank as wide as the cutter or narrower runs inside the width that the cutter itself has cleared one level
        higher (levels lie at most ``level_mm`` apart, and a tip that is allowed is allowed at every height above).
        """
        steps = np.asarray(self.steps, dtype=np.float64).reshape(-1, 3)
        return steps[steps[:, 0] > self.radius_mm + SAME_RADIUS_MM]

    def in_window(self, grid: Grid) -> Mask:
        """Cells (ny, nx) whose centres the axis can stand over."""
        return inside(self.window_mm, grid)


def inside(rectangle_mm: Rectangle, grid: Grid) -> Mask:
    """Cells (ny, nx) whose centres lie in the rectangle, its rim counting."""
    x0, y0, x1, y1 = rectangle_mm
    along_x = (grid.x_mm >= x0 - SAME_MM) & (grid.x_mm <= x1 + SAME_MM)
    along_y = (grid.y_mm >= y0 - SAME_MM) & (grid.y_mm <= y1 + SAME_MM)
    return np.asarray(along_y[:, None] & along_x[None, :])


def tips_off_piece(scene: Scene, profile: Floats, wall_allowance_mm: float, floor_allowance_mm: float) -> Heights:
    """Lowest tip over each cell that leaves the piece its allowances: sideways and in height; -inf clear of it."""
    grid = scene.grid
    tips = tip_over_surface(scene.piece_top, grid, profile, grid.reach_mm + wall_allowance_mm)
    return tips + np.float32(floor_allowance_mm)


def tips_off_hardware(scene: Scene, spindle: Spindle) -> Heights:
    """Lowest tip over each cell at which neither cutter nor assembly meets hardware; -inf where there is none."""
    if scene.fixed is None:
        return scene.grid.full(-np.inf)
    whole = np.vstack([[spindle.radius_mm, 0.0, spindle.cutting_length_mm], spindle.steps])
    return tip_clear_of(scene.fixed, scene.grid, whole, scene.grid.reach_mm)
