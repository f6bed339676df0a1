"""The latch on the bench sheet: what to have ready, how to put it together step by step, polarity, cautions."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.latch.blind import blind_holes
from witnessmark.latch.cautions import WORDS, caution_of
from witnessmark.latch.design import RUNNING_MM, Design
from witnessmark.latch.let_in import LetIn
from witnessmark.latch.magnets import Ring as Magnets
from witnessmark.latch.order import Step
from witnessmark.latch.solids import key_rim_mm
from witnessmark.latch.together import Heap, hardware, heaps

from .cuts import Shown, cut_svg
from .full_size import Ring, full_size_svg
from .words import clean

HEADS = {
    "rotor": "The rotor",
    "lid": "The latch under the lid",
    "body": "The bolts' holes in the body",
    "key": "The key",
}
# what is done with each part, before the way it goes
WORDS_OF = {
    "rotor": "Saw the rotor out of its frame and pare it flush. Lay it down.",
    "rotor magnet": "Try each magnet dry. Mark the pole that comes up with a pen: N and S in turn round the ring, "
    "as in the drawing. One drop of glue in the middle of each seat; press slowly.",
    "return magnet": "The magnets that draw the bolts back stand on edge in the slots of the cam, either pole "
    "outward. Glue, and a splinter of wood behind each.",
    "case": "Saw the case out of its frame and pare it flush.",
    "pivot pin": "Glue the steel pin into the floor, upright; let it set.",
    "bolt": "Wax the bolts and slide them in by the slots.",
    "sprung bolt": "Put each bolt through its spring and a pin through the bolt, the spring towards the mouth. Wax "
    "them, press the spring together and lay them into their slots. Glasses on: a pressed spring flies.",
    "keeper": "Saw the keepers, glue them flush over the bolts: none on the steel. A bolt must fall by its weight.",
    "washer": "The washer lies loose on the rotor, in its middle.",
    "washer in its seat": "Lay the washer into its seat in the middle of the rotor, loose, no glue. It stands a "
    "little proud and keeps the rotor off the skin.",
    "lid": "Try the key on the lid before any glue: bolts out at the one end of the turn, in at the other. Then glue "
    "the case under the lid, the washer in between; leave it as long as the glue's sheet says.",
    "body": "The body as it comes from the machine, the lid's side up.",
    "bridge": "Saw the blocks to size and glue them into the recesses, nothing in the slots; trim them flush.",
    "key": "Saw the key out of its frame and pare it flush; round its upper edge by hand. Lay it foot up.",
    "key magnet": "The same with the key's magnets: where the rotor shows N upward, the key must show S downward.",
    "lining": "Cut the lining round the drawing and glue it over the foot.",
}
AGAIN = "rotor"  # the rotor goes into the case as it was made before
AGAIN_WORDS = "Set the rotor with its magnets on the pin. It turns freely and lies flat."


@dataclass(frozen=True)
class Named:
    """Steps of parts that are alike, one after another."""

    base: str
    numbers: tuple[str, ...]
    step: Step


def latch_data(let_in: LetIn, folder: Path, notes: Sequence[str]) -> dict[str, Any]:
    """The pages as plain data; drawings are written into the folder. ``notes``: what else was said of the latch."""
    design = let_in.design
    made = heaps(let_in)
    stages = [_heap(heap, number, folder) for number, heap in enumerate(made, 1)]
    key, rotor = design.key, design.rotor
    drawings = [
        _drawing(
            folder, "latch-lining", "Lining of the key; letters: the poles at its foot", key_rim_mm(design), key, -1
        ),
        _drawing(
            folder,
            "latch-rotor",
            "Rotor from above; letters: the poles that show",
            design.across_mm / 2 - RUNNING_MM,
            rotor,
            1,
        ),
    ]
    seats = [
        f"{one.name}: {one.hole_mm:.1f} mm wide, {one.deep_mm:.1f} deep for {one.part_mm:g} x {one.in_mm:.1f}, "
        f"{one.behind_mm:.1f} mm behind"
        + (f"; room for {one.glue_mm3:.0f} mm3 of glue, no more" if one.glued else "")
        for one in blind_holes(let_in)
    ]
    wrong = [words for one in blind_holes(let_in) for words in one.troubles]
    discs = dict.fromkeys((key.disc, rotor.disc))
    return {
        "items": [[str(item.count), clean(item.name), clean(item.size)] for item in hardware(let_in)],
        "stages": stages,
        "drawings": drawings,
        "seats": [clean(words) for words in (*seats, *wrong)],
        "poke": clean(poke_words(let_in)),
        "notes": [clean(words) for words in notes],
        "cautions": [clean(words) for words in (*map(caution_of, discs), *WORDS)],
    }


def poke_words(let_in: LetIn) -> str:
    """Who makes the poke-holes, and what they are for."""
    design, found = let_in.design, []
    by_hand = [k for k in range(design.bolts) if k not in let_in.poked]
    if let_in.poked:
        wide_mm = let_in.poke_wide_mm(let_in.poked[0])
        found.append(
            f"{_whose(let_in.poked, design.bolts)} poke-hole, {wide_mm:g} mm wide, is drilled by the programs: from "
            "the foot up into the round end of the bolt's hole."
        )
    if by_hand:
        found.append(
            f"Before the latch goes in, drill a poke-hole {design.hole_mm:g} mm wide straight through the round end "
            f"of {_whose(by_hand, design.bolts).lower()} hole and out at the foot ({let_in.poke_mm:.1f} mm from the "
            f"rotor's axis, {let_in.poke_deep_mm:.0f} mm up from the foot to the bolt)."
        )
    return " ".join(
        (*found, "Plug it loosely. A jammed bolt is pushed back with a pin of that width, its end rounded.")
    )


def _whose(some: Sequence[int], bolts: int) -> str:
    return "Each bolt's" if len(some) == bolts else " and ".join(f"Bolt {k + 1}'s" for k in some)


def lining_svg(design: Design) -> str:
    """The key's lining at full size, with the poles at the key's foot."""
    words = f"Lining of the key, {2 * key_rim_mm(design):g} mm across; letters: the poles at its foot"
    return _poles_svg(words, key_rim_mm(design), design.key, -1)


def _poles_svg(words: str, rim_mm: float, ring: Magnets, first: int) -> str:
    seats = tuple(
        Ring(x, y, ring.disc.radius_mm, "N" if sign * first > 0 else "S")
        for (x, y), sign in zip(ring.places_mm.tolist(), ring.signs)
    )
    return full_size_svg(words, Ring(0.0, 0.0, rim_mm), seats)


def _drawing(folder: Path, name: str, words: str, rim_mm: float, ring: Magnets, first: int) -> dict[str, str]:
    """``first``: 1 where a sign of 1 shows north; the two rings face each other with unlike poles."""
    svg = _poles_svg(words, rim_mm, ring, first)
    (folder / f"{name}.svg").write_text(svg, encoding="utf-8")
    wide = re.search(r'width="([0-9.]+)mm"', svg)
    return {"picture": f"{name}.svg", "wide_mm": wide.group(1) if wide else "60", "words": clean(words)}


def grouped(steps: Sequence[Step]) -> list[Named]:
    """Steps of like parts that follow one another along one way, as one."""
    found: list[Named] = []
    for step in steps:
        base, _, number = step.name.rpartition(" ") if step.name[-1].isdigit() else (step.name, "", "")
        if found and found[-1].base == base and _alike(found[-1].step, step):
            last = found.pop()
            found.append(Named(base, (*last.numbers, number), last.step))
        else:
            found.append(Named(base, (number,) if number else (), step))
    return found


def _alike(one: Step, other: Step) -> bool:
    """Whether both go in from above, from below, or both from the side."""
    return _whence(one) == _whence(other)


def _whence(step: Step) -> str:
    z = step.way[2]
    return "from above" if z < -0.5 else "from below" if z > 0.5 else "from the mouths of the slots inward"


def _heap(heap: Heap, number: int, folder: Path) -> dict[str, Any]:
    if heap.order.stuck:
        return {
            "head": HEADS[heap.name],
            "steps": [],
            "stuck": f"no order was found for: {', '.join(heap.order.stuck)}",
        }
    groups = grouped(heap.order.steps)
    view = _view(heap)
    there: list[str] = []
    steps = []
    for at, group in enumerate(groups):
        names = [f"{group.base} {n}" for n in group.numbers] or [group.base]
        shown = [Shown(heap.parts[name].solid, False) for name in there]
        shown += [Shown(heap.parts[name].solid, True) for name in names]
        picture = f"latch-{number}-{at + 1}.svg"
        (folder / picture).write_text(cut_svg(group.base, shown, view), encoding="utf-8")
        words = AGAIN_WORDS if group.base == AGAIN and heap.name == "lid" else WORDS_OF[group.base]
        many = f"{group.base}s" if len(names) > 1 else group.base
        where = (
            ""
            if at == 0
            else f" ({len(names)}, {_whence(group.step)})"
            if len(names) > 1
            else f" ({_whence(group.step)})"
        )
        steps.append({"what": clean(f"{many}{where}"), "words": clean(words), "picture": picture})
        there += names
    return {"head": HEADS[heap.name], "steps": steps, "stuck": ""}


def _view(heap: Heap) -> tuple[float, float, float, float]:
    """Round the latch's own parts; of lid and body what lies near."""
    boxes = [body.solid.bounding_box() for name, body in heap.parts.items() if name not in ("lid", "body")]
    x0, z0 = min(b[0] for b in boxes), min(b[2] for b in boxes)
    x1, z1 = max(b[3] for b in boxes), max(b[5] for b in boxes)
    beyond = 4.0 if heap.name in ("lid", "body") else 0.0
    return x0 - 2 * beyond, z0 - beyond, x1 + 2 * beyond, z1 + beyond
