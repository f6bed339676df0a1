"""The gap between two parts over the year: cut so that it never binds, and how far it opens.

Question  how large must the gap be now, so that in no season it falls below what it should keep
Units     mm; moisture in percent
Method    the gap is the outer part's opening less the inner part's size; each moves by its own wood, size and
          direction. Movement rises and falls with moisture, so the extremes lie at the ends of the year
Source    see ``movement``
Valid     both parts at one moisture; parts that move freely
Refuses   as ``movement`` and ``season`` (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.job.catalog import Species

from .movement import across_mm, change_mm
from .season import Year


@dataclass(frozen=True)
class Part:
    """A part across the gap: its size, its wood, and how the grain runs along that size.

    ``rings_rad``: 0 radial, pi / 2 tangential; None: along the grain.
    """

    size_mm: float
    wood: Species
    rings_rad: float | None

    def change_mm(self, from_pct: float, to_pct: float) -> float:
        if self.rings_rad is None:
            return change_mm(self.size_mm, self.wood, "along", from_pct, to_pct)
        return across_mm(self.size_mm, self.wood, self.rings_rad, from_pct, to_pct)


FLAT_SAWN_RAD, QUARTER_SAWN_RAD = math.pi / 2, 0.0


@dataclass(frozen=True)
class Gap:
    """Both sides of the gap together: as it is cut now, and at its tightest and loosest in the year."""

    now_mm: float
    tightest_mm: float
    loosest_mm: float
    tightest_at_pct: float


def gap_for(inner: Part, outer: Part, year: Year, least_mm: float) -> Gap:
    """The gap to cut now that keeps ``least_mm`` in the worst season."""
    grows = {to: outer.change_mm(year.now_pct, to) - inner.change_mm(year.now_pct, to) for to in year.range_pct}
    worst = min(grows, key=lambda to: grows[to])
    now_mm = least_mm - min(grows[worst], 0.0)
    return Gap(now_mm, min(now_mm, now_mm + grows[worst]), now_mm + max(0.0, *grows.values()), worst)
