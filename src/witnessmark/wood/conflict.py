"""Glue-ups across the grain: what the seasons do to two parts that are glued and want to move differently.

Question  by how much do two glued parts want to part over the year, and does the wood bear being held
Units     mm, MPa; moisture in percent of the dry weight
Method    along the joint each part moves by its own wood and grain; what is held back is strain, and strain times the
          stiffness across the grain is the tension that tears the part that shrinks
Source    movement: see ``movement``; strength and stiffness: the catalog's (Wood Handbook tables 5-1 and 5-3)
Valid     a joint that does not give; thin glue, both parts at one moisture. A held part creeps and bears more if the
          season changes slowly: the tension is what it comes to at once
Refuses   as ``movement`` (ValueError)
"""

from __future__ import annotations

from dataclasses import dataclass

from .gap import Part
from .season import Year
from .thin import across_mpa

ENOUGH_RATIO = 1.5
SLIGHT_MM = 0.1


@dataclass(frozen=True)
class Conflict:
    """Two glued parts that part: their names, by how much over the year, and strength over tension (0: unknown)."""

    one: str
    other: str
    apart_mm: float
    margin_ratio: float

    def __str__(self) -> str:
        torn = "and tears" if self.margin_ratio < 1.0 else "and may tear"
        return (
            f"{self.one} glued to {self.other}: over the year they want to part by {self.apart_mm:.1f} mm, {torn} "
            f"(margin {self.margin_ratio:.1f}); turn the grain of one, or let it move: a groove, slots, a gap"
        )


def conflict(one_name: str, one: Part, other_name: str, other: Part, year: Year) -> Conflict | None:
    """The conflict of two parts glued along one length (their ``size_mm``), None where they move alike or bear it."""
    low, high = year.range_pct
    moves = [part.change_mm(low, high) for part in (one, other)]
    apart_mm = abs(moves[0] - moves[1])
    if apart_mm < SLIGHT_MM:
        return None
    mover = one if moves[0] > moves[1] else other
    strength_mpa = mover.wood.tension_across_mpa or 0.0
    tension_mpa = across_mpa(mover.wood) * apart_mm / mover.size_mm
    margin_ratio = strength_mpa / tension_mpa
    return Conflict(one_name, other_name, apart_mm, margin_ratio) if margin_ratio < ENOUGH_RATIO else None
