"""What still holds the work once a placement has cut, and what to do where that is too little."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import RESTS_MM, Columns
from witnessmark.field.turns import is_over, turned, turned_back
from witnessmark.job import catalog
from witnessmark.job.frames import Floats
from witnessmark.job.models import Job, PieceSpec
from witnessmark.job.placement import Placement, Rectangle
from witnessmark.proof.holding import held_cells
from witnessmark.shapes.solid import Solid
from witnessmark.wood.hold import Contact, Margin, Push, hardest, margin

__all__ = ["Margin", "hold_after", "hold_notes", "least_held_note", "stands_alone"]

Mask = NDArray[np.bool_]


def hold_after(job: Job, spec: PieceSpec, columns: Columns, place: Placement, piece_mm: Rectangle) -> Margin:
    """The margin with what rests of the wood that the piece is in, ``columns`` being what the placement leaves.

    ``piece_mm``: the piece's rectangle, standing frame.
    """
    rotation = place.stand.rotation
    top, grid = columns.top(rotation)
    x0, y0, x1, y1 = piece_mm
    near = ((grid.y_mm > y0) & (grid.y_mm < y1))[:, None] & ((grid.x_mm > x0) & (grid.x_mm < x1))[None, :]
    rests = _rests(columns, rotation, near) & held_cells(place, grid)
    high_mm = float(top[near].max(initial=0.0))
    return margin(Contact.of_cells(rests, grid.pitch_mm), _push(job, spec, high_mm), job.holding)


def _rests(columns: Columns, rotation: Floats, near: Mask) -> Mask:
    """Cells where the connected wood that most of the piece is in (most within ``near``) lies on the support."""
    if not columns.low.size:
        return np.zeros(near.shape, dtype=bool)
    label, count = columns.pieces()
    within = turned_back(near, rotation).reshape(-1)
    cell = np.repeat(np.arange(within.size), np.diff(columns.first))
    volume = np.bincount(label, weights=(columns.high - columns.low) * within[cell], minlength=count)
    over = is_over(rotation)
    has = np.diff(columns.first) > 0
    lowest = np.where(has, columns.first[:-1] if over is False else columns.first[1:] - 1, 0)
    mine = has & (label[lowest] == int(np.argmax(volume)))
    bottom, _ = columns.bottom(rotation)
    return turned(mine.reshape(columns.grid.shape), rotation) & (bottom <= RESTS_MM)


def stands_alone(job: Job, spec: PieceSpec, piece: Solid, face_mm: float) -> Margin:
    """The margin of the piece on one of its own faces (at a height of the piece frame), with nothing round it."""
    low, high = piece.bounds_mm
    return margin(Contact.of_area(piece.section(face_mm)), _push(job, spec, float(high[2] - low[2])), job.holding)


def _push(job: Job, spec: PieceSpec, high_mm: float) -> Push:
    wood = catalog.species().get(spec.blank.species)
    return hardest(list(job.planned_cutters), wood, job.settings, high_mm)


def hold_notes(job: Job, found: Margin) -> tuple[str, ...]:
    """A line where the margin is less than is asked for, with what would bring it there."""
    enough = job.holding.enough_ratio
    if found.least_ratio >= enough:
        return ()
    way = "slide" if found.slides_ratio <= found.tips_ratio else "tip"
    short = enough / max(found.least_ratio, 1e-3)
    push = found.push
    return (
        f"the work may {way}: what holds it in the end bears {found.least_ratio:.1f} times what {push.cutter} may "
        f"push ({push.slot_n:.0f} N in a slot, {push.finishing_n:.0f} N at {push.at_mm:.0f} mm height); {enough:g} "
        f"times is asked for: leave bridges, hold {short:.1f} times as much (tape, clamps on the waste), or take "
        f"{1.0 / short:.0%} of the stepdown",
    )


def least_held_note(job: Job, margins: list[Margin]) -> str:
    """The least margin of a piece's placements, in words."""
    least = min(margins, key=lambda found: found.least_ratio)
    way = "sliding" if least.slides_ratio <= least.tips_ratio else "tipping"
    return (
        f"held: at the end of each placement what rests bears {least.least_ratio:.1f} times the cutter's push "
        f"or more (the least by {way}; tape taken to lift off at {job.holding.tape_pull_n_cm2:g} N/cm2)"
    )
