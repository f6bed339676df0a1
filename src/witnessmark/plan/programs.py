"""From the plan to program text: paths for every cutter of every placement, in order, as drafts for the judge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Heights
from witnessmark.job.assembly import assembly_of
from witnessmark.job.models import Cutter, Job
from witnessmark.job.names import file_stem
from witnessmark.job.placement import Rectangle, rectangle_of, rectangle_outline
from witnessmark.path.make import make_paths
from witnessmark.path.request import CutRequest, CutterPath, CutterTask
from witnessmark.program.header import filled
from witnessmark.program.minutes import minutes
from witnessmark.program.read import read
from witnessmark.program.rehearse import write_rehearsal
from witnessmark.program.split import split
from witnessmark.program.write import ProgramSpec, write_program
from witnessmark.shapes.solid import Solid

from .candidates import blank_box
from .holes import drilled, plugged
from .model import PiecePlan, PlacementPlan, ProgramInfo
from .rehearsal import Rehearsal, corner_within, mis_settings, mistakes, rehearsal_spot, seen_cut
from .slots import SlotsCut
from .spindle import main_cutter, reachable
from .wood import as_it_is, plan_margin_mm, whole_blank

Progress = Callable[[str, float], None]

OF_PROGRAMS = ("placement ", "slot ")  # how notes begin that are made with the programs
BELOW_TOP_MM = 1.0  # of the travel: a rehearsal is walked so high


@dataclass(frozen=True)
class Draft:
    """A program as written: not proven yet."""

    file: str
    piece: str
    placement: str
    cutter: str
    text: str


def silent(_what: str, _done_ratio: float) -> None:
    """No progress shown."""


def write_drafts(
    job: Job, plan: PiecePlan, piece: Solid, progress: Progress = silent, stock: Columns | None = None
) -> tuple[PiecePlan, tuple[Draft, ...]]:
    """Make the paths of every placement in turn, each from the wood the one before leaves, and write them.

    ``stock``: what is left of the blank, where it is not whole.
    """
    box = blank_box(plan.piece.blank, *piece.bounds_mm)
    pitch_mm, margin_mm = job.settings.plan_pitch_mm, plan_margin_mm(job)
    columns = as_it_is(whole_blank(box, pitch_mm, margin_mm), stock)
    fullest = as_it_is(whole_blank(box, pitch_mm, margin_mm, rim_cells=1), stock, widest=True)
    drafts: list[Draft] = []
    steps: list[PlacementPlan] = []
    notes: list[str] = []
    slots = SlotsCut()
    kept = [note for note in plan.notes if not note.startswith(OF_PROGRAMS)]  # those of an earlier run go
    for index, step in enumerate(plan.placements):
        place = step.placement
        progress(f"{plan.piece.name}: paths of placement {place.name}", index / len(plan.placements))
        top, grid = columns.top(place.stand.rotation)
        most, _ = fullest.top(place.stand.rotation)
        standing_piece = piece.moved(place.stand)
        request = _request(job, step, standing_piece, (top, most), float(box.size_mm[2]))
        holes, said = drilled(standing_piece, job.cutters, request.lowest_tip_mm)
        request = replace(request, holes=holes, solid=plugged(standing_piece, holes, job.cutters))
        notes += [f"placement {place.name}: {words}" for words in said]
        paths = make_paths(request, _tasks(job, step))
        after, most = (paths[-1].top_after, paths[-1].most_after) if paths else (top, most)
        paths += tuple(slots.paths(job, request, place.stand, after, most))
        infos, texts, reach_mm = _written(job, plan, step, paths)
        before = steps[-1] if steps else None
        rehearsal, dry = _rehearsed(job, plan, step, texts, reach_mm, columns, request.safe_z_mm, before)
        drafts += [*dry, *texts]
        columns = columns.lowered(after, place.stand.rotation)
        fullest = fullest.lowered(most, place.stand.rotation)
        notes += [f"placement {place.name}: {note}" for path in paths for note in path.notes]
        steps.append(replace(step, grid=grid, top_after=after, programs=infos, rehearsal=rehearsal))
    return replace(plan, placements=tuple(steps), notes=(*kept, *notes, *slots.notes)), tuple(drafts)


def _request(
    job: Job, step: PlacementPlan, standing_piece: Solid, tops: tuple[Heights, Heights], blank_height_mm: float
) -> CutRequest:
    """``tops``: the wood's top at cell centres, and the highest that wood can stand in each cell."""
    machine, settings, place = job.machine, job.settings, step.placement
    spindles = [reachable(cutter, machine, settings) for cutter in job.planned_cutters]
    highest = min(spindle.highest_tip_mm for spindle in spindles)
    return CutRequest(
        solid=standing_piece,
        grid=step.grid,
        top=tops[0],
        most=tops[1],
        region_mm=place.region_mm,
        window_mm=place.window_mm(machine.travel_x_mm, machine.travel_y_mm, settings.travel_slack_mm),
        through_z_mm=place.through_z_mm,
        lowest_tip_mm=max(spindle.lowest_tip_mm for spindle in spindles),
        safe_z_mm=min(blank_height_mm + settings.safe_above_wood_mm, highest),
        settings=settings,
        pockets=step.pockets,
        corner_z_mm=place.corner_z_mm,
        bridges=place.bridges,
    )


