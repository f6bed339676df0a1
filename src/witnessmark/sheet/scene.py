"""What a drawing of a placement needs, gathered once: fields, frames and names; nothing is computed anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights
from witnessmark.job.models import Job, Machine
from witnessmark.job.placement import Rectangle
from witnessmark.plan.board import Seat, blank_on_bed, seat_of
from witnessmark.plan.model import PiecePlan, PlacementPlan
from witnessmark.shapes.solid import Solid

from .palette import BED, BOARD, WOOD, WOOD_CUT_EARLIER, mixed, placement_colour, rgb

Floats = NDArray[np.float64]

CUT_MM = 0.02  # less than this is no cut worth colouring
MARGIN_MM = 22.0  # bed shown round what stands on it


@dataclass(frozen=True, eq=False)
class Scene:
    """Placement ``number`` of its piece on the bed.

    Bed mm, from the front left corner of the travel; heights above the supporting face.
    """

    number: int
    plan: PlacementPlan
    machine: Machine
    solid: Solid | None = None  # the piece, piece frame
    stem: str = ""  # what its pictures' names begin with

    @property
    def colour(self) -> str:
        return placement_colour(self.number)

    @cached_property
    def grid(self) -> Grid:
        """The plan's grid, on the bed."""
        grid, (dx, dy) = self.plan.grid, self.plan.placement.shift_mm
        return Grid(grid.x0_mm + dx, grid.y0_mm + dy, grid.pitch_mm, grid.nx, grid.ny)

    @cached_property
    def blank_mm(self) -> Rectangle:
        """The blank on the bed: what is held, or else what stands in the field."""
        grid, stands = self.plan.grid, self.plan.top_before > 0
        i, j = np.flatnonzero(stands.any(axis=0)), np.flatnonzero(stands.any(axis=1))
        ends = np.array([[i[0], j[0]], [i[-1] + 1, j[-1] + 1]]) if len(i) else np.zeros((0, 2))
        corners = np.array([grid.x0_mm, grid.y0_mm]) + ends * grid.pitch_mm
        held = np.array([point for hold in self.plan.placement.holds for point in hold.outline_mm]).reshape(-1, 2)
        points = np.concatenate([corners, held])
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        return blank_on_bed(self.plan.placement, (float(x0), float(y0), float(x1), float(y1)))

    @cached_property
    def seat(self) -> Seat | None:
        dx, dy = self.plan.placement.shift_mm
        x0, y0, x1, y1 = self.blank_mm
        return seat_of(self.machine, self.plan.placement, (x0 - dx, y0 - dy, x1 - dx, y1 - dy))

    @cached_property
    def shown_mm(self) -> Rectangle:
        """All that the picture from above shows."""
        boxes = [self.blank_mm, (0.0, 0.0, self.machine.travel_x_mm, self.machine.travel_y_mm)]
        if self.seat is not None:
            boxes.append(self.seat.board_mm)
        lows, highs = [min(box[k] for box in boxes) for k in (0, 1)], [max(box[k] for box in boxes) for k in (2, 3)]
        return (lows[0] - MARGIN_MM, lows[1] - MARGIN_MM, highs[0] + MARGIN_MM, highs[1] + MARGIN_MM)

    @cached_property
    def outline(self) -> shapely.Geometry | None:
        """The piece from above, on the bed."""
        if self.solid is None:
            return None
        placement = self.plan.placement
        moved = self.solid.moved(placement.standing_to_program @ placement.stand)
        return moved.silhouette().simplify(0.05)

    @cached_property
    def cut(self) -> NDArray[np.bool_]:
        return np.asarray(self.plan.top_after < self.plan.top_before - np.float32(CUT_MM))

    @cached_property
    def cleared(self) -> NDArray[np.bool_]:
        return np.asarray(self.plan.clearance > CUT_MM)

    @cached_property
    def colours(self) -> Floats:
        """Colour of every cell (ny, nx, 3): cut here, cut earlier, not yet cut, or through to what lies beneath."""
        before, after = self.plan.top_before, self.plan.top_after
        image = np.tile(rgb(WOOD), (*self.grid.shape, 1))
        image[before < float(before.max()) - CUT_MM] = rgb(WOOD_CUT_EARLIER)
        image[self.cut] = mixed(WOOD_CUT_EARLIER, self.colour, 0.42)
        image[~(after > CUT_MM)] = rgb(BOARD if self.seat is not None else BED)
        return image

    def on_board(self, margin_mm: float = 12.0) -> tuple[Grid, Heights, Floats]:
        """The field laid on its board and a strip of bed: grid, heights, colours, for the oblique view."""
        grid = self.grid
        box = self.seat.board_mm if self.seat is not None else self.blank_mm
        x0 = min(box[0], grid.x0_mm) - margin_mm
        y0 = min(box[1], grid.y0_mm) - margin_mm
        x1 = max(box[2], grid.x0_mm + grid.nx * grid.pitch_mm) + margin_mm
        y1 = max(box[3], grid.y0_mm + grid.ny * grid.pitch_mm) + margin_mm
        left, below = (round((a - b) / grid.pitch_mm) for a, b in ((grid.x0_mm, x0), (grid.y0_mm, y0)))
        nx, ny = int((x1 - x0) / grid.pitch_mm), int((y1 - y0) / grid.pitch_mm)
        wide = Grid(grid.x0_mm - left * grid.pitch_mm, grid.y0_mm - below * grid.pitch_mm, grid.pitch_mm, nx, ny)
        heights = wide.full(-self.machine.support_z_bed_mm)
        colours = np.tile(rgb(BED), (*wide.shape, 1))
        if self.seat is not None:
            on = _within(wide, self.seat.board_mm)
            heights[on], colours[on] = 0.0, rgb(BOARD)
        part = (slice(below, below + grid.ny), slice(left, left + grid.nx))
        blank = np.isfinite(self.plan.top_before) & (self.plan.top_before > 0)
        heights[part][blank] = np.maximum(self.plan.top_after, 0.0)[blank]
        colours[part][blank] = self.colours[blank]
        return wide, heights, colours


def _within(grid: Grid, box_mm: Rectangle) -> NDArray[np.bool_]:
    x, y = grid.x_mm[None, :], grid.y_mm[:, None]
    return np.asarray((x >= box_mm[0]) & (x <= box_mm[2]) & (y >= box_mm[1]) & (y <= box_mm[3]))


def scenes_of(
    job: Job, plans: Sequence[PiecePlan], solids: Mapping[str, Solid]
) -> list[tuple[PiecePlan, list[Scene]]]:
    """Placements of all pieces, numbered from 1 in each; pictures are told apart by the piece's number as well."""
    return [
        (
            plan,
            [
                Scene(
                    number, step, job.machine, solids.get(plan.piece.name), stem=f"piece-{piece}-placement-{number}"
                )
                for number, step in enumerate(plan.placements, start=1)
            ],
        )
        for piece, plan in enumerate(plans, start=1)
    ]
