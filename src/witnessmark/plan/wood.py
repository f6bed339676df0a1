"""The blank as columns of wood: how planning starts."""

from __future__ import annotations

import numpy as np

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.job.models import Job

from .candidates import BlankBox


def whole_blank(box: BlankBox, pitch_mm: float, margin_mm: float = 0.0) -> Columns:
    """The uncut blank in the piece frame; the grid runs ``margin_mm`` beyond it, where there is no wood."""
    x0, y0, z0 = (float(v) for v in box.lower_mm)
    x1, y1, z1 = (float(v) for v in box.upper_mm)
    margin_mm = np.ceil(margin_mm / pitch_mm) * pitch_mm
    grid = Grid.over(x0 - margin_mm, y0 - margin_mm, x1 + margin_mm, y1 + margin_mm, pitch_mm)
    inside = (
        (grid.x_mm[None, :] > x0) & (grid.x_mm[None, :] < x1) & (grid.y_mm[:, None] > y0) & (grid.y_mm[:, None] < y1)
    )
    return Columns.block(grid, z0, z1, inside)


def plan_margin_mm(job: Job) -> float:
    """How far the planning grid runs beyond the blank: the axis may stand outside it."""
    return max(cutter.diameter_mm for cutter in job.cutters) + job.settings.trench_mm
