"""The floors between the cells' middles: which cells keep the tolerances everywhere, and which are not decided.

Frame   seen (floors)
Method  field.bracket over all moves of the side, strip by strip; deviations count along the normal. Cells are left
        out that lie so near to a steep face that what the wall may leave reaches into them: they are the walls'
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.bracket import narrow, widest
from witnessmark.field.dilate import disc_max
from witnessmark.field.facets import facets_over, touched
from witnessmark.field.grid import Grid, Heights

from .edges import STEEPEST_FLOOR_RATIO
from .passes import chorded

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

STRIP_ROWS = 64  # what a strip holds a cell is some 80 bytes
MARGIN_MM = 1e-6


@dataclass(frozen=True, eq=False)
class Lines:
    """The moves of one cutter as straight lines (n, 6) and how far each may bulge (n,), in the program's order."""

    profile: Floats
    ends: Floats
    bulge_mm: Floats

    @staticmethod
    def of(profile: Floats, rows: Floats) -> Lines:
        ends, _, bulge_mm = chorded(rows)
        return Lines(profile, np.ascontiguousarray(ends), bulge_mm)

    def over(self, y_from_mm: float, y_to_mm: float, x_from_mm: float, x_to_mm: float, reach_mm: float) -> Lines:
        """Those that may come over a rectangle."""
        reach = self.profile[1] + reach_mm
        low, high = np.minimum(self.ends[:, :2], self.ends[:, 3:5]), np.maximum(self.ends[:, :2], self.ends[:, 3:5])
        near = (high[:, 1] + reach >= y_from_mm) & (low[:, 1] - reach <= y_to_mm)
        near &= (high[:, 0] + reach >= x_from_mm) & (low[:, 0] - reach <= x_to_mm)
        return Lines(self.profile, np.ascontiguousarray(self.ends[near]), self.bulge_mm[near])


@dataclass(frozen=True, eq=False)
class Bounds:
    """(ny, nx) float32: between which made minus wanted lies over each whole cell, along the normal; nan: not judged.

    ``beside`` (ny, nx): shallow cells that are the walls' for all but their middle.
    """

    least_mm: Heights
    most_mm: Heights
    beside: Mask


@dataclass(frozen=True, eq=False)
class Between:
    """One side of one piece: its triangles and the moves of that side, the last cutter last, seen frame."""

    shallow: Floats
    steep: Floats
    cuts: tuple[Lines, ...]
    blank_top_mm: float
    tolerance_mm: float

    @staticmethod
    def of(
        triangles: Floats,
        normal_z: Floats,
        cuts: Sequence[tuple[Floats, Floats]],
        blank_top_mm: float,
        tolerance_mm: float,
    ) -> Between:
        """``cuts``: profile and rows of each cutter; ``tolerance_mm``: what may be wrong with a wall."""
        shallow, steep = normal_z >= STEEPEST_FLOOR_RATIO, np.abs(normal_z) < STEEPEST_FLOOR_RATIO
        lines = tuple(Lines.of(profile, rows) for profile, rows in cuts)
        return Between(triangles[shallow], triangles[steep], lines, blank_top_mm, tolerance_mm)

    def bounds(self, grid: Grid, top: Heights, wanted: Mask) -> Bounds:
        """Bounds over the ``wanted`` cells; ``top`` (ny, nx): the drawn top at the middles."""
        beside = touched(_near(self.steep, grid), grid)
        _widen(beside, grid, self.tolerance_mm + 2.0 * grid.reach_mm + MARGIN_MM)
        beside &= wanted
        judged = wanted & ~beside
        least, most = (np.full(grid.shape, np.nan, dtype=np.float32) for _ in range(2))
        for row in range(0, grid.ny, STRIP_ROWS):
            strip = slice(row, min(row + STRIP_ROWS, grid.ny))
            if judged[strip].any():
                part = Grid(
                    grid.x0_mm, grid.y0_mm + row * grid.pitch_mm, grid.pitch_mm, grid.nx, strip.stop - strip.start
                )
                least[strip], most[strip] = self._strip(part, top[strip], judged[strip])
        return Bounds(least, most, beside)

    def _strip(self, grid: Grid, top: Heights, judged: Mask) -> tuple[Floats, Floats]:
        facets = facets_over(_near(self.shallow, grid), top, grid)
        least, most = widest(facets, self.blank_top_mm)
        x1, y1 = grid.x0_mm + grid.nx * grid.pitch_mm, grid.y0_mm + grid.ny * grid.pitch_mm
        judged = np.ascontiguousarray(judged & np.isfinite(facets.middle))
        for cut in reversed(self.cuts):
            near = cut.over(grid.y0_mm, y1, grid.x0_mm, x1, grid.pitch_mm)
            narrow(least, most, facets, judged, near.ends, near.bulge_mm, near.profile, grid)
        for bound in (least, most):
            bound *= facets.upright
            bound[~judged] = np.nan
        return least, most


def _widen(mask: Mask, grid: Grid, by_mm: float) -> None:
    """Set the cells within ``by_mm`` of set ones too, strip by strip."""
    halo = math.ceil(by_mm / grid.pitch_mm) + 1
    before = mask.copy()
    for row in range(0, grid.ny, STRIP_ROWS):
        low, high = max(row - halo, 0), min(row + STRIP_ROWS + halo, grid.ny)
        wide = disc_max(before[low:high].astype(np.float32), grid, by_mm) > 0.0
        last = min(row + STRIP_ROWS, grid.ny)
        mask[row:last] = wide[row - low : last - low]


def _near(triangles: Floats, grid: Grid) -> Floats:
    """The triangles that may touch a cell of the grid."""
    low, high = triangles[:, :, :2].min(axis=1), triangles[:, :, :2].max(axis=1)
    x1, y1 = grid.x0_mm + grid.nx * grid.pitch_mm, grid.y0_mm + grid.ny * grid.pitch_mm
    near = (high[:, 0] >= grid.x0_mm) & (low[:, 0] <= x1) & (high[:, 1] >= grid.y0_mm) & (low[:, 1] <= y1)
    return triangles[near]
