"""Magnets that only hold a lid down: the pull through the wood, and what it takes to lift the lid at an edge.

Units     mm, N
Method    each magnet draws another, or a steel plate, over what wood and glue leave between them. A lid lifted at a
          place turns about the far edge: moments of magnets and weight about it
Source    plane statics; see ``magnets`` and ``rods``
Valid     the lid stiff; the far edge does not slip
Refuses   gaps of nothing are taken as the least that ``discs`` knows
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .magnets import Disc, pair_pull_n
from .rods import plate_pull_n


@dataclass(frozen=True)
class Holder:
    """A magnet in the lid, what it meets in the body (None: a steel plate), the wood and air between, and how far it
    is from the edge about which the lid turns."""

    disc: Disc
    partner: Disc | None
    gap_mm: float
    from_edge_mm: float

    @property
    def pull_n(self) -> float:
        if self.partner is None:
            return plate_pull_n(self.disc, self.gap_mm)
        return float(pair_pull_n(self.disc, self.partner, self.gap_mm))


@dataclass(frozen=True)
class Hold:
    """Straight up, all at once; and at the edge where the maker lifts."""

    straight_n: float
    edge_n: float
    magnets_n: float


def hold(holders: Sequence[Holder], lid_n: float, middle_mm: float, lifted_mm: float) -> Hold:
    """``lid_n``: its weight, ``middle_mm`` from the edge that stays; lifted ``lifted_mm`` from that edge."""
    if lifted_mm <= 0:
        raise ValueError("a lid is lifted some way from the edge about which it turns")
    magnets = sum(holder.pull_n for holder in holders)
    moment = lid_n * middle_mm + sum(holder.pull_n * holder.from_edge_mm for holder in holders)
    return Hold(magnets + lid_n, moment / lifted_mm, magnets)
