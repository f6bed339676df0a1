"""A piece planned: the layout, then every placement on the real floor, each from the wood the one before leaves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from witnessmark.job.models import Job, PieceSpec
from witnessmark.job.placement import Placement
from witnessmark.shapes.solid import Solid

from .evaluate import Evaluation, evaluate
from .model import PiecePlan, PlacementPlan
from .search import Layout, lay_out
from .spindle import main_cutter, reachable
from .touch_off import touch_off_spot
from .wood import plan_margin_mm, whole_blank

Progress = Callable[[str, float], None]


def silent(_what: str, _done: float) -> None:
    """No progress shown."""


def plan_piece(job: Job, spec: PieceSpec, piece: Solid, progress: Progress = silent) -> PiecePlan:
    """Plan one piece; a refusal says what cannot be set up at all."""
    progress(f"{spec.name}: sides, shifts, seams", 0.0)
    layout = lay_out(job, spec, piece)
    main = reachable(main_cutter(job), job.machine, job.settings)
    columns = whole_blank(layout.box, job.settings.plan_pitch_mm, plan_margin_mm(job))
    steps: list[PlacementPlan] = []
    places = [place for side in layout.sides for place in side.placements]
    for number, found in enumerate(places, start=1):
        progress(f"{spec.name}: placement {number}", number / (len(places) + 1))
        place = _with_touch_off(job, found.named(str(number)), layout)
        result = evaluate(job, place, piece, columns, main)
        columns = columns.lowered(result.top_after, place.stand.rotation)
        steps.append(_step(place, result, layout))
    return PiecePlan(
        piece=spec,
        placements=tuple(steps),
        bound=layout.bound,
        evaluated=layout.evaluated,
        pruned=layout.pruned,
        notes=layout.notes,
    )


def _with_touch_off(job: Job, place: Placement, layout: Layout) -> Placement:
    machine = job.machine
    height_mm = float(layout.box.size_mm[2])
    window = place.window_mm(machine.travel_x_mm, machine.travel_y_mm)
    assemblies = [reachable(c, machine, job.settings).assembly for c in job.cutters if c.name in place.cutters]
    blank = place.holds[0].outline_mm
    rectangle = (blank[0][0], blank[0][1], blank[2][0], blank[2][1])
    spot = touch_off_spot(machine, assemblies, rectangle, height_mm, window)
    if spot is None:
        note = (
            "no touch-off spot beside the blank is within the travel: use a blank narrower by 40 mm or a wider board"
        )
        return replace(place, notes=(*place.notes, note))
    return replace(place, touch_off_mm=(spot.x_mm, spot.y_mm), touch_off_block_mm=spot.block_mm)


def _step(place: Placement, result: Evaluation, layout: Layout) -> PlacementPlan:
    notes = list(place.notes)
    unreached = int(result.unreached.sum())
    if unreached:
        share = unreached / max(1, result.wanted_cells)
        notes.append(f"{share:.1%} of what is wanted here is not reached")
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
    )


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
