"""What stands on each page of the bench sheet, as plain data for the typst template."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from witnessmark.job.loads import bite_mm
from witnessmark.job.models import Cutter, Job, Machine
from witnessmark.job.placement import Placement
from witnessmark.plan.model import COUNTED, WASTE, PiecePlan, PlacementPlan, ProgramInfo
from witnessmark.plan.touches import FINDER_MM

from .rehearsals import how_to, rehearsal_pages
from .room import room_line, shoe_words
from .scene import Scene
from .sides import lying, side_towards, turning
from .words import (
    AT_THE_MACHINE,
    CAUTIONS,
    FIRST,
    NOT_PROVEN,
    PULL_TEST,
    VALID_BARE,
    VALID_BY_HEADER,
    clean,
    clean_line,
    minutes,
    mm,
)

Page = dict[str, Any]
PIN_SHORT_MM = 1.0  # a pin is shorter than its hole: room for glue
SAME_MM = 0.01
LONGEST_END_MM = 120.0  # a blank's end higher than this is not drawn 1:1: the page ends


def sheet_data(
    job: Job,
    scenes: list[tuple[PiecePlan, list[Scene]]],
    summary: Sequence[str],
    proven: bool,
    with_boards: bool = False,
    with_latch: bool = False,
) -> Page:
    """Everything on the sheet; pictures are named by the scenes' stems. ``with_boards``: a cut list is printed too,
    and tells the waste of the blanks; ``with_latch``: pages on how it goes together are printed too."""
    return {
        "title": clean(job.name, 80),
        "machine": machine_line(job.machine),
        "first": FIRST,
        "banner": "" if proven else NOT_PROVEN,
        "cautions": [{"about": about, "mind": mind} for about, mind in CAUTIONS],
        "order": _order(scenes, with_latch),
        "total": minutes(_minutes_of([scene for _, shown in scenes for scene in shown])),
        "once": _once([scene for _, shown in scenes for scene in shown]),
        "pieces": [
            _piece(job, plan, with_boards) | {"placements": placement_pages(job, plan, shown)}
            for plan, shown in scenes
        ],
        "rehearse": how_to(),
        "valid": VALID_BY_HEADER if job.machine.controller.comments else VALID_BARE,
        "slip": [clean_line(line) for line in summary] or ["No proof slip was handed in."],
    }


def machine_line(machine: Machine) -> str:
    travel = " x ".join(mm(value, 0) for value in (machine.travel_x_mm, machine.travel_y_mm, machine.travel_z_mm))
    return clean(f"{machine.name}: travel {travel} mm", 120)


def _order(scenes: list[tuple[PiecePlan, list[Scene]]], with_latch: bool) -> list[Page]:
    """The steps from boards to piece, each with the time at the machine."""
    steps: list[Page] = []
    plans = [plan for plan, _ in scenes]
    for plan, shown in scenes:
        piece = clean(plan.piece.name, 40)
        steps.append(_step(f"{piece}: {' '.join(first_words(plan))}", "marks page"))
        for scene in shown:
            cuts = clean(scene.plan.cuts, 120)
            time = minutes(_minutes_of([scene]))
            step = _step(f"{piece}, placement {scene.number}: {cuts}", lying(scene.plan.placement), time)
            steps.append(step | {"colour": scene.colour})
        steps.append(_step(f"{piece}: {' '.join(last_words())}", ""))
        steps += [_step(f"{of}: {' '.join(words)}", "") for of, words in [stacking(plan, plans)] if words]
    if with_latch:
        steps.append(_step("latch: put it together", "the latch's pages"))
    return [step | {"number": number} for number, step in enumerate(steps, start=1)]


def first_words(plan: PiecePlan) -> tuple[str, ...]:
    """What is done with the boards before the blank comes to the machine."""
    layers = len(plan.piece.blank.glue_lines_z_mm) + 1
    glue = f"Glue up the blank from {layers} layers, joints staggered, grain one way."
    return (*((glue,) if layers > 1 else ()), "Plane it to size and mark it.")


def stacking(plan: PiecePlan, plans: Sequence[PiecePlan]) -> tuple[str, tuple[str, ...]]:
    """The piece that this is the last layer of, and how its layers become one; no words for any other piece."""
    layer = plan.piece.layer
    if layer is None:
        return "", ()
    mine = [other.piece for other in plans if other.piece.layer is not None and other.piece.layer.of == layer.of]
    if mine[-1].name != plan.piece.name:
        return "", ()
    pins = [pin for piece in mine if piece.layer for pin in piece.layer.pins_mm]
    lengths = _pin_lengths_mm(pins)
    sizes = " and ".join(f"{count} of {mm(length - PIN_SHORT_MM)} mm" for length, count in lengths)
    wide_mm = next((piece.layer.pin_mm for piece in mine if piece.layer), 0.0)
    return clean(layer.of, 40), (
        f"glue its {len(mine)} layers upon each other, grain one way.",
        f"Cut pins {mm(wide_mm)} mm thick: {sizes}." if pins else "Line the edges up: there are no pins.",
        "Stack them dry first: three pins go in one way round only.",
        "Thin glue on the lower face of each joint, none within 3 mm of inside edges; press it, wipe the inside, "
        "leave it as long as the glue's sheet says.",
    )


def _pin_lengths_mm(pins: Sequence[tuple[float, float, float, float]]) -> list[tuple[float, int]]:
    """Lengths of the pins, each with how many: holes over each other that meet are one pin's."""
    runs: dict[tuple[float, float], list[list[float]]] = {}
    for x, y, low, high in sorted(pins, key=lambda pin: pin[2]):
        there = runs.setdefault((x, y), [])
        if there and abs(there[-1][1] - low) < SAME_MM:
            there[-1][1] = high
        else:
            there.append([low, high])
    lengths = [round(high - low, 1) for some in runs.values() for low, high in some]
    return sorted(Counter(lengths).items())


