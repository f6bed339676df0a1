"""Whether the whole assembly has room at a tip, against the wood as it now stands.

Method    lowest clear tip by dilation (field.dilate) over the cells round the region, renewed only when it forbids
          something and wood has been cut since: wood only sinks, so an old answer errs on the safe side.
          The wood counts as high as it can stand anywhere in a cell. The steps are grown by two of the grid's
          reaches: the tip may stand off its cell's centre by one, wood off its own by the other. A tip that this
          forbids is looked at from where it stands, with the second alone.
          Steps no wider than the cutter run where it has cut. Wood over the flutes' length inside the cutter's own
          width is in the way as well.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.field.dilate import tip_clear_of
from witnessmark.field.grid import Grid, Heights
from witnessmark.job.assembly import Assembly
from witnessmark.job.placement import Rectangle

from .wood import Wood

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEVEL_MM = 1e-3
SAME_WIDTH_MM = 1e-6
ROUNDING_MM = 0.01  # what a pass along a wall has just cleared is not in its way


def blocking_steps(assembly: Assembly, reach_mm: float) -> Floats:
    """(k, 3) radius, from, to above the tip of what must not meet wood; the flutes' limit drawn in by two reaches."""
    radius_mm = assembly.cutter.diameter_mm / 2
    steps = [
        (step.radius_mm, step.z_from_mm, step.z_to_mm)
        for step in assembly.rigid_steps()
        if step.radius_mm > radius_mm + SAME_WIDTH_MM
    ]
    shy_mm = 2 * reach_mm + ROUNDING_MM
    if radius_mm > shy_mm:
        steps.append((radius_mm - shy_mm, assembly.cutting_length_mm, assembly.tip_below_nose_mm))
    return np.array(steps, dtype=np.float64).reshape(-1, 3)


class Room:
    """Asks the wood whether the assembly, and a depth of cut, are allowed at tips within a rectangle."""

    def __init__(self, wood: Wood, assembly: Assembly, around_mm: Rectangle, deepest_cut_mm: float) -> None:
        self._wood = wood
        self._steps = blocking_steps(assembly, wood.grid.reach_mm)
        widest_mm = float(self._steps[:, 0].max(initial=0.0)) + 2 * wood.grid.reach_mm
        self._rows, self._columns, self._grid = _around(wood.grid, around_mm, widest_mm)
        self._deepest_cut_mm = deepest_cut_mm
        self._lowest: Heights | None = None
        self._cut_out: Heights | None = None  # the wood that the answer was found from
        self._asked_at = -1

    def allowed(self, points_mm: Floats) -> Flags:
        """Which tips (n, 3) may be cut at: assembly clear, and no more wood over the axis than one cut takes."""
        clear = self.clear(points_mm)
        if not clear.all() and self._asked_at != self._wood.cuts:
            self._lowest = None
            clear = self.clear(points_mm)
        shallow = self._wood.standing_mm(points_mm) - points_mm[:, 2] <= self._deepest_cut_mm
        return np.asarray(clear & shallow)

    def clear(self, points_mm: Floats) -> Flags:
        """Which tips (n, 3) leave the assembly clear of the wood, by the last answer kept."""
        clear = self._clear_by_cell(points_mm)
        forbidden = np.flatnonzero(~clear)
        if len(forbidden) and self._cut_out is not None:
            at = np.ascontiguousarray(points_mm[forbidden], dtype=np.float64)
            frame = (self._grid.x0_mm, self._grid.y0_mm, self._grid.pitch_mm)
            clear[forbidden] = _clear_at(at, self._cut_out, *frame, self._steps, self._wood.grid.reach_mm)
        return clear

    def _clear_by_cell(self, points_mm: Floats) -> Flags:
        lowest, grid = self._field(), self._grid
        i = np.floor((points_mm[:, 0] - grid.x0_mm) / grid.pitch_mm).astype(int)
        j = np.floor((points_mm[:, 1] - grid.y0_mm) / grid.pitch_mm).astype(int)
        on = (i >= 0) & (j >= 0) & (i < grid.nx) & (j < grid.ny)
        tips = np.full(len(points_mm), -np.inf)
        tips[on] = lowest[j[on], i[on]]
        return np.asarray(tips <= points_mm[:, 2] + LEVEL_MM)

    def clear_cells(self, z_mm: float) -> Flags:
        """Cells (ny, nx) of the wood's grid over which the assembly is clear at a tip height, near the rectangle."""
        lowest_step_mm = float(self._steps[:, 1].min(initial=np.inf))
        if self._wood.most.max() <= z_mm + lowest_step_mm:
            return np.ones(self._wood.top.shape, dtype=bool)
        if self._asked_at != self._wood.cuts:
            self._lowest = None
        lowest = self._field()
        j = (self._rows.start or 0) - round((self._grid.y0_mm - self._wood.grid.y0_mm) / self._grid.pitch_mm)
        i = (self._columns.start or 0) - round((self._grid.x0_mm - self._wood.grid.x0_mm) / self._grid.pitch_mm)
        high, wide = self._rows.stop - self._rows.start, self._columns.stop - self._columns.start
        clear = np.ones(self._wood.top.shape, dtype=bool)
        clear[self._rows, self._columns] = lowest[j : j + high, i : i + wide] <= z_mm + LEVEL_MM
        return clear

    def _field(self) -> Heights:
        if self._lowest is None:
            cut_out = self._wood.most[self._rows, self._columns]
            before = (self._grid.ny, self._grid.nx)
            top = np.full(before, -np.inf, dtype=np.float32)
            j = round((self._wood.grid.y0_mm - self._grid.y0_mm) / self._grid.pitch_mm) + (self._rows.start or 0)
            i = round((self._wood.grid.x0_mm - self._grid.x0_mm) / self._grid.pitch_mm) + (self._columns.start or 0)
            top[j : j + cut_out.shape[0], i : i + cut_out.shape[1]] = cut_out
            self._cut_out = top
            self._lowest = tip_clear_of(top, self._grid, self._steps, 2 * self._grid.reach_mm)
            self._asked_at = self._wood.cuts
        return self._lowest


