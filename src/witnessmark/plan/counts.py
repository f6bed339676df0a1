"""How many candidates there are, and which were discarded without being looked at, by what discarded them.

A candidate is a side up, a height at which the sides meet, and a whole hole of the movable board along x and y.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.job.models import Machine
from witnessmark.job.placement import Placement

from .candidates import DEFAULT_PITCH_MM

UPRIGHTS = "the uprights leave no room"
BETWEEN = "between the holes looked at"
NOT_NEEDED = "another meeting height did"
NOTHING = "nothing to cut from that side"


@dataclass(frozen=True)
class Shifts:
    """Shifts of one side: those that exist, those looked at, and those discarded by what."""

    exist: int
    looked_at: int
    discarded: Mapping[str, int]


def shifts_of(machine: Machine, found: Sequence[Placement]) -> Shifts:
    """Count a side's shifts: every whole hole that could show another part of the blank, against those found."""
    x0, y0, x1, y1 = found[0].region_mm
    pitch_mm = machine.board.hole_pitch_mm if machine.board else DEFAULT_PITCH_MM
    holes = {
        "x": _holes(x1 - x0, machine.travel_x_mm, pitch_mm),
        "y": _holes(y1 - y0, machine.travel_y_mm, pitch_mm),
    }
    exist = holes["x"] * holes["y"]
    across = "y" if machine.overhang_axis == "x" else "x"
    kept_mm = {place.shift_mm["xy".index(across)] for place in found}
    step_mm = min((b - a for a, b in zip(sorted(kept_mm), sorted(kept_mm)[1:])), default=pitch_mm)
    spanned = (max(kept_mm) - min(kept_mm)) / step_mm * max(1, round(step_mm / pitch_mm)) + 1
    upright = max(0, holes[across] - round(spanned)) * holes[machine.overhang_axis]
    upright = min(upright, exist - len(found))
    discarded = {UPRIGHTS: upright, BETWEEN: exist - len(found) - upright}
    return Shifts(exist, len(found), {why: count for why, count in discarded.items() if count})


def _holes(length_mm: float, travel_mm: float, pitch_mm: float) -> int:
    most_mm = max(0.0, (length_mm - travel_mm) / 2 + pitch_mm)
    return 2 * int(most_mm / pitch_mm + 1e-9) + 1


def counted_in_words(evaluated: int, pruned: Mapping[str, int]) -> str:
    """'54 candidates: 42 evaluated, 12 pruned (10 between the holes looked at, 2 ...)'."""
    total = sum(pruned.values())
    by = ", ".join(f"{count} {why}" for why, count in sorted(pruned.items(), key=lambda one: -one[1]) if count)
    return f"{evaluated + total} candidates: {evaluated} evaluated, {total} pruned" + (f" ({by})" if by else "")


def added(*counts: Mapping[str, int]) -> dict[str, int]:
    """The sums of several counts."""
    total: Counter[str] = Counter()
    for count in counts:
        total.update(count)
    return dict(total)
