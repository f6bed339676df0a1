"""The wood's top as it stands while paths are being made: lowered by every stroke, asked before going down.

Frame     standing frame; rows along +y, columns along +x
Units     mm
Valid     ``top`` is exact at cell centres; a shaving thinner than a cell may stand between them. ``most`` is no lower
          than the wood anywhere in its cell: rapid moves go by it
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights
from witnessmark.field.profile import profile_vector, shrunken, surface_height
from witnessmark.field.sweep import remove
from witnessmark.job.models import Cutter

Floats = NDArray[np.float64]

RIM_MM = 0.02  # wood grazed by no more than this at the cutter's rim does not count as in the way


def profile_of(cutter: Cutter) -> Floats:
    """The cutter's lower surface, as the kernels take it."""
    return profile_vector(cutter.kind, cutter.diameter_mm, cutter.corner_radius_mm, cutter.included_angle_deg)


class Wood:
    """The wood's top (ny, nx) on a grid under one cutter; without ``most`` the blank counts as uncut."""

    def __init__(self, grid: Grid, top: Heights, cutter: Cutter, most: Heights | None = None) -> None:
        self.grid = grid
        self.profile = profile_of(cutter)
        self.cuts = 0  # grows with every cut: who keeps an answer can see that it has aged
        self._top = _Cut(grid, top, self.profile)
        less: tuple[Floats | None, float] = shrunken(self.profile, grid.reach_mm) or (None, 0.0)
        shrunk, self._lift_mm = less
        self._most = _Cut(grid, most_wood(top) if most is None else most, shrunk)

    @property
    def top(self) -> Heights:
        """The wood's top at the cells' centres after every cut so far."""
        return self._top.heights

    @property
    def most(self) -> Heights:
        """Highest that wood can stand anywhere within each cell after every cut so far."""
        return self._most.heights

    def cut(self, chain_mm: Floats) -> None:
        """Take away what the cutter sweeps along a chain of places (n, 3)."""
        if len(chain_mm) < 2:
            return
        moves = np.zeros((len(chain_mm) - 1, 9))
        moves[:, 0:3], moves[:, 3:6] = chain_mm[:-1], chain_mm[1:]
        self._top.waiting.append(moves)
        self._most.waiting.append(moves + np.array([0, 0, self._lift_mm, 0, 0, self._lift_mm, 0, 0, 0]))
        self.cuts += 1

    def touching_mm(self, points_mm: Floats) -> Floats:
        """Height (n,) at which a tip going straight down at (n, 2 or more) first touches wood; -inf where none."""
        return self._touching(points_mm, self.top, -RIM_MM)

    def surely_clear_mm(self, points_mm: Floats) -> Floats:
        """Height (n,) down to which a tip at (n, 2 or more) surely meets no wood, between cell centres neither."""
        return self._touching(points_mm, self.most, self.grid.reach_mm)

    def _touching(self, points_mm: Floats, heights: Heights, wider_mm: float) -> Floats:
        points = np.ascontiguousarray(points_mm[:, :2], dtype=np.float64)
        grid = self.grid
        return _touching(points, heights, grid.x0_mm, grid.y0_mm, grid.pitch_mm, self.profile, wider_mm)

    def standing_mm(self, points_mm: Floats) -> Floats:
        """Height of the wood (n,) at the cell of each place; -inf off the grid."""
        grid = self.grid
        i = np.floor((points_mm[:, 0] - grid.x0_mm) / grid.pitch_mm).astype(int)
        j = np.floor((points_mm[:, 1] - grid.y0_mm) / grid.pitch_mm).astype(int)
        on = (i >= 0) & (j >= 0) & (i < grid.nx) & (j < grid.ny)
        heights = np.full(len(points_mm), -np.inf)
        heights[on] = self.top[j[on], i[on]]
        return heights


class _Cut:
    """A field of heights and the moves that wait to be cut out of it: all at once, when someone looks."""

    def __init__(self, grid: Grid, heights: Heights, profile: Floats | None) -> None:
        self._grid, self._profile = grid, profile
        self._heights = np.ascontiguousarray(heights, dtype=np.float32).copy()
        self.waiting: list[Floats] = []

    @property
    def heights(self) -> Heights:
        if self.waiting and self._profile is not None:
            remove(self._heights, self._grid, np.vstack(self.waiting), self._profile)
        self.waiting = []
        return self._heights


def most_wood(top: Heights) -> Heights:
    """Highest wood within a cell, given the tops at cell centres of wood whose faces are no further than a cell off.

    True of an uncut blank: its edge runs between a cell that has wood and one that has none.
    """
    padded = np.pad(top, 1, constant_values=-np.inf)
    rows = np.maximum(np.maximum(padded[:-2], padded[1:-1]), padded[2:])
    return np.ascontiguousarray(np.maximum(np.maximum(rows[:, :-2], rows[:, 1:-1]), rows[:, 2:]))


@njit(cache=True, error_model="numpy")
def _touching(
    points: Floats, top: Heights, x0: float, y0: float, pitch: float, profile: Floats, wider: float
) -> Floats:
    """``wider``: cells this much outside the cutter's rim still count, as if they lay so much nearer to its axis."""
    ny, nx = top.shape
    radius, nearer = profile[1] + wider, max(0.0, wider)
    tips = np.full(len(points), -np.inf)
    for n in range(len(points)):
        x, y = points[n, 0] - x0 - 0.5 * pitch, points[n, 1] - y0 - 0.5 * pitch
        for j in range(max(0, math.ceil((y - radius) / pitch)), min(ny - 1, math.floor((y + radius) / pitch)) + 1):
            for i in range(
                max(0, math.ceil((x - radius) / pitch)), min(nx - 1, math.floor((x + radius) / pitch)) + 1
            ):
                r = math.sqrt((i * pitch - x) ** 2 + (j * pitch - y) ** 2)
                if r <= radius and top[j, i] > tips[n]:
                    tips[n] = max(tips[n], top[j, i] - surface_height(max(0.0, r - nearer), profile))
    return tips
