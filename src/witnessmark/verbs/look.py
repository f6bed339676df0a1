"""look: where will my spindle hit, and what must I leave? From a shape and six sizes, without a job."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from witnessmark.field.drop import top_bounds
from witnessmark.job.checks import Parts, cross_checks
from witnessmark.job.errors import Refusal, refuse
from witnessmark.job.models import Blank, Cutter, Job, Machine, MovableBoard, PieceSpec, Settings, Wish
from witnessmark.job.names import name_from
from witnessmark.job.placement import rectangle_of
from witnessmark.plan.change import Change, Search, search_changes
from witnessmark.plan.hits import Hit, hits_without_clearance
from witnessmark.plan.model import PiecePlan, PlacementPlan
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.search import lay_out, setup_troubles
from witnessmark.plan.spindle import Reachable, main_cutter, reachable
from witnessmark.plan.table import side_words
from witnessmark.shapes.solid import Solid
from witnessmark.sheet.look import LookView, draw_look

from .workshop import read_piece

ROUND_IT_MM, ABOVE_MM = 30.0, 4.0
FINE_MM = 0.5
MOST_CELLS = 700_000  # of the grid that is looked at: a blank of 470 x 370 mm in cells of 0.5 mm
MOST_PLACEMENTS = 1000


@dataclass(frozen=True)
class LookSizes:
    """The six sizes, and those that have a stated default (None: taken as said in ``assumed``). All mm."""

    travel_mm: tuple[float, float, float]
    cutter_mm: float
    stickout_mm: float
    nut_mm: tuple[float, float]
    nose_mm: float
    blank_mm: tuple[float, float, float] | None = None
    flutes_mm: float | None = None
    nose_above_bed_mm: float | None = None
    board_mm: float = 18.0
    pitch_mm: float = 25.0


@dataclass(frozen=True, eq=False)
class LookAnswer:
    """What was found, in words and as a plan; ``picture`` is the file drawn."""

    fits: bool
    words: tuple[str, ...]
    assumed: tuple[str, ...]
    notes: tuple[str, ...]
    plan: PiecePlan
    changes: tuple[Change, ...]
    picture: Path | None = field(default=None)


def look(
    shape: Path | str,
    sizes: LookSizes,
    unit: str | None = None,
    thickness_mm: float | None = None,
    picture: Path | None = None,
    progress: Callable[[str, float], None] = lambda what, done: None,
    mend: bool = False,
) -> LookAnswer:
    """Answer the first question; a refusal says what cannot be set up at all. ``mend``: the shape, if it needs it."""
    path = Path(shape)
    must_be_file(path)
    if picture is not None:
        _must_be_drawable(picture, path)
    progress("reading the shape", 0.0)
    solid, notes = read_piece(path, unit, thickness_mm, mend)
    job, assumed = job_for(path, sizes, solid)
    _must_go_together(job, solid)
    job, coarse = _as_coarse_as_large(job)
    spec = job.pieces[0]
    plan = plan_piece(job, spec, solid, progress)
    progress("looking for the smallest change", 0.8)
    layout = lay_out(job, spec, solid)
    fits = layout.unreached == 0
    found = search_changes(
        job,
        spec,
        solid,
        layout.meeting,
        lambda new: not new.unreached and (not fits or new.bound < layout.bound),
        at_most=layout.bound - 1 if fits else None,
    )
    main = reachable(main_cutter(job), job.machine, job.settings)
    worst, words = _words(plan, main)
    words = [_verdict(plan, fits), *words, *_change_words(found, fits)]
    assumed = (*assumed, *_width_words(plan, job.machine), *coarse)
    answer = LookAnswer(fits, tuple(words), assumed, (*notes, *plan.notes), plan, found.changes)
    if picture is None:
        return answer
    progress("drawing", 0.95)
    drawn = _draw(job, plan, solid, worst, tuple(words), picture)
    return LookAnswer(**{**answer.__dict__, "picture": drawn})


def must_be_file(path: Path) -> None:
    """Refuse what is there but is no file, by the name that was given."""
    try:
        there, file = path.exists(), path.is_file()
        if "\0" in str(path):
            raise ValueError
    except (OSError, ValueError):  # a name too long, or with signs that no name has
        raise refuse(f"shape {str(path)[:80]!r}", "is not the name of a file", "check the name") from None
    if there and not file:
        what = "is a folder" if path.is_dir() else "is no file"
        raise refuse(f"shape {path}", what, "name the shape file itself: .step, .stl, .3mf, .obj, .dxf or .svg")


def _must_be_drawable(picture: Path, shape: Path) -> None:
    """Refuse a picture that could not be written, or would be written over the shape, before the work is done."""
    where = f"picture {picture}"
    if picture.suffix.lower() != ".png":
        raise refuse(where, "does not end in .png", "give the picture a name that ends in .png")
    if picture.is_dir():
        raise refuse(where, "is a folder", "name a file in it: look.png")
    if picture.exists() and shape.exists() and picture.samefile(shape):
        raise refuse(where, "is the shape file itself", "give the picture another name")


def _must_go_together(job: Job, solid: Solid) -> None:
    """Refuse sizes that cannot all be true; they have no line in a file, so the size itself is named."""
    parts = Parts(job.machine, tuple(enumerate(job.cutters)), tuple(enumerate(job.pieces)), job.settings, job.wish)
    troubles = cross_checks(parts, None, "look") or setup_troubles(job, job.pieces[0], solid)
    if troubles:
        raise Refusal(*(replace(one, where=one.where.partition(", ")[2]) for one in troubles))


def job_for(path: Path, sizes: LookSizes, solid: Solid) -> tuple[Job, tuple[str, ...]]:
    """A job made of the sizes, and the assumptions that it makes."""
    lower, upper = solid.bounds_mm
    size = upper - lower
    assumed = []
    blank = sizes.blank_mm
    if blank is None:
        blank = (size[0] + 2 * ROUND_IT_MM, size[1] + 2 * ROUND_IT_MM, size[2] + ABOVE_MM)
        assumed.append(f"blank {blank[0]:.0f} x {blank[1]:.0f} x {blank[2]:.0f} mm: 30 mm round it, 4 mm above")
    flutes = sizes.flutes_mm
    if flutes is None:
        flutes = round(0.7 * sizes.stickout_mm, 1)
        assumed.append(f"flutes {flutes:.0f} mm long (0.7 of the stick-out)")
    nose_above = sizes.nose_above_bed_mm
    if nose_above is None:
        nose_above = sizes.travel_mm[2] + sizes.stickout_mm + sizes.nut_mm[1]
        assumed.append(
            f"spindle nose {nose_above:.0f} mm above the bed at the top of Z: the tip just reaches the bed"
        )
    assumed.append(
        f"board under the blank {sizes.board_mm:.0f} mm thick, shifted in steps of {sizes.pitch_mm:.0f} mm"
    )
    assumed.append("work may stick out along X; nothing under the gantry or beside the blank is in the way")
    board_y = blank[1] + 70.0
    shift_y = max(0.0, (blank[1] - sizes.travel_mm[1]) / 2 + sizes.pitch_mm)  # all that shows another part of it
    machine = Machine(
        travel_x_mm=sizes.travel_mm[0],
        travel_y_mm=sizes.travel_mm[1],
        travel_z_mm=sizes.travel_mm[2],
        nose_above_bed_mm=nose_above,
        gantry_above_bed_mm=max(nose_above, blank[2] + sizes.board_mm + 1.0),
        clear_width_mm=max(sizes.travel_mm[1] + 100.0, board_y + 2 * shift_y),
        board=MovableBoard(
            thickness_mm=sizes.board_mm,
            size_x_mm=blank[0] + 50.0,
            size_y_mm=board_y,
            hole_pitch_mm=sizes.pitch_mm,
        ),
        nose_diameter_mm=sizes.nose_mm,
        nut_diameter_mm=sizes.nut_mm[0],
        nut_length_mm=sizes.nut_mm[1],
    )
    cutter = Cutter(
        name=f"flat {sizes.cutter_mm:g}",
        kind="flat",
        diameter_mm=sizes.cutter_mm,
        flute_length_mm=flutes,
        stickout_mm=sizes.stickout_mm,
        shank_diameter_mm=sizes.cutter_mm,
        stepdown_mm=min(3.0, sizes.cutter_mm / 2),
        stepover_mm=0.4 * sizes.cutter_mm,
    )
    name = name_from(path.stem)
    spec = PieceSpec(
        name=name,
        shape=path.name,
        blank=Blank(size_x_mm=blank[0], size_y_mm=blank[1], size_z_mm=blank[2]),
    )
    job = Job(name=name, machine=machine, cutters=(cutter,), pieces=(spec,))
    return job, (*assumed, *_sizes_taken(job, machine, cutter))


def _sizes_taken(job: Job, machine: Machine, cutter: Cutter) -> Iterator[str]:
    """The sizes that nobody gave and that the answer goes by."""
    settings, board = job.settings, machine.board
    yield f"cutter flat, cutting at its centre, shank {cutter.shank_diameter_mm:g} mm; no dust shoe"
    yield f"spindle housing as wide as the nose for {machine.nose_length_mm:g} mm above the nut"
    yield (
        f"{settings.assembly_clearance_mm:g} mm kept between uncut wood and nut or nose, "
        f"{settings.travel_slack_mm:g} mm of travel kept free at every end"
    )
    yield (
        f"trenches {settings.trench_mm:g} mm wider than the cutter; cuts right through go "
        f"{settings.through_overlap_mm:g} mm past where the sides meet, at seams {settings.seam_overlap_mm:g} mm"
    )
    yield (
        f"{settings.wall_allowance_mm:g} mm left on walls and {settings.floor_allowance_mm:g} mm on floors by "
        f"roughing; stepdown {cutter.stepdown_mm:g} mm, stepover {cutter.stepover_mm:g} mm; feeds and speeds change "
        "nothing of this answer"
    )
    if board is not None:
        yield (
            f"board {board.size_x_mm:.0f} x {board.size_y_mm:.0f} mm, holes {board.hole_inset_mm:g} mm from its "
            f"edges, bolt heads {board.bolt_head_diameter_mm:g} mm wide and {board.bolt_head_height_mm:g} mm high"
        )


def _as_coarse_as_large(job: Job) -> tuple[Job, tuple[str, ...]]:
    """The job on a grid that a large blank does not make slow, with no wish for few placements."""
    blank, settings = job.pieces[0].blank, job.settings
    pitch_mm = round(max(settings.plan_pitch_mm, math.sqrt(blank.size_x_mm * blank.size_y_mm / MOST_CELLS)), 2)
    settings = Settings(**{**settings.model_dump(), "plan_pitch_mm": pitch_mm})
    said = (f"looked at in cells of {pitch_mm:g} mm, the blank being large",) if pitch_mm > FINE_MM else ()
    return job.model_copy(update={"settings": settings, "wish": Wish(max_placements=MOST_PLACEMENTS)}), said


def _width_words(plan: PiecePlan, machine: Machine) -> list[str]:
    """What the shifts across the gantry take for granted."""
    board_mm = machine.board.size_y_mm if machine.board else 0.0
    off_mm = max(
        abs(step.placement.shift_mm[1] + _middle_y_mm(step) - machine.travel_y_mm / 2) for step in plan.placements
    )
    return [f"at least {board_mm + 2 * off_mm:.0f} mm are clear between the uprights"] if off_mm > 1.0 else []


def _middle_y_mm(step: PlacementPlan) -> float:
    _, low, _, high = rectangle_of(step.placement.holds[0].outline_mm)
    return (low + high) / 2


def _verdict(plan: PiecePlan, fits: bool) -> str:
    by_side: dict[str, int] = {}
    for step in plan.placements:
        by_side[step.placement.up] = by_side.get(step.placement.up, 0) + 1
    sides = ", ".join(f"{count} with the {side_words(up)} up" for up, count in by_side.items())
    head = "It can be made" if fits else "It cannot be made whole"
    bound = f"of the shifts looked at, no order needs fewer than {plan.bound}"
    return f"{head}: {len(plan.placements)} placements ({sides}); {bound}."


def _words(plan: PiecePlan, main: Reachable) -> tuple[tuple[PlacementPlan, list[Hit], np.ndarray], list[str]]:
    words: list[str] = []
    worst: tuple[PlacementPlan, list[Hit], np.ndarray] | None = None
    for step in plan.placements:
        hits, left = hits_without_clearance(step, main)
        name = f"Placement {step.placement.name} ({side_words(step.placement.up)} up)"
        if hits:
            parts = " and ".join(f"the {hit.kind} by {hit.deepest_mm:.1f} mm" for hit in hits)
            x, y, _ = hits[0].place_mm
            words.append(
                f"{name}: uncut wood would be hit by {parts}, worst near x {x:z.0f} y {y:z.0f}; "
                f"clear {step.clearance_mm3 / 1000:.1f} cm3 first."
            )
        else:
            words.append(f"{name}: nut and nose stay clear of uncut wood.")
        words += [f"{name}: {note}" for note in step.placement.notes]
        if worst is None or (hits and (not worst[1] or hits[0].deepest_mm > worst[1][0].deepest_mm)):
            worst = (step, hits, left)
    assert worst is not None
    return worst, words


def _change_words(found: Search, fits: bool) -> list[str]:
    what = "save a placement" if fits else "make it possible"
    words = [f"To {what}: {change.words} - then {change.placements} placements." for change in found.changes]
    if found.stopped:
        words.append(f"The search for changes stopped after {found.tried}: trying all would take too long.")
    elif not found.changes:
        words.append(f"No single small change of {found.tried} tried would {what}.")
    return words


def _draw(
    job: Job,
    plan: PiecePlan,
    solid: Solid,
    worst: tuple[PlacementPlan, list[Hit], np.ndarray],
    words: tuple[str, ...],
    picture: Path,
) -> Path:
    step, hits, left = worst
    place, machine = step.placement, job.machine
    main = reachable(main_cutter(job), machine, job.settings)
    _, piece_top = top_bounds(solid.moved(place.stand).triangles, step.grid)
    tip = hits[0].place_mm if hits else _deepest(step)
    cut = np.isfinite(step.top_before) & (step.top_after >= step.top_before - 0.02)
    view = LookView(
        title=f"{plan.piece.name}: placement {place.name}, {side_words(place.up)} up",
        grid=step.grid,
        uncut=step.top_before,
        left=left.astype(np.float32),
        piece=piece_top,
        window_mm=place.window_mm(machine.travel_x_mm, machine.travel_y_mm),
        assembly=main.assembly,
        worst_tip_mm=tip,
        hits={hit.kind: hit.cells for hit in hits},
        clear=step.clearance,
        leave=cut & ~np.isfinite(piece_top),
        answers=words,
    )
    return draw_look(view, picture)


def _deepest(step: PlacementPlan) -> tuple[float, float, float]:
    assert step.tips is not None
    j, i = np.unravel_index(int(np.argmin(step.tips)), step.tips.shape)
    return (float(step.grid.x_mm[i]), float(step.grid.y_mm[j]), float(step.tips[j, i]))
