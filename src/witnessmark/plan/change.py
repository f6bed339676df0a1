"""The smallest change that would do: found by laying the piece out again, never guessed.

Each knob is turned in small steps until the layout is better; the least turn of each that works is an answer. A turn
that the cheap bound rules out is not laid out; and the search stops, and says so, when it has laid out enough.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from witnessmark.job.errors import Refusal
from witnessmark.job.models import Job, MovableBoard, PieceSpec
from witnessmark.shapes.solid import Solid

from .bound import least_by_windows
from .candidates import BlankBox, blank_box, candidates
from .meeting import Meeting
from .search import (
    Layout,
    alone,
    coarse_view,
    far_end_mm,
    lay_out,
    meeting_options,
    side_order,
    through_z_mm,
)
from .spindle import main_cutter, reachable

LEAST_BOARD_MM = 6.0  # thinner boards do not lie flat under bolts (common practice, no source)
LEAST_HOLES_MM = 8.0  # closer holes leave too little board between them (common practice, no source)
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
    trial = _Trial(piece, meeting, better, at_most)
    for knob in KNOBS:
        failed = 0.0
        for amount in knob.amounts_mm:
            turn = knob.turned(job, spec, amount)
            if turn is None:
                break
            if trial.spent:
                return Search(tuple(found), trial.tried, True)
            change = trial.change(turn)
            if change:
                found.append(_least_between(trial, knob, (job, spec), failed, amount, change))
                break
            failed = amount
    return Search(tuple(found), trial.tried, trial.spent)


def _least_between(
    trial: _Trial, knob: Knob, now: tuple[Job, PieceSpec], failed_mm: float, works_mm: float, change: Change
) -> Change:
    """Halve between an amount that fails and one that works, to the knob's step; what is told was laid out."""
    low, high = round(failed_mm / knob.step_mm), round(works_mm / knob.step_mm)
    while high - low > 1 and not trial.spent:
        middle = (low + high) // 2
        turn = knob.turned(*now, middle * knob.step_mm)
        less = trial.change(turn) if turn else None
        low, high, change = (low, middle, less) if less else (middle, high, change)
    return change


class _Trial:
    """Turns laid out, counted, within the time that a search may take."""

    def __init__(self, piece: Solid, meeting: Meeting | None, better: Better, at_most: int | None) -> None:
        self.piece, self.meeting, self.better, self.at_most = piece, meeting, better, at_most
        self.least = _Least(piece, meeting)
        self.tried = self.looked_at = 0

    @property
    def spent(self) -> bool:
        return self.looked_at > MOST_CANDIDATES

    def change(self, turn: Variant) -> Change | None:
        """The turn as a change where it makes the layout better."""
        words, job, spec = turn
        self.tried += 1
        if self.at_most is not None and self.least.placements(job, spec) > self.at_most:
            return None
        try:
            layout = lay_out(job, spec, self.piece, self.meeting)
        except Refusal:
            return None
        self.looked_at += layout.evaluated
        return Change(words, layout.bound) if self.better(layout) else None


class _Least:
    """The cheap bound on the placements of a job, once for each size of window and blank."""

    def __init__(self, piece: Solid, meeting: Meeting | None) -> None:
        self.piece, self.meeting = piece, meeting
        self.known: dict[tuple[object, ...], int] = {}

    def placements(self, job: Job, spec: PieceSpec) -> int:
        machine = job.machine
        key = (machine.travel_x_mm, machine.travel_y_mm, spec.blank, machine.board)
        if self.meeting is None:
            return 0
        if key not in self.known:
            self.known[key] = self._placements(job, spec, self.meeting)
        return self.known[key]

    def _placements(self, job: Job, spec: PieceSpec, meeting: Meeting) -> int:
        """At the meeting height that comes first; what else is wanted in the trench at others is left out of it."""
        box = blank_box(spec.blank, *self.piece.bounds_mm)
        sides = side_order(job, spec, self.piece, box)
        ways = [(sides, meeting_options(meeting, sides[0])[0])]
        ways += [((up,), far_end_mm(self.piece, up)) for up in alone(job, spec, self.piece)]
        return min(self._of_sides(job, spec, box, *way) for way in ways)

    def _of_sides(self, job: Job, spec: PieceSpec, box: BlankBox, sides: tuple[str, ...], meeting_mm: float) -> int:
        spindle = reachable(main_cutter(job), job.machine, job.settings)
        travel = (job.machine.travel_x_mm, job.machine.travel_y_mm, job.settings.travel_slack_mm)
        count = 0
        for up in sides:
            places = candidates(job, spec, box, up)
            if not places:  # laying it out says why
                continue
            through_mm = through_z_mm(box, up, meeting_mm, job.settings.through_overlap_mm)
            view = coarse_view(job, self.piece, box, places[0], through_mm, spindle)
            rows, cells = np.nonzero(view.elements)
            points = np.column_stack([view.grid.x_mm[cells], view.grid.y_mm[rows]])
            over_mm = spindle.cutter.diameter_mm / 2 + view.grid.pitch_mm / 2 + 1e-6
            windows = np.array([place.window_mm(*travel) for place in places])
            count += least_by_windows(points, windows + np.array([-over_mm, -over_mm, over_mm, over_mm]))
        return count


