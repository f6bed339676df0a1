"""When something is reached by no placement: what lies hidden, and the smallest change that would do.

A change is tried on the real floors before it is named: it must reach everything that is wanted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.field.grid import Grid
from witnessmark.job.errors import Refusal
from witnessmark.job.models import Cutter, Job, PieceSpec
from witnessmark.path.drill import SAME_MM
from witnessmark.reach.why import undercuts
from witnessmark.shapes.narrow import narrow_holes
from witnessmark.shapes.solid import Solid

from .change import KNOBS, Change, Variant
from .choose import choose
from .lift import lift_troubles
from .meeting import Meeting
from .near import patch_of
from .search import Layout, lay_out
from .spindle import finishing_cutters, main_cutter, reachable
from .table import side_words
from .wood import plan_margin_mm, whole_blank

TRIAL_PITCH_MM = 0.5  # no coarser: what a grid cannot see would be taken for out of reach
HIDDEN_PITCH_MM = 1.0
LEAST_HIDDEN_MM2 = 25.0
LEAST_PLAY_MM = 0.04  # a bore wider than the cutter by less on either side is too tight a fit for it
MOST_FLOOR_CELLS = 16_000_000  # evaluated in one search: some 20 seconds


def hidden_notes(piece: Solid, layout: Layout, cutters: Sequence[Cutter]) -> list[str]:
    """Faces that face a side but lie under another part of the piece: no cutter comes there from above."""
    notes = []
    discs = [cutter.name for cutter in cutters if cutter.undercuts]
    left = f"left to {' or '.join(discs)}, if its disc gets in" if discs else "which no upright cutter reaches"
    for side in layout.sides:
        if not side.placements:
            continue
        place = side.placements[0]
        standing_piece = piece.moved(place.stand)
        grid = Grid.over(*place.region_mm[:2], *place.region_mm[2:], HIDDEN_PITCH_MM)
        for one in undercuts(standing_piece.triangles, grid):
            if one.area_mm2 < LEAST_HIDDEN_MM2:
                continue
            x, y, _ = one.place_mm
            notes.append(
                f"{one.area_mm2 / 100:.1f} cm2 near x {x:z.0f} y {y:z.0f} lies hidden under the piece with the "
                f"{side_words(side.up)} up: an undercut, {left}"
            )
    return notes


def narrow_notes(piece: Solid, cutters: Sequence[Cutter]) -> list[str]:
    """Upright holes that are narrower than every cutter and that no drill is for."""
    widths = [cutter.diameter_mm for cutter in cutters if cutter.kind in ("flat", "ball", "bull")]
    drills = [cutter.diameter_mm for cutter in cutters if cutter.kind == "drill"]
    notes = []
    for hole in narrow_holes(piece, min(widths) + 2 * LEAST_PLAY_MM) if widths else []:
        if not any(abs(hole.width_mm - drill) <= SAME_MM for drill in drills):
            notes.append(
                f"hole {hole.width_mm:.2f} mm wide at x {hole.x_mm:z.1f} y {hole.y_mm:z.1f} is not made: "
                "no cutter fits into it; drill it by hand, or give the job a drill of its size or a narrower cutter"
            )
    return notes


@dataclass
class Budget:
    """Cells of real floors that may still be evaluated: what is tried takes seconds, not minutes."""

    cells: int = MOST_FLOOR_CELLS

    @property
    def spent(self) -> bool:
        return self.cells <= 0


def changes_that_reach(job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting, budget: Budget) -> list[Change]:
    """For each knob a turn with which everything wanted is reached on the real floors; the least, budget permitting.

    A knob whose furthest turns both fail is left; else the least that works is looked for by halving.
    """
    found = []
    works: list[tuple[list[Variant], int, Change]] = []
    for knob in KNOBS:
        turns = [turn for turn in knob(job, spec) if _can_be_set_up(turn, piece)]
        for index in [i for i in (len(turns) - 1, (len(turns) - 1) // 2) if i >= 0][: len(turns)]:
            change = _tried(turns[index], piece, meeting, budget)
            if change:
                works.append((turns, index, change))
                break
    for turns, index, change in works:
        low, high = 0, index
        while low < high and not budget.spent:
            middle = (low + high) // 2
            less = _tried(turns[middle], piece, meeting, budget)
            low, high, change = (low, middle, less) if less else (middle + 1, high, change)
        found.append(change)
    return found


def _can_be_set_up(turn: Variant, piece: Solid) -> bool:
    """Whether cutters can be lifted over the blank and the piece lies in it: no floor is needed to know."""
    _, job, spec = turn
    size_mm = piece.bounds_mm[1] - piece.bounds_mm[0]
    fits = size_mm[2] + spec.blank.below_mm <= spec.blank.size_z_mm + 1e-3
    return bool(fits) and not lift_troubles(job, spec, spec.blank.size_z_mm, float(size_mm[2]))


def _tried(turn: Variant, piece: Solid, meeting: Meeting, budget: Budget) -> Change | None:
    words, job, spec = turn
    placements = 0 if budget.spent else _reaches_all(job, spec, piece, meeting, budget)
    return Change(words, placements) if placements else None


def _reaches_all(job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting, budget: Budget) -> int:
    """How many placements it takes, or 0 where something stays out of reach."""
    try:
        layout = lay_out(job, spec, piece, meeting)
    except Refusal:
        return 0
    if layout.unreached:
        return 0
    main = reachable(main_cutter(job), job.machine, job.settings)
    finishing = [reachable(cutter, job.machine, job.settings) for cutter in finishing_cutters(job)]
    columns = whole_blank(layout.box, max(job.settings.plan_pitch_mm, TRIAL_PITCH_MM), plan_margin_mm(job))
    for side in layout.sides:
        chosen = choose(job, side, piece, columns, main, finishing)
        budget.cells -= chosen.tried * sum(
            patch_of(job, place, result.grid, (main, *finishing)).cells
            for place, result in zip(chosen.placements, chosen.results)
        )
        if any(result.short_mm2 > 0 for result in chosen.results):
            return 0
        for place, result in zip(chosen.placements, chosen.results):
            columns = columns.lowered(result.top_after, place.stand.rotation)
    return layout.bound


def change_notes(job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting) -> list[str]:
    """The changes in words."""
    budget = Budget()
    changes = changes_that_reach(job, spec, piece, meeting, budget)
    notes = [f"to reach everything: {change.words}" for change in changes]
    if not changes:
        notes.append(
            "no single small change that was tried would reach everything: make the piece in layers "
            "(witnessmark layers tells what each way takes), or redraw it"
        )
    if budget.spent:
        notes.append("the search for a change that reaches everything was stopped: trying all would take too long")
    return notes
