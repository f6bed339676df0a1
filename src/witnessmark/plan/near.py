"""A placement evaluated on its own part of a large blank: what its window, its region and the assembly come near.

Nothing beyond matters to it: the axis stays inside the window, and no part of the assembly reaches further than its
greatest radius. The answer is laid back on the whole grid, cell by cell as if all had been evaluated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.field.turns import turned_back, turned_grid
from witnessmark.job.models import Job
from witnessmark.job.placement import Placement, Rectangle
from witnessmark.shapes.solid import Solid

from .evaluate import ROUND_CONTOURS_MM, Evaluation, evaluate
from .spindle import Reachable

_T = TypeVar("_T", bound=np.generic)

WORTH_RATIO = 0.6  # a part of more than this of the grid is not worth cutting out
SPARE_CELLS = 3


@dataclass(frozen=True)
class Patch:
    """Rows j0 to j1 and columns i0 to i1 of a grid."""

    whole: Grid
    j0: int
    j1: int
    i0: int
    i1: int

    @staticmethod
    def over(grid: Grid, rectangle_mm: Rectangle) -> Patch:
        """The cells that a rectangle touches; at least one."""
        low = np.array([rectangle_mm[0] - grid.x0_mm, rectangle_mm[1] - grid.y0_mm]) / grid.pitch_mm
        high = np.array([rectangle_mm[2] - grid.x0_mm, rectangle_mm[3] - grid.y0_mm]) / grid.pitch_mm
        most = np.array([grid.nx, grid.ny])
        first = np.clip(np.floor(low).astype(int), 0, most - 1)
        last = np.clip(np.ceil(high).astype(int), first + 1, most)
        return Patch(grid, int(first[1]), int(last[1]), int(first[0]), int(last[0]))

    @property
    def grid(self) -> Grid:
        whole = self.whole
        x0_mm, y0_mm = whole.x0_mm + self.i0 * whole.pitch_mm, whole.y0_mm + self.j0 * whole.pitch_mm
        return Grid(x0_mm, y0_mm, whole.pitch_mm, self.i1 - self.i0, self.j1 - self.j0)

    @property
    def cells(self) -> int:
        return (self.i1 - self.i0) * (self.j1 - self.j0)

    @property
    def share_ratio(self) -> float:
        return self.cells / (self.whole.nx * self.whole.ny)

    def laid(self, part: NDArray[_T], ground: NDArray[_T]) -> NDArray[_T]:
        """The part laid on a copy of the whole field ``ground``."""
        field = ground.copy()
        field[self.j0 : self.j1, self.i0 : self.i1] = part
        return field


def patch_of(job: Job, place: Placement, grid: Grid, spindles: Sequence[Reachable]) -> Patch:
    """All that the placement's window and region come near, on its standing grid."""
    machine, settings = job.machine, job.settings
    window = place.window_mm(machine.travel_x_mm, machine.travel_y_mm, settings.travel_slack_mm)
    region = place.region_mm
    reach_mm = max(float(spindle.steps[:, 0].max()) for spindle in spindles)
    over_mm = settings.seam_overlap_mm + ROUND_CONTOURS_MM
    cutters_mm = max(spindle.cutter.diameter_mm for spindle in spindles) + settings.trench_mm
    room_mm = max(reach_mm, over_mm, cutters_mm) + SPARE_CELLS * grid.pitch_mm
    low = np.minimum(window[:2], region[:2]) - room_mm
    high = np.maximum(window[2:], region[2:]) + room_mm
    return Patch.over(grid, (float(low[0]), float(low[1]), float(high[0]), float(high[1])))


def evaluate_near(
    job: Job,
    place: Placement,
    piece: Solid,
    columns: Columns,
    main: Reachable,
    finishing: Sequence[Reachable] = (),
) -> Evaluation:
    """``evaluate``, on the part of the blank alone that the placement comes near."""
    grid = turned_grid(columns.grid, place.stand.rotation)
    patch = patch_of(job, place, grid, (main, *finishing))
    if patch.share_ratio > WORTH_RATIO:
        return evaluate(job, place, piece, columns, main, finishing)
    found = evaluate(job, place, piece, columns_of(columns, patch, place), main, finishing)
    top, _ = columns.top(place.stand.rotation)
    nowhere, none = np.float32(np.inf), np.float32(0)
    return replace(
        found,
        grid=grid,
        top_before=top,
        top_after=patch.laid(found.top_after, top),
        tips=patch.laid(found.tips, np.full(grid.shape, nowhere)),
        wanted=patch.laid(found.wanted, np.full(grid.shape, nowhere)),
        clearance=patch.laid(found.clearance, np.full(grid.shape, none)),
        unreached=patch.laid(found.unreached, np.zeros(grid.shape, dtype=bool)),
    )


def columns_of(columns: Columns, patch: Patch, place: Placement) -> Columns:
    """The columns of wood under a patch of the standing grid (piece frame, as they lie)."""
    inside = np.zeros(patch.whole.shape, dtype=bool)
    inside[patch.j0 : patch.j1, patch.i0 : patch.i1] = True
    inside = turned_back(inside, place.stand.rotation)
    rows, cells = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    part = Patch(columns.grid, int(rows[0]), int(rows[-1]) + 1, int(cells[0]), int(cells[-1]) + 1)
    kept = np.flatnonzero(inside.ravel())
    count = np.diff(columns.first)[kept]
    first = np.concatenate([np.zeros(1, np.int32), np.cumsum(count, dtype=np.int32)])
    index = np.repeat(columns.first[:-1][kept] - first[:-1], count) + np.arange(first[-1])
    return replace(columns, grid=part.grid, first=first, low=columns.low[index], high=columns.high[index])
