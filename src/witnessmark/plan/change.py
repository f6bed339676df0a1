"""The smallest change that would do: found by laying the piece out again, never guessed.

Each knob is turned in small steps until the layout is better; the least turn of each that works is an answer. A turn
that the cheap bound rules out is not laid out; and the search stops, and says so, when it has laid out enough.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from witnessmark.job.errors import Refusal
from witnessmark.job.models import Job, PieceSpec
from witnessmark.shapes.solid import Solid

from .bound import least_by_windows
from .candidates import blank_box, candidates
from .meeting import Meeting
from .search import Layout, coarse_view, lay_out, meeting_options, side_order, through_z_mm
from .spindle import main_cutter, reachable

MOST_CANDIDATES = 7_000  # looked at in one search: some 10 seconds

Better = Callable[[Layout], bool]


@dataclass(frozen=True)
class Change:
    """A change that works, in words, and what it makes of the layout."""

    words: str
    placements: int


@dataclass(frozen=True)
class Search:
    """The changes that work, how many turns were looked at, and whether it was stopped before all were."""

    changes: tuple[Change, ...]
    tried: int
    stopped: bool


def smallest_changes(
    job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting | None, better: Better
) -> tuple[list[Change], int]:
    """The least turn of each knob that makes the layout better, and how many turns were looked at."""
    found = search_changes(job, spec, piece, meeting, better)
    return list(found.changes), found.tried


def search_changes(
    job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting | None, better: Better, at_most: int | None = None
) -> Search:
    """The least turn of each knob that makes the layout better; ``at_most``: it must do with so few placements."""
    found: list[Change] = []
    tried, looked_at = 0, 0
    least = _Least(piece, meeting)
    for knob in KNOBS:
        for words, changed_job, changed_spec in knob(job, spec):
            if looked_at > MOST_CANDIDATES:
                return Search(tuple(found), tried, True)
            tried += 1
            if at_most is not None and least.placements(changed_job, changed_spec) > at_most:
                continue
            try:
                layout = lay_out(changed_job, changed_spec, piece, meeting)
            except Refusal:
                continue
            looked_at += layout.evaluated
            if better(layout):
                found.append(Change(words, layout.bound))
                break
    return Search(tuple(found), tried, False)


class _Least:
    """The cheap bound on the placements of a job, once for each size of window and blank."""

    def __init__(self, piece: Solid, meeting: Meeting | None) -> None:
        self.piece, self.meeting = piece, meeting
        self.known: dict[tuple[float, float, float], int] = {}

    def placements(self, job: Job, spec: PieceSpec) -> int:
        machine = job.machine
        key = (machine.travel_x_mm, machine.travel_y_mm, spec.blank.size_z_mm)
        if self.meeting is None:
            return 0
        if key not in self.known:
            self.known[key] = self._placements(job, spec, self.meeting)
        return self.known[key]

    def _placements(self, job: Job, spec: PieceSpec, meeting: Meeting) -> int:
        """At the meeting height that comes first; what else is wanted in the trench at others is left out of it."""
        box = blank_box(spec.blank, *self.piece.bounds_mm)
        spindle = reachable(main_cutter(job), job.machine, job.settings)
        travel = (job.machine.travel_x_mm, job.machine.travel_y_mm, job.settings.travel_slack_mm)
        sides, count = side_order(job, self.piece, box), 0
        meeting_mm = meeting_options(meeting, sides[0])[0]
        for up in sides:
            places = candidates(job, spec, box, up)
            through_mm = through_z_mm(box, up, meeting_mm, job.settings.through_overlap_mm)
            view = coarse_view(job, self.piece, box, places[0], through_mm, spindle)
            rows, cells = np.nonzero(view.elements)
            points = np.column_stack([view.grid.x_mm[cells], view.grid.y_mm[rows]])
            over_mm = spindle.cutter.diameter_mm / 2 + view.grid.pitch_mm / 2 + 1e-6
            windows = np.array([place.window_mm(*travel) for place in places])
            count += least_by_windows(points, windows + np.array([-over_mm, -over_mm, over_mm, over_mm]))
        return count


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