def last_words() -> tuple[str, ...]:
    """What is done when everything is cut."""
    return ("take it off the board, saw off the wood left standing, ease the edges.",)


def _minutes_of(scenes: list[Scene]) -> float:
    return sum(program.minutes for scene in scenes for program in scene.plan.programs)


def _once(scenes: list[Scene]) -> list[str]:
    """What is set up once for the whole job: where x and y are counted from, and where the board is bolted down."""
    lines = ["x 0, y 0 is the front left corner of the travel; z 0 is the face the blank lies on.", PULL_TEST]
    inserts = [insert for scene in scenes if scene.seat is not None for insert in scene.seat.inserts_mm]
    if inserts:
        xs, ys = (" and ".join(mm(value) for value in sorted({round(p[k], 3) for p in inserts})) for k in (0, 1))
        lines.append(
            f"Fixed bolts for the movable board: at x {xs}, y {ys}. Holes are counted from the board's left end."
        )
    return lines


def _step(what: str, where: str, time: str = "") -> Page:
    return {"what": what, "where": where, "minutes": time, "colour": "#ffffff"}


def _piece(job: Job, plan: PiecePlan, with_boards: bool) -> Page:
    """The marks page: the blank's sizes, its layers, what the cutters leave in corners."""
    blank = plan.piece.blank
    eased = [
        f"at x {mm(e.place_mm[0])}, y {mm(e.place_mm[1])}, z {mm(e.place_mm[2])}: left round with radius "
        f"{mm(e.radius_mm, 2)} mm, at most {mm(e.leftover_mm, 2)} mm of wood to pare away"
        for e in plan.eased
    ]
    ups = [step.placement.up for step in plan.placements]
    return {
        "name": clean(plan.piece.name, 60),
        "size": [blank.size_x_mm, blank.size_y_mm, blank.size_z_mm],
        "size_text": " x ".join(f"{v:.5g}" for v in (blank.size_x_mm, blank.size_y_mm, blank.size_z_mm)) + " mm",
        "species": clean(blank.species, 60),
        "grain": blank.grain_axis,
        "layers": list(blank.glue_lines_z_mm),  # above the underside of the blank, as the strip is drawn
        "end_true": blank.size_z_mm <= LONGEST_END_MM,
        "first_up": ups[0] if ups else "",
        "turned": len(set(ups)) > 1,
        "pitch": job.machine.board.hole_pitch_mm if job.machine.board else 0.0,
        "eased": eased,
        "rehearsals": rehearsal_pages(plan),
        "notes": [clean(note) for note in plan.notes if not _elsewhere(note, with_boards)],
    }


