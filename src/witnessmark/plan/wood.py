"""The blank as columns of wood: how planning starts."""

from __future__ import annotations

import numpy as np
import shapely
from scipy.ndimage import maximum_filter

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid, Heights
from witnessmark.field.turns import turned_grid
from witnessmark.job.models import Blank, Job

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


def ringed(whole: Columns, blank: Blank) -> Columns:
    """A whole blank without the hollows of its rings."""
    if not blank.hollows:
        return whole
    x, y = np.meshgrid(whole.grid.x_mm, whole.grid.y_mm)
    for hollow in blank.hollows:
        area = shapely.Polygon(hollow.outline_mm)
        shapely.prepare(area)
        inside = shapely.contains_xy(area, x, y)
        low = np.where(inside, np.float32(hollow.z_from_mm), np.float32(np.inf))
        high = np.where(inside, np.float32(hollow.z_to_mm), np.float32(-np.inf))
        whole = whole.without(low, high, np.eye(3))
    return whole


def as_it_is(whole: Columns, stock: Columns | None, widest: bool = False) -> Columns:
    """A whole blank cut down to the wood that is left of it, ``stock``, whatever that one's pitch; None: untouched.

    What is hollow inside, seen neither from above nor from beneath, counts as wood. ``widest``: the most wood that
    any place of a cell, or beside it, still has; else what there is at its centre.
    """
    if stock is None:
        return whole
    for up in (np.eye(3), np.diag([1.0, -1.0, -1.0])):
        top, grid = stock.top(up)
        mine = turned_grid(whole.grid, up)
        if widest:
            cells = 2 * int(np.ceil(mine.pitch_mm / 2 / grid.pitch_mm)) + 3
            top = maximum_filter(top, size=cells, mode="constant", cval=-np.inf)
        whole = whole.lowered(_sampled(top, grid, mine), up)
    return whole


def _sampled(field: Heights, grid: Grid, at: Grid) -> Heights:
    """A field at the cells of another grid; -inf beyond its own."""
    i = np.floor((at.x_mm - grid.x0_mm) / grid.pitch_mm).astype(np.int64)
    j = np.floor((at.y_mm - grid.y0_mm) / grid.pitch_mm).astype(np.int64)
    inside = ((j >= 0) & (j < grid.ny))[:, None] & ((i >= 0) & (i < grid.nx))[None, :]
    taken = field[np.clip(j, 0, grid.ny - 1)[:, None], np.clip(i, 0, grid.nx - 1)[None, :]]
    return np.where(inside, taken, np.float32(-np.inf))


def plan_margin_mm(job: Job) -> float:
    """How far the planning grid runs beyond the blank: the axis may stand outside it."""
    return max(cutter.diameter_mm for cutter in job.planned_cutters) + job.settings.trench_mm
