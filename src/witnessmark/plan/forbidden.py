"""What stays uncut because a side was forbidden: where, how much, and what allowing that side would do."""

from __future__ import annotations

import numpy as np

from witnessmark.field.grid import Heights
from witnessmark.field.parts import regions
from witnessmark.job.errors import Refusal
from witnessmark.job.models import Job, PieceSpec
from witnessmark.job.wishes import forbidden_of
from witnessmark.shapes.solid import Solid

from .candidates import candidates
from .coverage import SideView
from .search import SIDES_UP, Layout, coarse_view, layout_of, through_z_mm
from .spindle import main_cutter, reachable
from .table import side_words
from .tops import piece_tops

LEAST_LEFT_MM = 0.05  # a skin thinner than this is no wood left


def forbidden_notes(job: Job, spec: PieceSpec, piece: Solid, layout: Layout) -> tuple[str, ...]:
    """One note for each forbidden side that is needed, largest region first by its place; none where none is."""
    notes = []
    for up in (side for side in SIDES_UP if side in forbidden_of(job, spec)):
        seen = _left(job, spec, piece, layout, up)
        if seen is None:
            continue
        view, left = seen
        cell_mm2 = view.grid.pitch_mm**2
        labels, count = regions(left > 0, corners=True)
        volume_mm3 = (
            np.bincount(labels.ravel(), weights=left.ravel().astype(np.float64), minlength=count + 1) * cell_mm2
        )
        largest = int(np.argmax(volume_mm3[1:])) + 1
        rows, cells = np.nonzero(labels == largest)
        middle = int(np.argmin((rows - rows.mean()) ** 2 + (cells - cells.mean()) ** 2))
        x_mm, y_mm = view.grid.x_mm[cells[middle]], view.grid.y_mm[rows[middle]]
        area_mm2 = float((left > 0).sum() * cell_mm2)
        where = f"the largest of {count} regions" if count > 1 else "all of it"
        notes.append(
            f"the side {side_words(up)} up is forbidden: about {area_mm2 / 100:.1f} cm2 "
            f"({float(volume_mm3[1:].sum()) / 1000:.1f} cm3) that is wanted from there stays uncut, up to "
            f"{float(left.max()):.1f} mm of wood; {where} is near x {x_mm:z.0f} y {y_mm:z.0f} with that side up; "
            f"{_allowed(job, spec, piece, layout, up)}"
        )
    return tuple(notes)


def _left(job: Job, spec: PieceSpec, piece: Solid, layout: Layout, up: str) -> tuple[SideView, Heights] | None:
    """The forbidden side as the bound sees it, and the wood (ny, nx) that it alone would cut, mm; None where none.

    Beside the piece the other side cuts from below as far as its own walls go.
    """
    overlap_mm = job.settings.through_overlap_mm
    place = candidates(job, spec, layout.box, up)[0]
    through_mm = through_z_mm(layout.box, up, layout.meeting_mm, overlap_mm)
    spindle = reachable(main_cutter(job), job.machine, job.settings)
    view = coarse_view(job, piece, layout.box, place, through_mm, spindle)
    if not view.elements.any():
        return None
    height_mm = float(layout.box.size_mm[2])
    others = [through_z_mm(layout.box, side.up, layout.meeting_mm, overlap_mm) for side in layout.sides]
    bottom_mm = height_mm - min([*others, height_mm])
    _, highest = piece_tops(piece, place.stand, view.grid)
    floor = np.where(np.isfinite(highest), view.wanted_floor, np.maximum(view.wanted_floor, np.float32(bottom_mm)))
    left = np.where(view.elements, np.float32(height_mm) - floor, np.float32(0))
    left[left < LEAST_LEFT_MM] = 0
    return (view, left) if (left > 0).any() else None


def _allowed(job: Job, spec: PieceSpec, piece: Solid, layout: Layout, up: str) -> str:
    """What allowing the side would do, found by laying the piece out with it."""
    wish, own = job.wish, spec.wish
    free_job = job.model_copy(
        update={"wish": wish.model_copy(update={"forbid_sides": tuple(s for s in wish.forbid_sides if s != up)})}
    )
    free_spec = spec.model_copy(
        update={"wish": own.model_copy(update={"forbid_sides": tuple(s for s in own.forbid_sides if s != up)})}
    )
    try:
        free = layout_of(free_job, free_spec, piece, layout.meeting)
    except Refusal:
        return f"allowing {up} would not help: the piece cannot be set up so"
    side = next((side for side in free.sides if side.up == up), None)
    if side is None or not side.placements:
        return f"allowing {up} would not help: no placement reaches it from there either"
    what = "reaches it" if side.unreached == 0 else f"reaches {1 - side.unreached / side.wanted:.0%} of it"
    same = free.bound == layout.bound
    count = "as many placements" if same else f"{free.bound} placements instead of {layout.bound}"
    return f"allowing {up} {what}, at best in {count}"