Variant = tuple[str, Job, PieceSpec]


@dataclass(frozen=True)
class Knob:
    """One size that can be changed: amounts tried first, from small to large; then to ``step_mm`` between two.

    ``turned`` gives the job so changed and the words for it; None where the size cannot be changed so far.
    """

    amounts_mm: tuple[float, ...]
    step_mm: float
    turned: Callable[[Job, PieceSpec, float], Variant | None]

    def __call__(self, job: Job, spec: PieceSpec) -> Iterator[Variant]:
        """The variants of the amounts, from small to large."""
        for amount in self.amounts_mm:
            turn = self.turned(job, spec, amount)
            if turn is None:
                return
            yield turn


def _longer_stick_out(job: Job, spec: PieceSpec, more_mm: float) -> Variant:
    main = main_cutter(job)
    longer = main.model_copy(update={"stickout_mm": main.stickout_mm + more_mm})
    cutters = tuple(longer if cutter.name == main.name else cutter for cutter in job.cutters)
    words = f"set {main.name} {more_mm:.0f} mm further out of the collet (stick-out {longer.stickout_mm:.0f} mm)"
    return words, job.model_copy(update={"cutters": cutters}), spec


def _more_travel(axis: str) -> Callable[[Job, PieceSpec, float], Variant]:
    def turned(job: Job, spec: PieceSpec, more_mm: float) -> Variant:
        field = f"travel_{axis}_mm"
        now_mm = getattr(job.machine, field)
        machine = job.machine.model_copy(update={field: now_mm + more_mm})
        words = f"{more_mm:.0f} mm more travel along {axis.upper()} ({now_mm + more_mm:.0f} mm)"
        return words, job.model_copy(update={"machine": machine}), spec

    return turned


def _thinner_board(job: Job, spec: PieceSpec, less_mm: float) -> Variant | None:
    board = job.machine.board
    if board is None or board.thickness_mm - less_mm < LEAST_BOARD_MM:
        return None
    thinner = board.model_copy(update={"thickness_mm": board.thickness_mm - less_mm})
    words = f"a movable board {less_mm:.0f} mm thinner ({thinner.thickness_mm:.0f} mm)"
    return words, _with_board(job, thinner), spec


def _finer_holes(job: Job, spec: PieceSpec, less_mm: float) -> Variant | None:
    """Holes closer by so much; where bolts' places are stated, only by a whole part of the present pitch."""
    board = job.machine.board
    if board is None or board.hole_pitch_mm - less_mm < LEAST_HOLES_MM:
        return None
    pitch_mm = board.hole_pitch_mm - less_mm
    if board.bolt_places_mm and abs(board.hole_pitch_mm / pitch_mm % 1.0) > 1e-9:
        return None
    words = f"holes in the movable board every {pitch_mm:g} mm (now {board.hole_pitch_mm:g})"
    return words, _with_board(job, board.model_copy(update={"hole_pitch_mm": pitch_mm})), spec


def _with_board(job: Job, board: MovableBoard) -> Job:
    return job.model_copy(update={"machine": job.machine.model_copy(update={"board": board})})


def _thinner_blank(job: Job, spec: PieceSpec, less_mm: float) -> Variant | None:
    blank = spec.blank
    if blank.size_z_mm - less_mm <= 1.0:
        return None
    thinner = blank.model_copy(update={"size_z_mm": blank.size_z_mm - less_mm})
    return f"plane the blank {less_mm:.0f} mm thinner", job, spec.model_copy(update={"blank": thinner})


def _smaller_blank(job: Job, spec: PieceSpec, less_mm: float) -> Variant | None:
    """The blank sawn smaller along x and y alike; one too small for the piece is refused when laid out."""
    blank = spec.blank
    x_mm, y_mm = blank.size_x_mm - less_mm, blank.size_y_mm - less_mm
    if min(x_mm, y_mm) <= 1.0:
        return None
    smaller = blank.model_copy(update={"size_x_mm": x_mm, "size_y_mm": y_mm, "corner_mm": None})
    words = f"saw the blank {less_mm:.0f} mm smaller along x and y ({x_mm:.0f} x {y_mm:.0f} mm)"
    return words, job, spec.model_copy(update={"blank": smaller})


TRAVEL_MM = (5.0, 10.0, 20.0, 40.0, 80.0, 120.0, 160.0)

KNOBS: tuple[Knob, ...] = (
    Knob((2.0, 4.0, 6.0, 8.0, 10.0, 15.0, 20.0), 1.0, _longer_stick_out),
    Knob(TRAVEL_MM, 1.0, _more_travel("x")),
    Knob(TRAVEL_MM, 1.0, _more_travel("y")),
    Knob(TRAVEL_MM, 1.0, _more_travel("z")),
    Knob((3.0, 6.0, 9.0, 12.0), 1.0, _thinner_board),
    Knob((2.0, 4.0, 8.0), 1.0, _thinner_blank),
    Knob((10.0, 20.0, 40.0), 1.0, _smaller_blank),
    Knob((5.0, 10.0, 12.5, 15.0), 1.0, _finer_holes),
)
