"""The blank as columns of wood: how planning starts."""

from __future__ import annotations

import numpy as np

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.job.models import Job

from .candidates import BlankBox


def whole_blank(box: BlankBox, pitch_mm: float, margin_mm: float = 0.0, rim_cells: int = 0) -> Columns:
    """The uncut blank in the piece frame; the grid runs ``margin_mm`` beyond it, where there is no wood.

    ``rim_cells``: this many cells round the blank count as wood too (one: every cell that the blank reaches into).
    """
    x0, y0, z0 = (float(v) for v in box.lower_mm)
    x1, y1, z1 = (float(v) for v in box.upper_mm)
    margin_mm = np.ceil(margin_mm / pitch_mm) * pitch_mm
    grid = Grid.over(x0 - margin_mm, y0 - margin_mm, x1 + margin_mm, y1 + margin_mm, pitch_mm)
    rim_mm = rim_cells * pitch_mm
    along_x = (grid.x_mm > x0 - rim_mm) & (grid.x_mm < x1 + rim_mm)
    inside = along_x[None, :] & ((grid.y_mm > y0 - rim_mm) & (grid.y_mm < y1 + rim_mm))[:, None]
    return Columns.block(grid, z0, z1, inside, (x0, y0, x1, y1))


def plan_margin_mm(job: Job) -> float:
    """How far the planning grid runs beyond the blank: the axis may stand outside it."""
    return max(cutter.diameter_mm for cutter in job.planned_cutters) + job.settings.trench_mm
