"""Sizes as typed on the command line: "300x400x90", "20x20", "6", "1/4 in"; lengths are mm unless they say."""

from __future__ import annotations

import argparse
import re

from witnessmark.job.errors import Refusal, Trouble
from witnessmark.job.units import length_mm

NEEDED = ("travel", "cutter", "stick_out", "nut", "nose")
COUNT = {"travel": 3, "nut": 2, "blank": 3}
WORDS = {
    "travel": "how far the machine travels along X, Y and Z: --travel 300x400x90",
    "cutter": "the cutter's diameter: --cutter 6",
    "stick_out": "from the face of the collet nut to the cutter's tip: --stick-out 45",
    "nut": "the collet nut's diameter and its length below the spindle nose: --nut 20x20",
    "nose": "the spindle nose's diameter: --nose 65",
    "blank": "the blank along X, Y and Z, each more than 0: --blank 400x180x74",
    "flutes": "the length of the flutes, more than 0: --flutes 25",
    "nose_above_bed": "from the bed to the spindle nose at the top of Z, more than 0: --nose-above-bed 155",
    "board": "the thickness of the board under the blank, more than 0: --board 18",
    "pitch": "the step in which the movable board can be set, more than 0 mm: --pitch 25",
    "thick": "the thickness of the piece, more than 0: --thick 12",
}


def typed_sizes(
    asked: argparse.Namespace, listed_mm: dict[str, tuple[float, ...]] | None = None
) -> dict[str, tuple[float, ...]]:
    """Every size given, by option name, as tuples of mm; all that is wrong or missing in one refusal.

    ``listed_mm``: sizes known from a listed machine or cutter, taken where none is given.
    """
    found: dict[str, tuple[float, ...]] = dict(listed_mm or {})
    troubles = []
    for name in (*NEEDED, "blank", "flutes", "nose_above_bed", "board", "pitch", "thick"):
        text = getattr(asked, name, None)
        option = "--" + name.replace("_", "-")
        if text is None:
            if name in NEEDED and name not in found:
                troubles.append(Trouble(option, "is needed", (WORDS[name],)))
            continue
        try:
            found[name] = lengths(text, COUNT.get(name, 1))
        except ValueError as wrong:
            troubles.append(Trouble(f"{option} {text}", str(wrong), (WORDS[name],)))
    if troubles:
        raise Refusal(*troubles)
    return found


def typed(option: str, text: str, count: int, signed: bool = False) -> tuple[float, ...]:
    """The lengths of one option, mm; ``signed``: nothing and less than nothing are lengths too. Refusal otherwise."""
    try:
        return lengths(text, count, signed)
    except ValueError as wrong:
        example = "x".join(["300", "200", "40"][:count])
        raise Refusal(Trouble(f"{option} {text[:40]}", str(wrong), (f"write it as {option} {example}",))) from None


def lengths(text: str, count: int, signed: bool = False) -> tuple[float, ...]:
    """So many lengths joined by x; a unit at the end counts for those that have none.

    >>> lengths("300x400x90", 3), lengths("12 x 16 x 3 in", 3)
    ((300.0, 400.0, 90.0), (304.8, 406.4, 76.2))
    """
    parts = [part.strip() for part in re.split(r"[xX×*]", text)]
    if len(parts) != count:
        raise ValueError(f"{count} lengths joined by x are wanted" if count > 1 else "one length is wanted")
    unit = re.search(r"[a-z\"]+$", parts[-1], re.IGNORECASE)
    if unit:
        parts = [part if re.search(r"[a-z\"]$", part, re.IGNORECASE) else f"{part} {unit.group()}" for part in parts]
    values = tuple(length_mm(part) for part in parts)
    if not signed and any(value <= 0 for value in values):
        raise ValueError("lengths must be more than nothing")
    return values