def _elsewhere(note: str, with_boards: bool) -> bool:
    """Whether a note of the plan is not for the marks page."""
    return note.endswith(COUNTED) or (with_boards and note.startswith(WASTE))


def waste_notes(plans: Sequence[PiecePlan]) -> dict[str, str]:
    """What the plan says of each blank's ends, by piece."""
    return {plan.piece.name: clean(note) for plan in plans for note in plan.notes if note.startswith(WASTE)}


def placement_pages(job: Job, plan: PiecePlan, scenes: list[Scene]) -> list[Page]:
    """What is to be mounted, measured, touched and run in each placement."""
    pages = []
    before: Placement | None = None
    for scene in scenes:
        place = scene.plan.placement
        pages.append(
            {
                "number": scene.number,
                "colour": scene.colour,
                "heading": clean(_heading(plan.piece.name, place), 70),
                "cuts": clean(scene.plan.cuts, 160),
                "above": f"{scene.stem}-above.png",
                "oblique": f"{scene.stem}-oblique.png",
                "mount": _mount(before, scene, job.machine),
                "measure": _measure(job, before, scene),
                "touches": [_touch(place, number) for number in range(len(place.touches))],
                "touch_off": _touch_off(scene),
                "finder": f"Stylus of at most {mm(2 * FINDER_MM)} mm. The faces are told; the machine reads half a "
                "stylus beside them: see witnessmark find.",
                "programs": [_program(job, scene.plan, program) for program in scene.plan.programs],
                "cautions": _cautions(job, scene.plan),
            }
        )
        before = place
    return pages


def _heading(piece: str, place: Placement) -> str:
    """The piece, which side is up, and the placement's own name if it has more than a number."""
    own = "" if place.name.isdigit() else f", {place.name}"
    return f"{piece}, {side_towards(place.stand, (0, 0, 1))} up{own}"


def _mount(before: Placement | None, scene: Scene, machine: Machine) -> list[str]:
    place, seat = scene.plan.placement, scene.seat
    kinds = sorted({hold.kind for hold in place.holds})
    fresh = before is None or not np.allclose(before.stand.rotation, place.stand.rotation)
    lines = [f"{turning(before, place)} It lies {lying(place)}."]
    if fresh and "tape" in kinds:
        lines.append("Clean both faces, lay double-sided tape over the whole underside, press the blank down hard.")
    if fresh and ("clamp" in kinds or "bolt" in kinds):
        lines.append("Clamp or bolt it where the picture is cross-hatched, and nowhere else.")
    if seat is not None:
        at = f"its left end at x {mm(seat.board_mm[0])}, its front edge at y {mm(seat.board_mm[1])}"
        holes = " and ".join(str(number) for number in seat.bolted)
        bolted = (
            f"Bolt the board with holes {holes} of {seat.holes_each} over the fixed bolts, both rows alike: {at}."
        )
        lines.append(bolted if seat.bolted else f"Fix the board with {at}.")
    x0, y0, _, _ = scene.blank_mm
    lines.append(f"Check: the blank's left end is at x {mm(x0)}, its front edge at y {mm(y0)}.")
    keep_clear = room_line(machine, scene)
    if keep_clear:
        lines.append(keep_clear)
    return [*lines, *(clean(note) for note in place.notes)]


