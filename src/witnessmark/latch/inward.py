"""Holes that face inward, into which no upright cutter gets: the ways to make them, and what each does to the yield.

Question  which of the ways can make a bolt's hole in this body, how true, and how many latches then work
Frame     as ``solids``, the hole along x: its mouth is where the opening's wall is
Units     mm, degrees
Method    bridge: a slot from above, a block glued over it. Undercut: the disc of a T-slot cutter of the job, lowered
          into the opening and moved into the wall. Stand: the body stood on its side, where nothing lies before the
          hole. Guide: a block that the tool makes, on the rim and wedged to the wall, and a drill in its bore.
          Right angle: the drill's head in the cavity, by eye. Lean: a straight drill past the wall opposite, the
          smallest lean at which its chuck clears the rim; the hole is made wider, that the level bolt goes in
Source    plane geometry; how true each way comes out: our own estimates, unless given
Valid     one wall opposite; a drill as stiff as it is thick
Refuses   nothing: a way that cannot be says what it lacks
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import get_args

import shapely
from manifold3d import Manifold

from witnessmark.job.latch import DrillTools, HolesBy, Spreads
from witnessmark.job.models import Cutter
from witnessmark.shapes.rings import area_of_section

from .chances import Astray, Loose, drawn, works
from .design import Design
from .gates import Tables
from .let_in import LetIn
from .undercut import disc_for

# How true the place of a hole is by each way, beyond what lid and placements do: up and down, sideways
MACHINE_MM = 0.03  # cut in the placement that cuts the opening
GLUED_MM = 0.03  # a flat block on a flat seat: what its glue line differs by
STOOD_MM = 0.08  # found again on its side
SET_MM = 0.05  # a guide on the rim and against the wall
EYE_MM = 0.5  # a mark and a steady hand
BORE_PLAY_MM = 0.1  # of a drill in a guide's bore
BORE_RATIO = 2.5  # a guide's bore over the drill
GAP_MM = 0.5  # from guide to wall
HEAD_PLAY_MM = 1.0
FAR_MM = 1e4
TRIED = 60_000
BESIDE_MM = 3.0  # wood left beside an undercut slot


@dataclass(frozen=True)
class Around:
    """Where a hole is: how far the wall opposite is (inf: none), how far the rim over it is above the axis, and the
    wood to the nearer side of the axis at its mouth."""

    across_mm: float
    under_mm: float
    beside_mm: float


@dataclass(frozen=True)
class Way:
    """A way to make a bolt's hole: whether it can be here, or what it lacks; how true; how many of the latches work
    where the other bolts' holes are made as they are to be."""

    by: HolesBy
    lacks: str
    up_mm: float
    aside_mm: float
    hole_mm: float
    works_ratio: float
    words: str

    @property
    def able(self) -> bool:
        return not self.lacks


def around(let_in: LetIn, bolt: int) -> Around:
    """What is round a hole, from the body with its opening and no holes yet."""
    design = let_in.design
    turn_deg = -360.0 * bolt / design.bolts
    body: Manifold = (let_in.from_body(let_in.body) - let_in.parts.opening).rotate((0.0, 0.0, turn_deg))
    wall, height = design.mouth_mm + design.open_mm, let_in.room.holes_mm(design)
    level = area_of_section(body.slice(height))
    back = shapely.LineString([(wall - 0.05, 0.0), (-FAR_MM, 0.0)]).intersection(level)
    across = math.inf if back.is_empty else wall - back.bounds[2]
    whole = area_of_section(let_in.from_body(let_in.body).rotate((0.0, 0.0, turn_deg)).slice(height))
    beside = shapely.LineString([(wall + 1.0, -FAR_MM), (wall + 1.0, FAR_MM)]).intersection(whole)
    near = [part for part in shapely.get_parts(beside) if part.bounds[1] <= 0.0 <= part.bounds[3]]
    side = min(-near[0].bounds[1], near[0].bounds[3]) if near else 0.0
    rim = float(body.bounding_box()[5])
    return Around(across, rim - height, side)


def ways(
    let_in: LetIn, tools: DrillTools, cutters: Sequence[Cutter], spreads: Spreads, loose: Loose
) -> tuple[tuple[Way, ...], ...]:
    """For each bolt every way, the best first; those that cannot be, last. ``loose``: without what the ways add."""
    design, tables = let_in.design, Tables.of(let_in.design)
    asked = made_by(let_in.holes, loose, design.hole_mm, design.hole_deep_mm).holes
    found = []
    for bolt in range(design.bolts):
        at, of_bolt = around(let_in, bolt), []
        for by in get_args(HolesBy):
            lacks, hole, words = _way(by, design, at, tools, cutters)
            own = _astray(loose.holes[bolt], by, design.hole_mm, design.hole_deep_mm)
            own = replace(own, wider_mm=hole - design.hole_mm)
            share = 0.0
            if not lacks:
                as_made = replace(loose, holes=(*asked[:bolt], own, *asked[bolt + 1 :]))
                share = float(works(design, tables, drawn(spreads, as_made, TRIED)).mean())
            of_bolt.append(Way(by, lacks, *true_mm(by, design.hole_mm, design.hole_deep_mm), hole, share, words))
        found.append(tuple(sorted(of_bolt, key=lambda way: (not way.able, -way.works_ratio))))
    return tuple(found)


def made_by(holes: Sequence[HolesBy], loose: Loose, hole_mm: float, deep_mm: float) -> Loose:
    """With what the ways in which the holes are made add to each."""
    return replace(
        loose, holes=tuple(_astray(hole, by, hole_mm, deep_mm) for hole, by in zip(loose.holes, holes, strict=True))
    )


