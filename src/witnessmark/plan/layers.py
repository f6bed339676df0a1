"""Layers or a block: a piece as it is, against the same piece cut as 2 to 5 layers that are pinned and glued.

Question  what each way takes: placements, hours, wood, glue lines that are seen, how deep the cutter must come down
Frame     the piece's own; heights above the piece's lowest face
Units     mm, mm3, hours
Method    layers of about equal thickness; a line between two is moved, by at most a quarter of a layer, to where it
          is seen least, preferably onto a floor, and never near one. Each layer is then planned as a piece of its own
Source    hours of mounting and measuring a placement, of a glue-up: our own guesses, told as such
Valid     the same machine and cutters for all ways; the plan's own guess of minutes by the wood removed
Refuses   nothing: a way that cannot be set up is told with its reason
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from witnessmark.job.errors import Refusal
from witnessmark.job.models import Blank, Job, PieceLayer, PieceSpec
from witnessmark.job.wishes import first_up_of
from witnessmark.shapes.layers import Pin, pin_places, solid_of_layer
from witnessmark.shapes.solid import Solid

from .candidates import blank_box
from .model import PiecePlan
from .one_side import alone_sides
from .piece import plan_piece
from .seam_faces import seam_cost_mm, shown_mm
from .spindle import main_cutter
from .table import guessed_minutes

Progress = Callable[[str, float], None]

MOST_LAYERS = 5
LEAST_LAYER_MM = 6.0
MOVED_RATIO = 0.25  # of a layer's thickness, that a line between two may be moved
STEP_MM = 1.0
NEAR_FLOOR_MM = 3.0  # a line so near to a floor, and not on it, would leave a wafer of wood
ON_FLOOR_RATIO = 0.5  # what a line on a floor is worth, of a line all round
OFF_RATIO = 0.2  # what moving it as far as it may go costs
PIN_MM = (10.0, 8.0, 6.0, 5.0, 4.0, 3.0)
SLIP_MM = 0.1  # a pin's hole is wider by this (common practice, no source)
DEEP_PINS, DEEP_RATIO = 2.0, 0.4  # a blind hole: so many diameters, and at most so much of the layer
ROOM_MM = 0.15  # a hole is wider than the cutter by more than this
PLACEMENT_HOURS, GLUE_HOURS = 0.5, 1.0  # mounting, finding and touching off; a glue-up in clamps (our own guesses)
SOLID_WOOD = {"glue_lines_z_mm": (), "layer_grains": (), "hollows": ()}  # until boards are chosen for it
PLANED_MM = 1.5  # planed off each face of a layer


@dataclass(frozen=True, eq=False)
class Way:
    """One way to make a piece: of how many layers, and what it takes. ``trouble``: why it cannot be set up, or what
    of it stays out of reach; '' where it can be made."""

    count: int
    specs: tuple[PieceSpec, ...]
    placements: int
    hours: float
    wood_mm3: float
    seen_mm: float
    reach_mm: float
    lines_mm: tuple[float, ...]
    pins: str
    trouble: str


def ways(job: Job, spec: PieceSpec, piece: Solid, most: int, progress: Progress) -> list[Way]:
    """The piece as a block and as 2 to ``most`` layers."""
    found = []
    for count in range(1, most + 1):
        progress(f"{spec.name}: {count} layers" if count > 1 else f"{spec.name}: one block", (count - 1) / most)
        specs = layers_of(job, spec, piece, count)
        if specs:
            found.append(_way(job, spec, piece, specs))
    return found


def layers_of(job: Job, spec: PieceSpec, piece: Solid, count: int) -> tuple[PieceSpec, ...]:
    """The pieces that a piece becomes in so many layers; () where the layers would be too thin."""
    if count == 1:
        return (spec,)
    low, high = piece.bounds_mm
    high_mm = float(high[2] - low[2])
    if high_mm / count < LEAST_LAYER_MM:
        return ()
    lines = line_heights(piece, count)
    ends_mm = [0.0, *lines, high_mm]
    pin_mm, pins = _pins(job, piece, ends_mm)
    low_z_mm, corner = float(low[2]), spec.blank.corner_mm
    under_mm = spec.blank.below_mm if corner is None else max(0.0, low_z_mm - corner[2])
    above_mm = max(0.0, spec.blank.size_z_mm - under_mm - high_mm)
    found = []
    for k in range(count):
        from_mm, to_mm = ends_mm[k], ends_mm[k + 1]
        below_mm = under_mm if k == 0 else 0.0
        z_mm = below_mm + to_mm - from_mm + (above_mm if k == count - 1 else 0.0)
        sizes = {"size_z_mm": round(z_mm, 3), "below_mm": below_mm, **SOLID_WOOD}
        if corner is not None:
            sizes["corner_mm"] = (corner[0], corner[1], low_z_mm + from_mm - below_mm)
        blank: Blank = spec.blank.model_copy(update=sizes)
        layer = PieceLayer(
            of=spec.name,
            from_mm=round(from_mm, 3),
            to_mm=round(to_mm, 3),
            pin_mm=pin_mm,
            hole_mm=round(pin_mm + SLIP_MM, 3) if pin_mm else 0.0,
            pins_mm=tuple((pin.x_mm, pin.y_mm, round(pin.from_mm, 3), round(pin.to_mm, 3)) for pin in pins[k]),
        )
        name = f"{spec.name} layer {k + 1}"
        stages = spec.stages if k == 0 else ()
        own = spec.model_copy(update={"name": name, "blank": blank, "layer": layer, "stages": stages})
        found.append(_seen_from_one_side(job, own, solid_of_layer(piece, layer, f"piece {name}")))
    return tuple(found)


def _seen_from_one_side(job: Job, own: PieceSpec, solid: Solid) -> PieceSpec:
    """The layer with the wish for the side that shows all of it, where one does: what the whole piece wants up first
    is no wish for its layers."""
    able = alone_sides(solid, blank_box(own.blank, *solid.bounds_mm))
    if not able or first_up_of(job, own) in able:
        return own
    return own.model_copy(update={"wish": own.wish.model_copy(update={"first_up": able[0]})})


def line_heights(piece: Solid, count: int) -> list[float]:
    """Heights of the lines between layers, above the lowest face."""
    low_mm, high_mm = (float(corner[2]) for corner in piece.bounds_mm)
    thick_mm = (high_mm - low_mm) / count
    floors_mm = [z for z, _ in piece.flat_levels()] + _ceilings(piece)
    low, high = piece.bounds_mm
    round_mm = 2.0 * float((high - low)[:2].sum())
    found = []
    for k in range(1, count):
        even_mm = low_mm + k * thick_mm
        room_mm = MOVED_RATIO * thick_mm
        steps = np.arange(-math.floor(room_mm / STEP_MM), math.floor(room_mm / STEP_MM) + 1) * STEP_MM
        near = [z for z in floors_mm if abs(z - even_mm) <= room_mm]
        best = min(
            [*(even_mm + steps).tolist(), *near],
            key=lambda z: (
                _line_cost(piece, z, floors_mm, round_mm) + OFF_RATIO * round_mm * abs(z - even_mm) / room_mm
            ),
        )
        found.append(round(best - low_mm, 3))
    return found


def _ceilings(piece: Solid) -> list[float]:
    """Heights of flat faces that face down, without the lowest of all."""
    flat = np.flatnonzero((piece.normals[:, 2] <= -1.0 + 1e-9) & (piece.areas_mm2 > 0))
    heights = np.round(piece.triangles[flat, :, 2].mean(axis=1), 3)
    lowest_mm = float(piece.bounds_mm[0][2])
    return [z for z in np.unique(heights).tolist() if z > lowest_mm + STEP_MM]


def _line_cost(piece: Solid, z_mm: float, floors_mm: Sequence[float], round_mm: float) -> float:
    """Millimetres of line that are seen, less what a floor is worth, more where it would leave a wafer."""
    off_mm = min((abs(z_mm - floor_mm) for floor_mm in floors_mm), default=math.inf)
    if off_mm < 1e-6:
        return -ON_FLOOR_RATIO * round_mm
    cost = seam_cost_mm(piece, 2, z_mm)
    return cost + (10.0 * round_mm if off_mm < NEAR_FLOOR_MM else 0.0)


def _pins(job: Job, piece: Solid, ends_mm: Sequence[float]) -> tuple[float, list[list[Pin]]]:
    """The thickest pins there is room for, and the holes of every layer; 0 where no pin has room."""
    none: list[list[Pin]] = [[] for _ in ends_mm[1:]]
    for pin_mm in PIN_MM:
        if _cuts_hole(job, pin_mm + SLIP_MM):
            found = _through(piece, ends_mm, pin_mm) or _blind(piece, ends_mm, pin_mm)
            if found:
                return pin_mm, found
    return 0.0, none


def _cuts_hole(job: Job, hole_mm: float) -> bool:
    """Whether a flat cutter of the job clears such a hole: the main one by going in, a smaller one by going round."""
    main = main_cutter(job)
    return any(
        cutter.kind == "flat"
        and cutter.diameter_mm + ROOM_MM < hole_mm
        and (cutter.name == main.name or hole_mm <= 2 * cutter.diameter_mm)
        for cutter in job.planned_cutters
    )


def _deep_mm(pin_mm: float, thick_mm: float) -> float:
    return min(DEEP_PINS * pin_mm, DEEP_RATIO * thick_mm)


def _through(piece: Solid, ends_mm: Sequence[float], pin_mm: float) -> list[list[Pin]]:
    """Holes that run through every layer between the outer two, one pin in each; [] where there is no room."""
    last = len(ends_mm) - 2
    from_mm = ends_mm[1] - _deep_mm(pin_mm, ends_mm[1] - ends_mm[0])
    to_mm = ends_mm[last] + _deep_mm(pin_mm, ends_mm[last + 1] - ends_mm[last])
    places = pin_places(piece, from_mm, to_mm, pin_mm + SLIP_MM)
    return (
        [[Pin(x, y, max(from_mm, a), min(to_mm, b)) for x, y in places] for a, b in pairwise(ends_mm)]
        if places
        else []
    )


def _blind(piece: Solid, ends_mm: Sequence[float], pin_mm: float) -> list[list[Pin]]:
    """Holes of their own at each line; [] where one has no room."""
    found: list[list[Pin]] = [[] for _ in ends_mm[1:]]
    for k in range(1, len(ends_mm) - 1):
        from_mm = ends_mm[k] - _deep_mm(pin_mm, ends_mm[k] - ends_mm[k - 1])
        to_mm = ends_mm[k] + _deep_mm(pin_mm, ends_mm[k + 1] - ends_mm[k])
        places = pin_places(piece, from_mm, to_mm, pin_mm + SLIP_MM)
        if not places:
            return []
        found[k - 1] += [Pin(x, y, from_mm, ends_mm[k]) for x, y in places]
        found[k] += [Pin(x, y, ends_mm[k], to_mm) for x, y in places]
    return found


def _way(job: Job, spec: PieceSpec, piece: Solid, specs: Sequence[PieceSpec]) -> Way:
    plans: list[PiecePlan] = []
    troubles: list[str] = []
    for own in specs:
        try:
            solid = solid_of_layer(piece, own.layer, f"piece {own.name}") if own.layer else piece
            plan = plan_piece(job, own, solid, advise=False)
        except Refusal as refusal:
            troubles += [
                f"{own.name}: " + ", ".join(filter(None, (trouble.what, trouble.by))) for trouble in refusal.troubles
            ]
            continue
        plans.append(plan)
        if plan.short_mm2 > 0:
            troubles.append(f"{own.name}: {plan.short_mm2 / 100:.1f} cm2 stay out of reach")
    blank, count = spec.blank, len(specs)
    minutes = [guessed_minutes(step) for plan in plans for step in plan.placements]
    cutting_h = sum(math.sqrt(low * high) for low, high in filter(None, minutes)) / 60
    placements = sum(len(plan.placements) for plan in plans)
    wood_mm3 = sum((own.blank.size_z_mm + 2 * PLANED_MM) * blank.size_x_mm * blank.size_y_mm for own in specs)
    low_mm = float(piece.bounds_mm[0][2])
    lines = [own.layer.to_mm for own in specs[:-1] if own.layer] or [
        z - blank.below_mm for z in blank.glue_lines_z_mm
    ]
    pin_mm = specs[0].layer.pin_mm if specs[0].layer else 0.0
    return Way(
        count=count,
        specs=tuple(specs),
        placements=placements,
        hours=cutting_h + PLACEMENT_HOURS * placements + GLUE_HOURS * bool(lines),
        wood_mm3=wood_mm3,
        seen_mm=sum(shown_mm(piece, low_mm + z) for z in lines),
        reach_mm=max((_reach_mm(plan) for plan in plans), default=0.0),
        lines_mm=tuple(lines) if count > 1 else (),
        pins=""
        if count == 1
        else (f"{len(specs[0].layer.pins_mm) if specs[0].layer else 0} of {pin_mm:g} mm" if pin_mm else "none"),
        trouble="; ".join(dict.fromkeys(troubles)),
    )


def _reach_mm(plan: PiecePlan) -> float:
    """How far below the wood's highest the tip must come down, at most."""
    deepest = 0.0
    for step in plan.placements:
        if step.wanted is not None and np.isfinite(step.wanted).any():
            top_mm = float(step.top_before[np.isfinite(step.top_before)].max())
            deepest = max(deepest, top_mm - float(step.wanted[np.isfinite(step.wanted)].min()))
    return deepest
