"""The smallest change that would do: found by laying the piece out again, never guessed.

Each knob is turned in small steps until the layout is better; the least turn of each that works is an answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from witnessmark.job.errors import Refusal
from witnessmark.job.models import Job, PieceSpec
from witnessmark.shapes.solid import Solid

from .meeting import Meeting
from .search import Layout, lay_out
from .spindle import main_cutter

Better = Callable[[Layout], bool]


@dataclass(frozen=True)
class Change:
    """A change that works, in words, and what it makes of the layout."""

    words: str
    placements: int


def smallest_changes(
    job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting | None, better: Better
) -> tuple[list[Change], int]:
    """The least turn of each knob that makes the layout better, and how many layouts were tried."""
    found, tried = [], 0
    for knob in KNOBS:
        for words, changed_job, changed_spec in knob(job, spec):
            tried += 1
            try:
                layout = lay_out(changed_job, changed_spec, piece, meeting)
            except Refusal:
                continue
            if better(layout):
                found.append(Change(words, layout.bound))
                break
    return found, tried


Variant = tuple[str, Job, PieceSpec]


def _longer_stick_out(job: Job, spec: PieceSpec) -> Iterator[Variant]:
    main = main_cutter(job)
    for more in (2.0, 4.0, 6.0, 8.0, 10.0, 15.0, 20.0):
        longer = main.model_copy(update={"stickout_mm": main.stickout_mm + more})
        cutters = tuple(longer if cutter.name == main.name else cutter for cutter in job.cutters)
        words = f"set {main.name} {more:.0f} mm further out of the collet (stick-out {longer.stickout_mm:.0f} mm)"
        yield words, job.model_copy(update={"cutters": cutters}), spec


def _more_travel(axis: str) -> Callable[[Job, PieceSpec], Iterator[Variant]]:
    def turn(job: Job, spec: PieceSpec) -> Iterator[Variant]:
        field = f"travel_{axis}_mm"
        now_mm = getattr(job.machine, field)
        for more in (5.0, 10.0, 20.0, 40.0, 80.0, 120.0, 160.0):
            machine = job.machine.model_copy(update={field: now_mm + more})
            words = f"{more:.0f} mm more travel along {axis.upper()} ({now_mm + more:.0f} mm)"
            yield words, job.model_copy(update={"machine": machine}), spec

    return turn


def _thinner_board(job: Job, spec: PieceSpec) -> Iterator[Variant]:
    board = job.machine.board
    if board is None:
        return
    for less in (3.0, 6.0, 9.0, 12.0):
        if board.thickness_mm - less < 6.0:
            return
        thinner = board.model_copy(update={"thickness_mm": board.thickness_mm - less})
        machine = job.machine.model_copy(update={"board": thinner})
        words = f"a movable board {less:.0f} mm thinner ({thinner.thickness_mm:.0f} mm)"
        yield words, job.model_copy(update={"machine": machine}), spec


def _less_round_it(job: Job, spec: PieceSpec) -> Iterator[Variant]:
    for less in (2.0, 4.0, 8.0):
        blank = spec.blank
        if blank.size_z_mm - less <= 1.0:
            return
        thinner = blank.model_copy(update={"size_z_mm": blank.size_z_mm - less})
        yield f"plane the blank {less:.0f} mm thinner", job, spec.model_copy(update={"blank": thinner})


KNOBS: tuple[Callable[[Job, PieceSpec], Iterator[Variant]], ...] = (
    _longer_stick_out,
    _more_travel("x"),
    _more_travel("y"),
    _more_travel("z"),
    _thinner_board,
    _less_round_it,
)
