"""The wood's top as it stands while paths are being made: lowered by every stroke, asked before going down.

Frame     standing frame; rows along +y, columns along +x
Units     mm
Valid     heights are exact at cell centres; a shaving thinner than a cell may stand between them
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights
from witnessmark.field.profile import profile_vector, surface_height
from witnessmark.field.sweep import remove
from witnessmark.job.models import Cutter

Floats = NDArray[np.float64]

RIM_MM = 0.02  # wood grazed by no more than this at the cutter's rim does not count as in the way


def profile_of(cutter: Cutter) -> Floats:
    """The cutter's lower surface, as the kernels take it."""
    return profile_vector(cutter.kind, cutter.diameter_mm, cutter.corner_radius_mm, cutter.included_angle_deg)


class Wood:
    """The wood's top (ny, nx) on a grid under one cutter."""

    def __init__(self, grid: Grid, top: Heights, cutter: Cutter) -> None:
        self.grid = grid
        self._top = np.ascontiguousarray(top, dtype=np.float32).copy()
        self.profile = profile_of(cutter)
        self.cuts = 0  # grows with every cut: who keeps an answer can see that it has aged
        self._waiting: list[Floats] = []

    @property
    def top(self) -> Heights:
        """The wood's top after every cut so far. Cuts are kept until someone looks, and then made all at once."""
        if self._waiting:
            remove(self._top, self.grid, np.vstack(self._waiting), self.profile)
            self._waiting = []
        return self._top

    def cut(self, chain_mm: Floats) -> None:
        """Take away what the cutter sweeps along a chain of places (n, 3)."""
        if len(chain_mm) < 2:
            return
        moves = np.zeros((len(chain_mm) - 1, 9))
        moves[:, 0:3], moves[:, 3:6] = chain_mm[:-1], chain_mm[1:]
        self._waiting.append(moves)
        self.cuts += 1

    def touching_mm(self, points_mm: Floats) -> Floats:
        """Height (n,) at which a tip going straight down at (n, 2 or more) first touches wood; -inf where none."""
        points = np.ascontiguousarray(points_mm[:, :2], dtype=np.float64)
        grid = self.grid
        return _touching(points, self.top, grid.x0_mm, grid.y0_mm, grid.pitch_mm, self.profile, RIM_MM)

    def standing_mm(self, points_mm: Floats) -> Floats:
        """Height of the wood (n,) at the cell of each place; -inf off the grid."""
        grid = self.grid
        i = np.floor((points_mm[:, 0] - grid.x0_mm) / grid.pitch_mm).astype(int)
        j = np.floor((points_mm[:, 1] - grid.y0_mm) / grid.pitch_mm).astype(int)
        on = (i >= 0) & (j >= 0) & (i < grid.nx) & (j < grid.ny)
        heights = np.full(len(points_mm), -np.inf)
        heights[on] = self.top[j[on], i[on]]
        return heights


@njit(cache=True, error_model="numpy")
def _touching(
    points: Floats, top: Heights, x0: float, y0: float, pitch: float, profile: Floats, rim: float
) -> Floats:
    ny, nx = top.shape
    radius = profile[1] - rim
    tips = np.full(len(points), -np.inf)
    for n in range(len(points)):
        x, y = points[n, 0] - x0 - 0.5 * pitch, points[n, 1] - y0 - 0.5 * pitch
        for j in range(max(0, math.ceil((y - radius) / pitch)), min(ny - 1, math.floor((y + radius) / pitch)) + 1):
            for i in range(
                max(0, math.ceil((x - radius) / pitch)), min(nx - 1, math.floor((x + radius) / pitch)) + 1
            ):
                r = math.sqrt((i * pitch - x) ** 2 + (j * pitch - y) ** 2)
                if r <= radius and top[j, i] > tips[n]:
                    tips[n] = max(tips[n], top[j, i] - surface_height(r, profile))
    return tips
