"""When no placement cuts anything: which region, why, and the smallest change that was found by laying it out again.

The reasons are those of the real floors, from the placement whose travel lies over most of what is wanted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from witnessmark.job.errors import Refusal, Trouble, refuse
from witnessmark.job.models import Job, PieceSpec
from witnessmark.shapes.solid import Solid

from .candidates import candidates, with_bolt_heads
from .change import search_changes
from .evaluate import evaluate
from .forbidden import forbidden_notes
from .search import Layout, SideChoice, through_z_mm, why_short
from .spindle import main_cutter, reachable
from .table import side_words
from .wood import plan_margin_mm, whole_blank

REASONS_PITCH_MM = 1.0  # cells on which the reasons are looked for


def must_cut_something(job: Job, spec: PieceSpec, piece: Solid, layout: Layout) -> None:
    """Refuse a layout in which no placement would cut anything."""
    if layout.bound > 0:
        return
    where = f"piece {spec.name}"
    if not layout.sides:
        told = forbidden_notes(job, spec, piece, layout)
        if told:
            raise Refusal(*(Trouble(where, note, ("allow that side (wish.forbid_sides)",)) for note in told))
        larger, right = "make the blank larger than the piece", "or see whether shape and blank are the right ones"
        raise refuse(where, "fills its blank: there is nothing to cut", larger, right)
    remedies = tuple(_remedies(job, spec, piece, layout))
    raise Refusal(
        *(
            Trouble(f"{where}, {side_words(side.up)} up", _what(job, spec, piece, layout, side), remedies)
            for side in layout.sides
        )
    )


def side_notes(job: Job, spec: PieceSpec, piece: Solid, layout: Layout) -> tuple[str, ...]:
    """For each side that takes no placement though it wants something: which region stays uncut, and why."""
    empty = [side for side in layout.sides if not side.placements]
    return tuple(f"{side_words(side.up)} up: {_what(job, spec, piece, layout, side)}" for side in empty)


def _what(job: Job, spec: PieceSpec, piece: Solid, layout: Layout, side: SideChoice) -> str:
    reasons = reasons_of(job, spec, piece, layout, side.up) or (why_short(side),)
    return f"no placement reaches anything of it: {'; '.join(reasons)}"


def reasons_of(job: Job, spec: PieceSpec, piece: Solid, layout: Layout, up: str) -> tuple[str, ...]:
    """Places and reasons on the real floors, with the blank in the middle of the travel."""
    found = candidates(job, spec, layout.box, up)
    place = with_bolt_heads(job.machine, found[len(found) // 2])
    overlap_mm = job.settings.through_overlap_mm
    place = replace(place, through_z_mm=through_z_mm(layout.box, up, layout.meeting_mm, overlap_mm))
    pitch_mm = max(REASONS_PITCH_MM, job.settings.plan_pitch_mm)
    columns = whole_blank(layout.box, pitch_mm, plan_margin_mm(job))
    main = reachable(main_cutter(job), job.machine, job.settings)
    return evaluate(job, place, piece, columns, main).reasons


def _remedies(job: Job, spec: PieceSpec, piece: Solid, layout: Layout) -> Iterator[str]:
    """Changes, laid out, that reach everything at best; else those that reach anything; else what to look at."""
    best = search_changes(job, spec, piece, layout.meeting, lambda new: new.bound > 0 and new.unreached == 0)
    if best.changes:
        yield from (f"to reach everything at best: {change.words}" for change in best.changes)
        return
    some = search_changes(job, spec, piece, layout.meeting, lambda new: new.bound > 0)
    yield from (f"to reach any of it: {change.words}" for change in some.changes)
    if not some.changes:
        tried = best.tried + some.tried
        yield f"no single change of {tried} tried would do: make it in layers (witnessmark layers), or redraw it"
        if layout.beyond_travel:
            yield "see whether travel and shape are in the right unit"
        else:
            yield "see whether the sizes of cutter, nut and nose are in the right unit"