def _measure(job: Job, before: Placement | None, scene: Scene) -> list[str]:
    """What the maker measures before the first program, with the value it should have."""
    lines = [f"Wood above the board at its highest: should be {mm(float(scene.plan.top_before.max()))} mm."]
    if before is None:
        lines.append("The blank's front edge runs true along X within 0.1 mm from end to end.")
    elif job.machine.board is not None:
        place = scene.plan.placement
        again = _found_again(job.machine.board.repeatability_mm, job.settings.gouge_tolerance_mm)
        then = "" if place.expected_step_mm is None else f" Steps then stay below {mm(place.expected_step_mm, 2)} mm."
        lines.append(again + then)
    return lines


def _found_again(repeats_mm: float, tolerance_mm: float) -> str:
    """Whether the board's holes alone bring the work back near enough."""
    back = f"The holes alone bring it back to {mm(repeats_mm, 2)} mm"
    if repeats_mm > tolerance_mm:
        return f"{back}; {mm(tolerance_mm, 2)} is asked for: read the touches first."
    return f"{back}, as near as is asked for."


def _touch(place: Placement, index: int) -> Page:
    """A touch with the axis to read and the nominal reading (program frame)."""
    touch = place.touches[index]
    move = place.standing_to_program @ place.stand
    at, normal = move.apply(np.array(touch.point_mm)), move.rotation @ np.array(touch.normal)
    axis = int(np.argmax(np.abs(normal)))
    return {
        "name": f"T{index + 1}",
        "what": clean(f"{touch.name} ({touch.kind}, {touch.known_from})", 90),
        "at": f"x {mm(at[0])}  y {mm(at[1])}  z {mm(at[2])}",
        "reads": f"{'xyz'[axis]} = {mm(at[axis], 2)}",
    }


def _touch_off(scene: Scene) -> str:
    place = scene.plan.placement
    if place.touch_off_mm is None:
        return (
            "Touch every cutter off on the supporting face beside the blank: z 0 is that face, not the blank's top."
        )
    x, y = place.touch_off_mm[0] + place.shift_mm[0], place.touch_off_mm[1] + place.shift_mm[1]
    spot = f"Touch every cutter off at x {mm(x)}, y {mm(y)}"
    if place.touch_off_block_mm > 0:
        block = mm(place.touch_off_block_mm)
        return f"{spot}, on a setting block {block} mm high: there z is {block}. Take the block away again."
    return f"{spot}: there z is 0 (the supporting face, not the blank's top)."


def _program(job: Job, plan: PlacementPlan, program: ProgramInfo) -> Page:
    cutter = next((cutter for cutter in job.cutters if cutter.name == program.cutter), None)
    return {
        "file": clean(program.file, 80),
        "cutter": clean(program.cutter, 40),
        "sizes": _sizes(cutter) if cutter else "not in the job",
        "stickout": mm(cutter.stickout_mm) if cutter else "?",
        "minutes": minutes(program.minutes),
        "fingerprint": clean(program.fingerprint, 60),
        "bite": f"bite {mm(bite_mm(cutter), 3)}" if cutter else "",
        "shoe": shoe_words(job, cutter, plan, program),
    }


def _sizes(cutter: Cutter) -> str:
    shape = f"{cutter.kind.replace('_', ' ')} {mm(cutter.diameter_mm, 2)}"
    return f"{shape}, {cutter.flutes} flutes of {mm(cutter.flute_length_mm, 0)}"


def _cautions(job: Job, plan: PlacementPlan) -> list[str]:
    lines = [AT_THE_MACHINE]
    if plan.clearance_mm3 > 0:
        litres = plan.clearance_mm3 / 1e6
        lines.append(
            f"Clearance wood ({litres:.2f} l) is cut first: the collet nut or spindle nose goes down beside wood "
            "here. Set the stick-out to the tenth and check it after tightening."
        )
    if any(hold.kind == "tape" for hold in plan.placement.holds):
        lines.append("Tape lets go without warning: pull at the blank before each start.")
    if job.machine.board is not None:
        lines.append("Every bolt is tight and every spanner off the bed before the spindle starts.")
    return lines
