"""The latch put together: every part with its hardware, in the order found, and what there is to buy or cut.

Frame     as ``solids``; bolts drawn in, the closed lid on
Units     mm
Method    rotor, case, bolts and keepers as they are cut; magnets, pin and washer as plain rounds in their seats.
          The order is found by ``order``: the lid with all that is under it is one heap, key and body are others
Source    our own
Refuses   nothing
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from manifold3d import Manifold

from .bolts import MagnetReturn
from .design import CLEARANCE_MM, CROSS_PIN_MM, CROSS_PIN_PLAY_MM, LINING_MM
from .let_in import LetIn
from .magnets import Ring
from .order import DOWN, UP, Body, Order, Way, order_of
from .solids import FLOOR_MM, PIVOT_DEEP_MM, PIVOT_MM, coils, pin

PIVOT_SHORT_MM = 0.5  # the pin ends before its hole does
GLUE_MM = 0.05


@dataclass(frozen=True, eq=False)
class Heap:
    """Parts that go together before the box is closed."""

    name: str
    parts: dict[str, Body]
    order: Order


@dataclass(frozen=True)
class Item:
    """A thing to have ready."""

    count: int
    name: str
    size: str


def heaps(let_in: LetIn) -> tuple[Heap, ...]:
    """Rotor, lid with the latch, body, key: each with its order."""
    made = [
        ("rotor", _rotor(let_in)),
        ("lid", _lid(let_in)),
        ("key", _key(let_in)),
    ]
    if let_in.bridges:
        made.insert(2, ("body", _body(let_in)))
    return tuple(Heap(name, parts, order_of(parts)) for name, parts in made)


def _rotor(let_in: LetIn) -> dict[str, Body]:
    design, room = let_in.design, let_in.room
    disc = design.rotor.disc
    foot = room.ceiling_mm - CLEARANCE_MM - disc.length_mm - design.seat_mm / 2
    found = {"rotor": Body(let_in.parts.rotor)}
    found |= _magnets("rotor magnet", design.rotor, foot, UP)
    if isinstance(design.back, MagnetReturn):
        back = design.back.disc
        low = design.cam.low_mm - design.back.recess_mm - back.length_mm - design.seat_mm / 4
        lying = pin(back.radius_mm - GLUE_MM / 2, low, low + back.length_mm).rotate((0.0, 90.0, 0.0))
        lying = lying.translate((0.0, 0.0, -room.below_mm))
        for k in range(design.bolts):
            turned = lying.rotate((0.0, 0.0, 360.0 * k / design.bolts))
            found[f"return magnet {k + 1}"] = Body(turned, (DOWN,), True)
    return found


def _magnets(name: str, ring: Ring, foot_mm: float, way: Way) -> dict[str, Body]:
    one = pin(ring.disc.radius_mm - GLUE_MM / 2, foot_mm, foot_mm + ring.disc.length_mm)
    return {
        f"{name} {k}": Body(one.translate((x, y, 0.0)), (way,), True)
        for k, (x, y) in enumerate(ring.places_mm.tolist(), 1)
    }


def _lid(let_in: LetIn) -> dict[str, Body]:
    design, parts, room = let_in.design, let_in.parts, let_in.room
    foot = room.foot_mm(design)
    pivot = pin(PIVOT_MM / 2, foot - FLOOR_MM, foot + pivot_out_mm())
    top = room.ceiling_mm - CLEARANCE_MM
    found = {
        "case": Body(parts.case, (UP, DOWN)),
        "pivot pin": Body(pivot, (UP, DOWN), True),
        "rotor": Body(parts.rotor, (UP, DOWN)),
    }
    springs = coils(design, room)
    for k, bolt in enumerate(parts.bolts):
        angle = 2 * math.pi * k / design.bolts
        out = (math.cos(angle), math.sin(angle), 0.0)
        if springs:  # the bolt is in it, the pin in the bolt: they go in as one
            found[f"sprung bolt {k + 1}"] = Body(bolt + springs[k], (UP, DOWN))
        else:
            found[f"bolt {k + 1}"] = Body(bolt, (UP, DOWN, out), True)
    for k, keeper in enumerate(parts.keepers):
        found[f"keeper {k + 1}"] = Body(keeper, (UP, DOWN), convex=not springs)  # over a spring it has a notch
    washer = pin(design.washer.radius_mm, top - design.washer.in_mm, top + CLEARANCE_MM - GLUE_MM)
    found["washer in its seat" if design.washer.in_mm else "washer"] = Body(washer, (UP, DOWN), True)
    found["lid"] = Body(let_in.from_lid(let_in.cut_lid), (UP,))
    return found


def _body(let_in: LetIn) -> dict[str, Body]:
    found = {"body": Body(let_in.from_body(let_in.opened_body))}
    return found | {f"bridge {k + 1}": Body(block, (UP,)) for k, block in let_in.bridges.items()}


def _key(let_in: LetIn) -> dict[str, Body]:
    design = let_in.design
    foot = let_in.room.ceiling_mm + design.skin_mm + LINING_MM
    found = {"key": Body(let_in.parts.key)}
    found |= _magnets("key magnet", design.key, foot + design.seat_mm / 2, DOWN)
    radius = let_in.parts.key.bounding_box()[3]
    found["lining"] = Body(pin(radius, foot - LINING_MM, foot - GLUE_MM), (DOWN,), True)
    return found


def pivot_out_mm() -> float:
    """How far the pivot pin stands up from the case's floor."""
    return PIVOT_DEEP_MM - PIVOT_SHORT_MM


