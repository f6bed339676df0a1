"""The blank between placements: columns of wood, an ordered list of [from, to] intervals over every cell.

Question   what wood is left, seen from any standing; what of it would come loose
Frame      intervals lie in the piece frame, along its z axis; every answer is given in the standing frame that
           belongs to the ``rotation`` asked for: x, y through the piece's origin, z = 0 the blank's face beneath
           (its lower face with +z up, its upper face with -z up), as in ``job.frames.standing``
Units      mm, mm3
Arrays     first (ny * nx + 1) int32, low, high (m,) float32; fields (ny, nx) float32, -inf: no wood (top),
           +inf: no wood (bottom)
Method     a cut takes one interval out of every column; pieces of wood by union-find over side-adjacent columns
Source     none needed
Valid      exact in z to float32 rounding, on the cells' centres sideways; rests thinner than 1e-4 are dropped
Refuses    fields of another shape, rotations other than +z or -z up by quarter turns (ValueError)
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from . import column_kernels as kernels
from .grid import Grid, Heights
from .threads import in_strips
from .turns import is_over, turned, turned_back, turned_grid

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

LEAST_OVERLAP_MM = 1e-3  # columns that overlap by less do not hold each other
RESTS_MM = 0.02  # wood this near the support rests on it: tape and paper give more (common practice, no source)


@dataclass(frozen=True)
class LooseWood:
    """A piece of wood that nothing holds: box (x, y, z from; x, y, z to) and a place inside, standing frame."""

    volume_mm3: float
    box_mm: tuple[float, float, float, float, float, float]
    place_mm: tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Columns:
    """The wood that is left of a blank whose lower and upper face lie at ``z_from_mm`` and ``z_to_mm`` (piece).

    ``ends_mm``: x, y from; x, y to of the whole blank.
    """

    grid: Grid
    z_from_mm: float
    z_to_mm: float
    first: NDArray[np.int32]
    low: Heights
    high: Heights
    ends_mm: tuple[float, float, float, float]

    @staticmethod
    def block(
        grid: Grid,
        z_from_mm: float,
        z_to_mm: float,
        inside: Mask | None = None,
        ends_mm: tuple[float, float, float, float] | None = None,
    ) -> Columns:
        """A solid blank over the grid (or over the cells ``inside`` (ny, nx) alone), piece frame.

        ``ends_mm``: where it ends sideways, if not where the grid does.
        """
        cells = np.ones(grid.shape, dtype=bool) if inside is None else np.asarray(inside, dtype=bool)
        first = np.concatenate([np.zeros(1, np.int32), np.cumsum(cells.ravel(), dtype=np.int32)])
        low = np.full(int(first[-1]), z_from_mm, dtype=np.float32)
        if ends_mm is None:
            x1_mm, y1_mm = grid.x0_mm + grid.nx * grid.pitch_mm, grid.y0_mm + grid.ny * grid.pitch_mm
            ends_mm = (grid.x0_mm, grid.y0_mm, x1_mm, y1_mm)
        return Columns(grid, z_from_mm, z_to_mm, first, low, np.full_like(low, z_to_mm), ends_mm)

    def top(self, rotation: Floats, beneath: bool = False) -> tuple[Heights, Grid]:
        """The wood's top seen from the side that is up, and its grid (standing frame); -inf where there is none.

        ``beneath``: the lower end of the wood that is on top.
        """
        return self._end(rotation, upper=True, inner=beneath)

    def bottom(self, rotation: Floats) -> tuple[Heights, Grid]:
        """The wood's underside as it stands, and its grid (standing frame); +inf where there is none."""
        return self._end(rotation, upper=False)

    def _end(self, rotation: Floats, upper: bool, inner: bool = False) -> tuple[Heights, Grid]:
        """The upper or the lower end of the wood as it stands, or the inner end of the wood there."""
        over = is_over(rotation)
        end = np.empty(self.grid.shape, dtype=np.float32)
        low = upper == over
        take = kernels.lower_ends if low else kernels.upper_ends
        take(self.first, self.low if low != inner else self.high, end.reshape(-1))
        if over:
            np.subtract(np.float32(self.z_to_mm), end, out=end)
        else:
            np.subtract(end, np.float32(self.z_from_mm), out=end)
        return turned(end, rotation), turned_grid(self.grid, rotation)

    def lowered(self, heights: Heights, rotation: Floats) -> Columns:
        """Cut down to a top field (standing frame, on the grid that ``top`` gives): what is above it goes."""
        self._must_lie_on(heights, rotation)
        cut = self._piece_z(heights, rotation)
        none = np.broadcast_to(np.float32(-np.inf if is_over(rotation) else np.inf), cut.shape)
        return self._cut(none, cut) if is_over(rotation) else self._cut(cut, none)

    def without(self, from_heights: Heights, to_heights: Heights, rotation: Floats) -> Columns:
        """Take from .. to out of every column (standing frame, on the grid that ``top`` gives), as an undercut does.

        Where ``to`` is not above ``from`` nothing is taken.
        """
        for heights in (from_heights, to_heights):
            self._must_lie_on(heights, rotation)
        lower, upper = (self._piece_z(heights, rotation) for heights in (from_heights, to_heights))
        return self._cut(upper, lower) if is_over(rotation) else self._cut(lower, upper)

    def within(self, from_heights: Heights, to_heights: Heights, rotation: Floats) -> Heights:
        """How much wood, (ny, nx), stands between two heights of every column (as ``without``)."""
        for heights in (from_heights, to_heights):
            self._must_lie_on(heights, rotation)
        lower, upper = (self._piece_z(heights, rotation) for heights in (from_heights, to_heights))
        if is_over(rotation):
            lower, upper = upper, lower
        between = np.empty(self.grid.shape, dtype=np.float32)
        kernels.between(self.first, self.low, self.high, lower, upper, between.reshape(-1))
        return turned(between, rotation)

    def _must_lie_on(self, heights: Heights, rotation: Floats) -> None:
        if heights.shape != turned_grid(self.grid, rotation).shape:
            raise ValueError(f"a field of shape {heights.shape} does not lie on these columns")

    def _piece_z(self, heights: Heights, rotation: Floats) -> Heights:
        """A field of the standing frame as heights of the piece frame, one for each column (a copy)."""
        field = turned_back(heights.astype(np.float32, copy=False), rotation).reshape(-1)
        if is_over(rotation):
            return np.subtract(np.float32(self.z_to_mm), field, out=field)
        return np.add(field, np.float32(self.z_from_mm), out=field)

    def _cut(self, cut_from: Heights, cut_to: Heights) -> Columns:
        nx = self.grid.nx
        first = np.zeros(self.grid.ny * nx + 1, dtype=np.int32)
        left = first[1:]
        wood = (self.first, self.low, self.high)
        in_strips(lambda a, b: kernels.count_left(*wood, cut_from, cut_to, left, a * nx, b * nx), self.grid.ny)
        np.cumsum(left, out=left)
        low, high = (np.empty(int(first[-1]), dtype=np.float32) for _ in range(2))

        def fill(a: int, b: int) -> None:
            kernels.fill_left(*wood, cut_from, cut_to, first, low, high, a * nx, b * nx)

        in_strips(fill, self.grid.ny)
        return replace(self, first=first, low=low, high=high)

    def box_mm(self) -> tuple[float, float, float, float] | None:
        """The smallest rectangle of cells round the wood, x, y from; x, y to, piece frame; None without wood."""
        has = (np.diff(self.first) > 0).reshape(self.grid.shape)
        rows, cells = np.flatnonzero(has.any(axis=1)), np.flatnonzero(has.any(axis=0))
        if not len(rows):
            return None
        grid, pitch = self.grid, self.grid.pitch_mm
        x0, y0 = grid.x0_mm + float(cells[0]) * pitch, grid.y0_mm + float(rows[0]) * pitch
        return (x0, y0, grid.x0_mm + float(cells[-1] + 1) * pitch, grid.y0_mm + float(rows[-1] + 1) * pitch)

    def volume_mm3(self) -> float:
        """The wood's volume."""
        height_mm = float(self.high.sum(dtype=np.float64) - self.low.sum(dtype=np.float64))
        return height_mm * self.grid.pitch_mm**2

    def pieces(self, least_overlap_mm: float = LEAST_OVERLAP_MM) -> tuple[NDArray[np.int32], int]:
        """The number (0 .. count - 1) of the connected piece of wood that each interval belongs to, and count."""
        label = np.empty(self.low.size, dtype=np.int32)
        return label, int(kernels.join(self.first, self.low, self.high, self.grid.nx, least_overlap_mm, label))

    def loose(
        self, held: Mask, rotation: Floats, least_overlap_mm: float = LEAST_OVERLAP_MM
    ) -> tuple[LooseWood, ...]:
        """Every piece of wood of which nothing rests in a held cell, largest first.

        What is within ``RESTS_MM`` of the support rests on it.

        ``held`` (ny, nx): cells of the standing frame's grid (see ``top``) where the wood on the support is held.
        """
        label, count = self.pieces(least_overlap_mm)
        is_held = np.zeros(count, dtype=bool)
        volume, thick = np.zeros(count), np.zeros((count, 4))
        box = np.tile([np.inf, np.inf, np.inf, -np.inf, -np.inf, -np.inf], (count, 1))
        over = is_over(rotation)
        support_z = float(np.float32(self.z_to_mm if over else self.z_from_mm))
        cells = turned_back(np.asarray(held, dtype=bool), rotation).reshape(-1)
        wood = (self.first, self.low, self.high, self.grid.nx)
        kernels.survey(*wood, label, cells, support_z, RESTS_MM, over, is_held, volume, box, thick)
        free = np.flatnonzero(~is_held)
        free = free[np.argsort(-volume[free], kind="stable")]
        area_mm2 = self.grid.pitch_mm**2
        return tuple(self._loose_wood(volume[c] * area_mm2, box[c], thick[c], rotation) for c in free)

    def _loose_wood(self, volume_mm3: float, box: Floats, thick: Floats, rotation: Floats) -> LooseWood:
        scale = np.array([self.grid.pitch_mm, self.grid.pitch_mm, 1.0])
        corner = np.array([self.grid.x0_mm, self.grid.y0_mm, 0.0])
        lowest = corner + scale * (box[1], box[0], box[2])
        highest = corner + scale * (box[4] + 1, box[3] + 1, box[5])
        inside = corner + scale * (thick[1] + 0.5, thick[0] + 0.5, thick[2])
        lift = np.array([0.0, 0.0, self.z_to_mm if is_over(rotation) else -self.z_from_mm])
        corners = np.stack([lowest, highest]) @ np.asarray(rotation).T + lift
        ends = [*corners.min(axis=0).tolist(), *corners.max(axis=0).tolist()]
        place = (np.asarray(rotation) @ inside + lift).tolist()
        return LooseWood(float(volume_mm3), tuple(ends), tuple(place))
