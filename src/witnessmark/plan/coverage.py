"""What each candidate could reach at best, on a coarse grid: the elements of the bound.

Optimistic on purpose: all wood but the piece is gone, the assembly meets the piece at its lowest over each cell and
shrinks by half a cell's diagonal; but only what the cutter surely must cut is asked for (the piece at its highest,
the cutter grown). So a candidate that fails here can never do it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.dilate import lowered_by, tip_clear_of, tip_over_surface
from witnessmark.field.grid import Grid, Heights
from witnessmark.job.frames import Rigid
from witnessmark.job.placement import Placement, Rectangle
from witnessmark.shapes.solid import Solid

from .spindle import Reachable
from .tops import piece_tops

COARSE_MM = 2.0
SAME_MM = 0.05  # a floor within this of the wanted one counts as reached


@dataclass(frozen=True, eq=False)
class SideView:
    """One side up, seen coarsely: wanted tips, what they would leave, and the lowest tips the assembly allows."""

    grid: Grid
    wanted_tips: Heights
    wanted_floor: Heights
    allowed_tips: Heights
    elements: NDArray[np.bool_]


def side_view(
    piece: Solid,
    stand: Rigid,
    blank_mm: Rectangle,
    blank_height_mm: float,
    through_z_mm: float,
    trench_mm: float,
    spindle: Reachable,
    pitch_mm: float = COARSE_MM,
) -> SideView:
    """Look at the piece as it stands; wood above ``through_z_mm`` is wanted away within the trench round it."""
    margin_mm = spindle.cutter.diameter_mm + trench_mm
    grid = Grid.over(
        blank_mm[0] - margin_mm, blank_mm[1] - margin_mm, blank_mm[2] + margin_mm, blank_mm[3] + margin_mm, pitch_mm
    )
    lowest, highest = piece_tops(piece, stand, grid)
    shrink = -grid.reach_mm
    radius_mm = spindle.cutter.diameter_mm / 2
    over = tip_over_surface(highest, grid, spindle.profile, grid.reach_mm)
    footprint = np.where(np.isfinite(highest), np.float32(0), np.float32(-np.inf)).astype(np.float32)
    near = np.isfinite(tip_clear_of(footprint, grid, np.array([[radius_mm + trench_mm, 0.0, 1.0]])))
    tips = np.where(np.isfinite(highest), over, np.maximum(over, np.float32(through_z_mm)))
    wanted = np.where(near & (tips < blank_height_mm - SAME_MM), tips, np.float32(np.inf)).astype(np.float32)
    clear = np.maximum(tip_clear_of(lowest, grid, spindle.steps, shrink), np.float32(spindle.lowest_tip_mm))
    floor = lowered_by(wanted, grid, spindle.profile)
    inside = (
        (grid.x_mm[None, :] > blank_mm[0])
        & (grid.x_mm[None, :] < blank_mm[2])
        & (grid.y_mm[:, None] > blank_mm[1])
        & (grid.y_mm[:, None] < blank_mm[3])
    )
    return SideView(grid, wanted, floor, clear, (floor < blank_height_mm - SAME_MM) & inside)


def best_tips(view: SideView) -> Heights:
    """The wanted tips that the assembly allows; +inf elsewhere."""
    tips = np.where(view.wanted_tips >= view.allowed_tips - SAME_MM, view.wanted_tips, np.float32(np.inf))
    return np.asarray(tips, dtype=np.float32)


def covered_by(
    view: SideView, spindle: Reachable, window_mm: Rectangle | None, best: Heights | None = None
) -> NDArray[np.bool_]:
    """Which elements (m,) a placement with this window could finish at best; no window: an endless machine.

    ``best``: the view's ``best_tips``, where many windows are asked about.
    """
    tips = best_tips(view) if best is None else best
    if window_mm is None:
        floor = lowered_by(tips, view.grid, spindle.profile)
        return np.asarray(floor[view.elements] <= view.wanted_floor[view.elements] + SAME_MM)
    x, y, half = view.grid.x_mm, view.grid.y_mm, view.grid.pitch_mm / 2
    rows = np.flatnonzero((y >= window_mm[1] - half) & (y <= window_mm[3] + half))
    cells = np.flatnonzero((x >= window_mm[0] - half) & (x <= window_mm[2] + half))
    done = np.zeros(view.grid.shape, dtype=bool)
    if rows.size and cells.size:
        wide = math.ceil(spindle.cutter.diameter_mm / 2 / view.grid.pitch_mm) + 1  # beyond it the tips leave no mark
        near = (_span(rows, wide, view.grid.ny), _span(cells, wide, view.grid.nx))
        part = Grid(0.0, 0.0, view.grid.pitch_mm, near[1].stop - near[1].start, near[0].stop - near[0].start)
        some = np.full(part.shape, np.inf, dtype=np.float32)
        within = slice(rows[0], rows[-1] + 1), slice(cells[0], cells[-1] + 1)
        at = tuple(slice(w.start - n.start, w.stop - n.start) for w, n in zip(within, near))
        some[at] = tips[within]
        done[near] = lowered_by(some, part, spindle.profile) <= view.wanted_floor[near] + SAME_MM
    return np.asarray(done[view.elements])


def _span(index: NDArray[np.int64], wide: int, count: int) -> slice:
    return slice(max(0, int(index[0]) - wide), min(count, int(index[-1]) + 1 + wide))


def coverage(
    view: SideView, spindle: Reachable, placements: list[Placement], travel_mm: tuple[float, float], slack_mm: float
) -> NDArray[np.bool_]:
    """(n candidates, m elements): who could finish what."""
    best = best_tips(view)
    windows = [place.window_mm(travel_mm[0], travel_mm[1], slack_mm) for place in placements]
    return np.stack([covered_by(view, spindle, window, best) for window in windows])