def _tasks(job: Job, step: PlacementPlan) -> list[CutterTask]:
    main = main_cutter(job)
    return [
        CutterTask(
            cutter=cutter,
            assembly=assembly_of(cutter, job.machine, job.machine.shoe_on),
            rough_tips=step.tips if cutter.name == main.name else None,
            lowest_tip_mm=reachable(cutter, job.machine, job.settings).lowest_tip_mm,
        )
        for cutter in job.cutters
        if cutter.name in step.placement.cutters
    ]


def _written(
    job: Job, plan: PiecePlan, step: PlacementPlan, paths: tuple[CutterPath, ...]
) -> tuple[tuple[ProgramInfo, ...], list[Draft], Rectangle]:
    """The programs, and the rectangle of all that they reach, program frame."""
    infos, drafts, ends = [], [], []
    numbers = {cutter.name: k + 1 for k, cutter in enumerate(job.cutters)}
    cutters = {cutter.name: cutter for cutter in job.cutters}
    for order, path in enumerate((p for p in paths if len(p.strokes)), start=1):
        spec = _spec(job, plan, step, cutters[path.cutter_name], numbers[path.cutter_name])
        whole = write_program(path.strokes, spec)
        whose = f"{file_stem(plan.piece.name)}-{file_stem(step.placement.name)}"
        parts = split(whole, job.machine, job.settings.longest_program_minutes)
        for part, draft in enumerate(parts, start=1):
            table = read(draft)
            takes = minutes(table, job.machine)
            text = filled(draft, "minutes", f"{takes.total_min:.0f}")
            which = f"-part-{part}" if len(parts) > 1 else ""
            file = f"{whose}-{order}-{file_stem(path.cutter_name)}{which}.nc"
            infos.append(
                ProgramInfo(
                    file=file,
                    placement=step.placement.name,
                    cutter=path.cutter_name,
                    minutes=round(takes.total_min, 1),
                    cutting_m=round(takes.cutting_m, 2),
                    lowest_tip_mm=round(float(table.end_mm[:, 2].min()), 3),
                )
            )
            drafts.append(Draft(file, plan.piece.name, step.placement.name, path.cutter_name, text))
            ends += [table.end_mm[:, :2].min(axis=0), table.end_mm[:, :2].max(axis=0)]
    (x0, y0), (x1, y1) = (f(ends, axis=0).tolist() if ends else (0.0, 0.0) for f in (np.min, np.max))
    return tuple(infos), drafts, (x0, y0, x1, y1)


