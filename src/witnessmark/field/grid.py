"""The grid every field lies on.

Frame   standing frame; row index runs along +y, column index along +x, cell centres at half a pitch
Units   mm
Arrays  a height field is float32 (ny, nx); -inf where there is nothing
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Heights = NDArray[np.float32]


@dataclass(frozen=True)
class Grid:
    """``x0_mm, y0_mm`` is the lower left corner of cell (0, 0)."""

    x0_mm: float
    y0_mm: float
    pitch_mm: float
    nx: int
    ny: int

    @staticmethod
    def over(x0_mm: float, y0_mm: float, x1_mm: float, y1_mm: float, pitch_mm: float) -> Grid:
        """The grid centred on a rectangle that covers it."""
        nx = max(1, math.ceil((x1_mm - x0_mm) / pitch_mm - 1e-9))
        ny = max(1, math.ceil((y1_mm - y0_mm) / pitch_mm - 1e-9))
        return Grid((x0_mm + x1_mm - nx * pitch_mm) / 2, (y0_mm + y1_mm - ny * pitch_mm) / 2, pitch_mm, nx, ny)

    @property
    def shape(self) -> tuple[int, int]:
        return (self.ny, self.nx)

    @property
    def x_mm(self) -> NDArray[np.float64]:
        """Cell centres along x, (nx,)."""
        return np.asarray(self.x0_mm + (np.arange(self.nx) + 0.5) * self.pitch_mm, dtype=np.float64)

    @property
    def y_mm(self) -> NDArray[np.float64]:
        """Cell centres along y, (ny,)."""
        return np.asarray(self.y0_mm + (np.arange(self.ny) + 0.5) * self.pitch_mm, dtype=np.float64)

    @property
    def reach_mm(self) -> float:
        """From a cell's centre to its corner: what a conservative answer must allow sideways."""
        return self.pitch_mm / math.sqrt(2.0)

    def full(self, height_mm: float) -> Heights:
        return np.full(self.shape, height_mm, dtype=np.float32)

    def mirrored_x(self) -> Grid:
        """The grid after x -> -x (reverse the columns of its fields)."""
        return Grid(-(self.x0_mm + self.nx * self.pitch_mm), self.y0_mm, self.pitch_mm, self.nx, self.ny)

    def mirrored_y(self) -> Grid:
        """The grid after y -> -y (reverse the rows of its fields)."""
        return Grid(self.x0_mm, -(self.y0_mm + self.ny * self.pitch_mm), self.pitch_mm, self.nx, self.ny)