@njit(cache=True, error_model="numpy", nogil=True)
def _clear_at(points: Floats, top: Heights, x0: float, y0: float, pitch: float, steps: Floats, grow: float) -> Flags:
    """Whether no cell's wood within a step's radius, grown, stands higher than the step over a tip, (n,)."""
    ny, nx = top.shape
    clear = np.ones(len(points), dtype=np.bool_)
    for n in range(len(points)):
        x, y = points[n, 0] - x0 - 0.5 * pitch, points[n, 1] - y0 - 0.5 * pitch
        for s in range(len(steps)):
            radius, lowest = steps[s, 0] + grow, points[n, 2] + steps[s, 1] + LEVEL_MM
            for j in range(
                max(0, math.ceil((y - radius) / pitch)), min(ny - 1, math.floor((y + radius) / pitch)) + 1
            ):
                half = math.sqrt(max(0.0, radius * radius - (j * pitch - y) ** 2))
                for i in range(
                    max(0, math.ceil((x - half) / pitch)), min(nx - 1, math.floor((x + half) / pitch)) + 1
                ):
                    if top[j, i] > lowest:
                        clear[n] = False
                        break
                if not clear[n]:
                    break
            if not clear[n]:
                break
    return clear


def _around(grid: Grid, rectangle_mm: Rectangle, margin_mm: float) -> tuple[slice, slice, Grid]:
    """Rows and columns of the grid near a rectangle, and a grid of the same cells that may reach beyond it."""
    x0, y0, x1, y1 = rectangle_mm
    pitch = grid.pitch_mm
    i0, i1 = math.floor((x0 - margin_mm - grid.x0_mm) / pitch), math.ceil((x1 + margin_mm - grid.x0_mm) / pitch)
    j0, j1 = math.floor((y0 - margin_mm - grid.y0_mm) / pitch), math.ceil((y1 + margin_mm - grid.y0_mm) / pitch)
    wider = Grid(grid.x0_mm + i0 * pitch, grid.y0_mm + j0 * pitch, pitch, max(1, i1 - i0), max(1, j1 - j0))
    rows = slice(min(max(j0, 0), grid.ny), min(max(j1, 0), grid.ny))
    columns = slice(min(max(i0, 0), grid.nx), min(max(i1, 0), grid.nx))
    return rows, columns, wider
