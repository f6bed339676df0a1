"""When something is reached by no placement: what lies hidden, and the smallest change that would do.

A change is tried on the real floors before it is named: it must reach everything that is wanted.
"""

from __future__ import annotations

from witnessmark.field.grid import Grid
from witnessmark.job.errors import Refusal
from witnessmark.job.models import Job, PieceSpec
from witnessmark.reach.why import undercuts
from witnessmark.shapes.solid import Solid

from .change import KNOBS, Change
from .choose import choose
from .meeting import Meeting
from .search import Layout, lay_out
from .spindle import finishing_cutters, main_cutter, reachable
from .table import side_words
from .wood import plan_margin_mm, whole_blank

TRIAL_PITCH_MM = 0.5  # no coarser: what a grid cannot see would be taken for out of reach
HIDDEN_PITCH_MM = 1.0
LEAST_HIDDEN_MM2 = 25.0


def hidden_notes(piece: Solid, layout: Layout) -> list[str]:
    """Faces that face a side but lie under another part of the piece: no cutter comes there from above."""
    notes = []
    for side in layout.sides:
        place = side.placements[0]
        standing_piece = piece.moved(place.stand)
        grid = Grid.over(*place.region_mm[:2], *place.region_mm[2:], HIDDEN_PITCH_MM)
        for one in undercuts(standing_piece.triangles, grid):
            if one.area_mm2 < LEAST_HIDDEN_MM2:
                continue
            x, y, _ = one.place_mm
            notes.append(
                f"{one.area_mm2 / 100:.1f} cm2 near x {x:.0f} y {y:.0f} lies hidden under the piece with the "
                f"{side_words(side.up)} up: an undercut, which no upright cutter reaches"
            )
    return notes


def changes_that_reach(job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting) -> list[Change]:
    """The least turn of each knob with which everything wanted is reached on the real floors."""
    found = []
    for knob in KNOBS:
        for words, changed_job, changed_spec in knob(job, spec):
            placements = _reaches_all(changed_job, changed_spec, piece, meeting)
            if placements:
                found.append(Change(words, placements))
                break
    return found


def _reaches_all(job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting) -> int:
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
        if any(result.short_mm2 > 0 for result in chosen.results):
            return 0
        for place, result in zip(chosen.placements, chosen.results):
            columns = columns.lowered(result.top_after, place.stand.rotation)
    return layout.bound


def change_notes(job: Job, spec: PieceSpec, piece: Solid, meeting: Meeting) -> list[str]:
    """The changes in words."""
    changes = changes_that_reach(job, spec, piece, meeting)
    if not changes:
        return [
            "no single small change that was tried would reach everything: make the piece in layers, or redraw it"
        ]
    return [f"to reach everything: {change.words}" for change in changes]