def hardware(let_in: LetIn) -> tuple[Item, ...]:
    """What to have ready: magnets, steel cut to length, and small parts of wood sawn by hand."""
    design = let_in.design

    def discs(ring: Ring, where: str) -> Item:
        disc = ring.disc
        return Item(
            len(ring.signs) * disc.stack, f"magnets for the {where}", _disc(disc.diameter_mm, disc.thickness_mm)
        )

    items = [discs(design.key, "key"), discs(design.rotor, "rotor's top")]
    if isinstance(design.back, MagnetReturn):
        back = design.back.disc
        items.append(Item(design.bolts, "magnets for the cam", _disc(back.diameter_mm, back.thickness_mm)))
    rod = design.rod.diameter_mm
    coil = design.coil
    if coil and design.chamber:
        at_mm = design.chamber[0] + CROSS_PIN_PLAY_MM + CROSS_PIN_MM / 2 - design.cam.low_mm
        size = f"{coil.inside_mm:g} inside, {coil.outside_mm:g} outside, {coil.rest_mm:g} mm with the bolt drawn in"
        items += [
            Item(design.bolts, "springs round the bolts", size),
            Item(
                design.bolts,
                "pins of steel wire across the bolts, in tight holes",
                f"{CROSS_PIN_MM:g} x {coil.outside_mm:g} mm, {at_mm:.1f} mm from a bolt's inner end",
            ),
        ]
    items += [
        Item(
            design.bolts, "bolts of steel rod", f"{rod:g} x {design.bolt_mm:.1f} mm over both ends, rounded to balls"
        ),
        Item(1, "pivot pin of steel rod", f"{PIVOT_MM:g} x {FLOOR_MM + pivot_out_mm():.1f} mm"),
        Item(
            1,
            "washer of smooth plastic",
            f"{2 * design.washer.radius_mm:g} across, {design.washer_thick_mm:g} mm thick",
        ),
        Item(1, "lining of cloth or felt", f"{LINING_MM:g} mm thick, cut by the drawing"),
    ]
    items.append(Item(design.bolts, "keepers of wood, grain along", _block(let_in.parts.keepers[0])))
    if let_in.bridges:
        block = next(iter(let_in.bridges.values()))
        items.append(
            Item(len(let_in.bridges), "bridge blocks of the body's wood, trimmed flush when glued", _block(block))
        )
    return tuple(items)


def _disc(diameter_mm: float, thickness_mm: float) -> str:
    return f"{diameter_mm:g} x {thickness_mm:g} mm"


def _block(solid: Manifold) -> str:
    box = solid.bounding_box()
    return " x ".join(f"{box[k + 3] - box[k]:.1f}" for k in range(3)) + " mm"