def _astray(hole: Astray, by: HolesBy, hole_mm: float, deep_mm: float) -> Astray:
    up, aside = true_mm(by, hole_mm, deep_mm)
    return replace(hole, up_mm=math.hypot(up, hole.up_mm), aside_mm=math.hypot(aside, hole.aside_mm))


def true_mm(by: HolesBy, hole_mm: float, deep_mm: float) -> tuple[float, float]:
    """Standard deviations of a hole's place in height and sideways, by the way it is made."""
    guided = bore_error_mm(BORE_PLAY_MM, BORE_RATIO * hole_mm, GAP_MM + deep_mm) / math.sqrt(3.0)
    return {
        "bridge": (GLUED_MM, MACHINE_MM),
        "undercut": (MACHINE_MM, MACHINE_MM),
        "stand": (STOOD_MM, STOOD_MM),
        "guide": (math.hypot(SET_MM, guided),) * 2,
        "right angle": (EYE_MM, EYE_MM),
        "lean": (EYE_MM, EYE_MM),
    }[by]


def bore_error_mm(play_mm: float, bore_mm: float, beyond_mm: float) -> float:
    """The most by which a drill's tip is off, ``beyond_mm`` past a bore in which it has so much play."""
    return play_mm / 2 + play_mm / bore_mm * beyond_mm


def lean_deg(across_mm: float, under_mm: float, chuck_mm: float) -> float:
    """The smallest lean of a straight drill past the wall opposite: W sin a - h cos a = chuck / 2."""
    if math.isinf(across_mm):
        return 0.0
    far = math.hypot(across_mm, under_mm)
    if chuck_mm / 2 >= far:
        return 90.0
    return math.degrees(math.asin(chuck_mm / 2 / far) + math.atan2(under_mm, across_mm))


def goes_in_mm(hole_mm: float, rod_mm: float, leans_deg: float) -> float:
    """How far a level rod goes into a hole that leans; inf where it does not."""
    lean = math.radians(leans_deg)
    return math.inf if lean <= 0 else max(0.0, (hole_mm / math.cos(lean) - rod_mm) / math.tan(lean))


def leaning_hole_mm(rod_mm: float, deep_mm: float, leans_deg: float) -> float:
    """The hole that takes a level rod so deep: the other way round."""
    lean = math.radians(leans_deg)
    return (deep_mm * math.tan(lean) + rod_mm) * math.cos(lean)


Told = tuple[str, float, str]


def _way(by: HolesBy, design: Design, at: Around, tools: DrillTools, cutters: Sequence[Cutter]) -> Told:
    """(What it lacks, the hole's width, words)."""
    hole, deep = design.hole_mm, design.hole_deep_mm
    bore = BORE_RATIO * hole
    if by == "bridge":
        return "", hole, "a slot milled from above, a block glued over it"
    if by == "undercut":
        lacks, words = _undercut(design, at, cutters)
        return lacks, hole, words
    if by == "stand":
        lacks = "" if math.isinf(at.across_mm) else f"a wall {at.across_mm:.0f} mm before the hole is in the way"
        return lacks, hole, "the body stood on its side, drilled by the machine"
    room = bore + GAP_MM + deep + tools.angle_head_mm + HEAD_PLAY_MM
    if by == "guide":
        lacks = _no_head(tools) or (
            f"it needs {room:.0f} mm before the wall, of which {at.across_mm:.0f} are there"
            if at.across_mm < room
            else ""
        )
        return (
            lacks,
            hole,
            f"a guide block, its bore {bore:.0f} mm long, and a drill driven at a right angle",
        )
    if by == "right angle":
        need = deep + tools.angle_head_mm + HEAD_PLAY_MM
        lacks = _no_head(tools) or (
            f"its head needs {need:.0f} mm, of which {at.across_mm:.0f} are there" if at.across_mm < need else ""
        )
        return lacks, hole, "a drill driven at a right angle, by eye"
    leans = lean_deg(at.across_mm, at.under_mm, tools.chuck_mm)
    far = math.hypot(at.across_mm, at.under_mm) if math.isfinite(at.across_mm) else 0.0
    wide = max(hole, leaning_hole_mm(design.rod.diameter_mm, design.out_mm, min(leans, 80.0)))
    lacks = ""
    if leans > 45.0:
        lacks = f"it would lean by {leans:.0f} degrees"
    elif far + deep > tools.bit_mm:
        lacks = f"it needs a drill with {far + deep:.0f} mm free, of which {tools.bit_mm:g} are there"
    return lacks, wide, f"a straight drill leaning by {leans:.0f} degrees, by eye"


def _no_head(tools: DrillTools) -> str:
    return "" if tools.angle_head_mm > 0 else "no right-angle drive is on hand (tools.angle_head_mm)"


def _undercut(design: Design, at: Around, cutters: Sequence[Cutter]) -> tuple[str, str]:
    """What it lacks with the cutter that would make it (the narrowest), and words."""
    hole, deep = design.hole_mm, design.hole_deep_mm
    words = "a slot by the disc of a T-slot cutter"
    needs = f"a T-slot cutter with a disc at most {hole:g} mm thick that reaches {deep:g} mm beyond its neck"
    cutter = disc_for(design, cutters)
    if cutter is None:
        return f"it takes {needs}", words
    radius = cutter.diameter_mm / 2
    wide = 2 * math.sqrt(max(radius**2 - max(radius - deep, 0.0) ** 2, 0.0)) if deep < radius else 2 * radius
    if cutter.diameter_mm > at.across_mm:
        return f"{cutter.name} does not go into {at.across_mm:.0f} mm", words
    if wide / 2 + BESIDE_MM > at.beside_mm:
        return f"{cutter.name} would break out beside: its slot is {wide:.0f} mm wide", words
    return "", f"{words} ({cutter.name})"
