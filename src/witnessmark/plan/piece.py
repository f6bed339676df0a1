"""A piece planned: the layout, then every placement on the real floor, each from the wood the one before leaves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from witnessmark.field.columns import Columns
from witnessmark.job.frames import Rigid
from witnessmark.job.models import Job, PieceSpec
from witnessmark.job.placement import Placement, Rectangle, Touch, rectangle_of
from witnessmark.path.request import Pocket
from witnessmark.shapes.solid import Solid

from .board import sunk_note
from .bridges import bridges_for, standing_on
from .choose import choose
from .evaluate import Evaluation, with_pockets
from .forbidden import forbidden_notes
from .hold import Margin, hold_after, hold_notes, least_held_note
from .lands import Land, Waste, faces_of, lands_for
from .levels import with_levels
from .loose import loose_notes
from .model import COUNTED, PiecePlan, PlacementPlan
from .nothing import must_cut_something, side_notes
from .search import Layout, alone, layout_of
from .spindle import Reachable, finishing_cutters, main_cutter, reachable
from .touch_off import touch_off_spot
from .touches import FINDER_MM, blank_edges, choose_touches, expected_step_mm, fixes_pose, walls_cut
from .unreached import change_notes, hidden_notes, narrow_notes
from .waste import waste_note
from .wish import keep_to_wish
from .wood import as_it_is, plan_margin_mm, whole_blank

Progress = Callable[[str, float], None]


def silent(_what: str, _done_ratio: float) -> None:
    """No progress shown."""


def plan_piece(
    job: Job,
    spec: PieceSpec,
    piece: Solid,
    progress: Progress = silent,
    stock: Columns | None = None,
    advise: bool = True,
) -> PiecePlan:
    """Plan one piece; a refusal says what cannot be set up at all. ``stock``: what is left of the blank.

    ``advise``: where something stays out of reach, the search for a change that would reach it is made.
    """
    progress(f"{spec.name}: sides, shifts, seams", 0.0)
    layout = layout_of(job, spec, piece)
    must_cut_something(job, spec, piece, layout)
    keep_to_wish(job, spec, piece, layout)
    plan = _planned(job, spec, piece, layout, progress, stock)
    if plan.short_mm2 > 0 and len(layout.sides) == 1 and alone(job, spec, piece):
        both = layout_of(job, spec, piece, turned=True)
        other = _planned(job, spec, piece, both, progress, stock)
        if other.short_mm2 < plan.short_mm2:
            layout, plan = both, other
    if advise and (layout.unreached or plan.short_mm2 > 0):
        progress(f"{spec.name}: looking for a change that reaches everything", 0.9)
        plan = replace(plan, notes=(*plan.notes, *change_notes(job, spec, piece, layout.meeting)))
    return plan


def _planned(
    job: Job, spec: PieceSpec, piece: Solid, layout: Layout, progress: Progress, stock: Columns | None
) -> PiecePlan:
    """A layout on the real floors."""
    main = reachable(main_cutter(job), job.machine, job.settings)
    finishing = [reachable(cutter, job.machine, job.settings) for cutter in finishing_cutters(job)]
    held = bridges_for(job, spec, piece, layout)
    columns = as_it_is(whole_blank(layout.box, job.settings.plan_pitch_mm, plan_margin_mm(job)), stock)
    steps: list[PlacementPlan] = []
    known: list[Touch] = []
    left: list[Land] = []
    placed: list[tuple[str, Rectangle, Rigid]] = []  # the lands with the frame that they lie in
    margins: list[Margin] = []
    tried, number, short_mm2 = 0, 0, 0.0
    for side in layout.sides:
        progress(f"{spec.name}: side {side.up} up", number / (layout.bound + 1))
        side = replace(side, options=tuple(tuple(standing_on(p, held.bridges) for p in o) for o in side.options))
        chosen = choose(job, side, piece, columns, main, finishing)
        tried += chosen.tried
        short_mm2 += sum(result.short_mm2 for result in chosen.results)
        for k, (found, result) in enumerate(zip(chosen.placements, chosen.results)):
            number += 1
            top, _ = columns.top(found.stand.rotation)  # the lands of the placements before are cut by now
            result = replace(result, top_before=top, top_after=np.minimum(top, result.top_after))
            place = _with_touch_off(job, found.named(str(number)), layout)
            lands = _lands(job, place, piece, layout, main, chosen.placements[k + 1 :], left)
            place = with_levels(place, top, result.grid, float(layout.box.size_mm[2]), _window_mm(job, place))
            if number > 1 or stock is not None:  # what is cut already was not cut from this plan
                place = _with_touches(job, place, piece, layout, known)
            pockets = tuple(p for land in lands for p in land.pockets(float(layout.box.size_mm[2])))
            step = replace(
                _step(place, with_pockets(result, pockets), layout, pockets), pace_mm3_min=_pace_mm3_min(job)
            )
            columns = columns.lowered(step.top_after, place.stand.rotation)
            rectangle = _footprint(piece, place)
            margins.append(hold_after(job, spec, columns, place, rectangle))
            held_by = hold_notes(job, margins[-1])
            steps.append(_with_notes(step, (*loose_notes(columns, place, rectangle), *held_by)))
            left += lands
            placed += [(land.name, land.recess_mm, place.stand) for land in lands]
            known += [touch for land in lands for touch in faces_of(land, place)]
            if main.cutter.diameter_mm + job.settings.trench_mm >= 2 * FINDER_MM:  # else none goes in there
                known += walls_cut(place, piece)
    notes = [*layout.notes, *forbidden_notes(job, spec, piece, layout), *side_notes(job, spec, piece, layout)]
    trench_mm = main.cutter.diameter_mm + job.settings.trench_mm
    notes += [
        least_held_note(job, margins),
        waste_note(piece, layout.box, trench_mm, placed),
        *held.notes,
        *hidden_notes(piece, layout, job.cutters),
        *narrow_notes(piece, job.cutters),
    ]
    return PiecePlan(
        piece=spec,
        placements=tuple(steps),
        bound=layout.bound,
        evaluated=layout.evaluated,
        pruned=layout.pruned,
        notes=(*notes, f"{tried} {COUNTED}"),
        short_mm2=short_mm2,
    )


def _lands(
    job: Job,
    place: Placement,
    piece: Solid,
    layout: Layout,
    main: Reachable,
    after: Sequence[Placement],
    taken: Sequence[Land],
) -> tuple[Land, ...]:
    """Touch lands for what follows (``after``: the same side's next placements): the first side leaves them."""
    first_side = place.up == layout.sides[0].up
    if len(layout.sides) < 2 or not first_side:
        return ()
    machine, slack_mm = job.machine, job.settings.travel_slack_mm
    waste = Waste(
        job=job,
        place=place,
        piece=piece,
        blank_mm=rectangle_of(place.holds[0].outline_mm),
        blank_height_mm=float(layout.box.size_mm[2]),
        main=main,
        taken=tuple(land.recess_mm for land in taken),
    )
    next_window = after[0].window_mm(machine.travel_x_mm, machine.travel_y_mm, slack_mm) if after else None
    return lands_for(waste, next_window)


def _window_mm(job: Job, place: Placement) -> Rectangle:
    machine = job.machine
    return place.window_mm(machine.travel_x_mm, machine.travel_y_mm, job.settings.travel_slack_mm)


def _with_touches(job: Job, place: Placement, piece: Solid, layout: Layout, known: list[Touch]) -> Placement:
    window = _window_mm(job, place)
    blank_mm = rectangle_of(place.holds[0].outline_mm)
    edges = blank_edges(place, blank_mm, float(layout.box.size_mm[2]), window)
    touches = choose_touches(place, window, [*known, *edges], piece)
    if not fixes_pose(place, touches):
        note = "the faces open to touch here do not fix where the work lies: leave more waste round the piece"
        place = replace(place, notes=(*place.notes, note))
    place = replace(place, touches=touches)
    return replace(place, expected_step_mm=_rounded(expected_step_mm(place, piece.moved(place.stand))))


def _rounded(step_mm: float | None) -> float | None:
    """As the plan keeps it."""
    return None if step_mm is None else round(step_mm, 4)


def _with_touch_off(job: Job, place: Placement, layout: Layout) -> Placement:
    machine = job.machine
    height_mm = float(layout.box.size_mm[2])
    window = place.window_mm(machine.travel_x_mm, machine.travel_y_mm, job.settings.travel_slack_mm)
    assemblies = [reachable(c, machine, job.settings).assembly for c in job.cutters if c.name in place.cutters]
    blank_mm = rectangle_of(place.holds[0].outline_mm)
    place = replace(place, notes=(*place.notes, *sunk_note(machine, place, blank_mm)))
    spot = touch_off_spot(machine, assemblies, blank_mm, height_mm, window, place.obstacles)
    if spot is None:
        note = (
            "no touch-off spot beside the blank is within the travel: use a blank narrower by 40 mm or a wider board"
        )
        return replace(place, notes=(*place.notes, note))
    return replace(place, touch_off_mm=(spot.x_mm, spot.y_mm), touch_off_block_mm=spot.block_mm)


def _step(place: Placement, result: Evaluation, layout: Layout, pockets: tuple[Pocket, ...]) -> PlacementPlan:
    notes = list(place.notes)
    notes += result.reasons
    return PlacementPlan(
        placement=replace(place, notes=tuple(notes)),
        cuts=_cuts(place, layout),
        grid=result.grid,
        top_before=result.top_before,
        top_after=result.top_after,
        clearance=result.clearance,
        removed_mm3=result.removed_mm3,
        clearance_mm3=result.clearance_mm3,
        tips=result.tips,
        wanted=result.wanted,
        pockets=pockets,
    )


def _pace_mm3_min(job: Job) -> float:
    """Wood a minute that the main cutter takes at its full stepdown, stepover and feed."""
    main = main_cutter(job)
    return main.stepover_mm * main.stepdown_mm * min(main.feed_mm_min, job.machine.feed_max_mm_min)


def _footprint(piece: Solid, place: Placement) -> Rectangle:
    low, high = piece.moved(place.stand).bounds_mm
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def _with_notes(step: PlacementPlan, notes: tuple[str, ...]) -> PlacementPlan:
    place = step.placement
    return replace(step, placement=replace(place, notes=(*place.notes, *notes)))


def _cuts(place: Placement, layout: Layout) -> str:
    x0, _, x1, _ = place.region_mm
    low, high = layout.box.lower_mm[0], layout.box.upper_mm[0]
    part = "all"
    if x0 > low + 1.0 and x1 < high - 1.0:
        part = "middle part"
    elif x0 > low + 1.0:
        part = "right part"
    elif x1 < high - 1.0:
        part = "left part"
    what = "what is seen from the bottom" if place.up == "-z" else "what is seen from the top"
    return f"{what}, {part}"