def _rehearsed(
    job: Job,
    plan: PiecePlan,
    step: PlacementPlan,
    texts: list[Draft],
    reach_mm: Rectangle,
    columns: Columns,
    safe_z_mm: float,
    before: PlacementPlan | None,
) -> tuple[Rehearsal | None, list[Draft]]:
    """The dry program before the first of a placement; none where it has no program or no land is fit for it."""
    place, machine = step.placement, job.machine
    if not texts or not place.holds:
        return None, []
    cutter = next(cutter for cutter in job.cutters if cutter.name == texts[0].cutter)
    spindle = reachable(cutter, machine, job.settings)
    pitch_mm = machine.board.hole_pitch_mm if machine.board else None
    blank_mm = rectangle_of(place.holds[0].outline_mm)
    turned = before is not None and before.placement.up != place.up
    wrong = mistakes(columns, place, blank_mm, pitch_mm, turned)
    top, grid = columns.top(place.stand.rotation)
    window = place.window_mm(machine.travel_x_mm, machine.travel_y_mm, job.settings.travel_slack_mm)
    found = rehearsal_spot(place, top, grid, wrong, spindle.assembly, window, spindle.lowest_tip_mm)
    if found is None:
        return None, []
    (x, y, z), sights = found
    at_mm = (round(x + place.shift_mm[0], 1), round(y + place.shift_mm[1], 1), round(z, 3))
    spec = _spec(job, plan, step, cutter, 1 + [c.name for c in job.cutters].index(cutter.name))
    spec = replace(spec, minutes="a rehearsal: leave the spindle off, read the bench sheet at each stop")
    name, corner = corner_within(blank_mm, window) or ("", None)
    cut, sights = seen_cut(top, grid, wrong, sights, window, blank_mm)
    over_mm = [(p[0] + place.shift_mm[0], p[1] + place.shift_mm[1]) for p in (corner, cut) if p is not None]
    sights = (*sights, *mis_settings(place, machine, cutter.stickout_mm, _stickout_before_mm(job, before)))
    walk_z_mm = max(safe_z_mm, spindle.highest_tip_mm - BELOW_TOP_MM)
    walk = rectangle_outline(reach_mm)
    text = write_rehearsal(spec, walk, walk_z_mm, at_mm[:2], at_mm[2], safe_z_mm, over_mm)
    whole = abs(z - float(columns.z_to_mm - columns.z_from_mm)) < 0.01
    land = "the blank's uncut face" if whole else f"the floor {z:.1f} mm above the board"
    file = f"{file_stem(plan.piece.name)}-{file_stem(place.name)}-0-rehearsal.nc"
    cut_mm = None if cut is None else (round(over_mm[-1][0], 1), round(over_mm[-1][1], 1))
    return Rehearsal(file, land, at_mm, name, sights, cut_mm, cutter.name), [
        Draft(file, plan.piece.name, place.name, cutter.name, text)
    ]


def _stickout_before_mm(job: Job, before: PlacementPlan | None) -> float | None:
    """Of the cutter that was in the collet last; None before the first placement."""
    if before is None or not before.programs:
        return None
    return next(cutter.stickout_mm for cutter in job.cutters if cutter.name == before.programs[-1].cutter)


def _spec(job: Job, plan: PiecePlan, step: PlacementPlan, cutter: Cutter, number: int) -> ProgramSpec:
    blank, place = plan.piece.blank, step.placement
    block = f", on a setting block of {place.touch_off_block_mm:.0f} mm" if place.touch_off_block_mm else ""
    spot = ""
    if place.touch_off_mm is not None:
        x, y = (place.touch_off_mm[0] + place.shift_mm[0], place.touch_off_mm[1] + place.shift_mm[1])
        spot = f"at x {x:.0f} y {y:.0f}: z 0 is the top of the movable board{block}"
    return ProgramSpec(
        job=job.name,
        piece=plan.piece.name,
        placement=place.name,
        side_up=place.up,
        cutter=cutter,
        cutter_number=number,
        machine=job.machine,
        shift_mm=place.shift_mm,
        blank=f"{blank.size_x_mm:g} x {blank.size_y_mm:g} x {blank.size_z_mm:g} mm, {blank.species}",
        touch_off=spot,
        safe_z_mm=None,
    )
