"""How far wood swells or shrinks across its grain when its moisture changes.

Question  how much larger or smaller does a piece of wood become, along each of its own directions
Units     mm; moisture content in percent of the dry weight
Method    between 6 and 14 percent by the handbook's coefficient of change; outside of that, or where a wood has none,
          by its shrinkage from green to dry. Between radial and tangential by the angle of the rings: the square of
          the cosine and the sine (a strain turned, textbook). Along the grain a rough 0.15 percent from green to dry
Source    USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010), Eq. 13-2 and 13-3 (the body of 13-3 from
          memory; it follows from shrinkage that is linear in moisture), Table 13-5, Table 4-3
Valid     below fibre saturation (30 percent); boards vary by a tenth and more of what their kind does
Refuses   moisture below 0 or above 30 percent, woods without any value (ValueError)
"""

from __future__ import annotations

import math
from typing import Literal

from witnessmark.job.catalog import Species

Direction = Literal["radial", "tangential", "along"]

SATURATED_PCT = 30.0
DRY_PCT, DAMP_PCT = 6.0, 14.0  # between these the coefficients of change hold
ALONG_PCT = 0.15  # shrinkage along the grain from green to dry (Wood Handbook ch. 4: 0.1 to 0.2 percent)
SPREAD_RATIO = 0.15  # standard deviation of boards of one kind about the table (our own choice)


def change_mm(size_mm: float, wood: Species, direction: Direction, from_pct: float, to_pct: float) -> float:
    """By how much ``size_mm``, measured at ``from_pct``, grows until ``to_pct``; less than 0 where it shrinks."""
    for moisture_pct in (from_pct, to_pct):
        if not 0.0 <= moisture_pct <= SATURATED_PCT:
            raise ValueError(f"a moisture content of {moisture_pct:g} % is not between 0 and {SATURATED_PCT:g} %")
    if direction == "along":
        return _by_shrinkage_mm(size_mm, ALONG_PCT, from_pct, to_pct)
    coefficient = wood.change_radial_per_pct if direction == "radial" else wood.change_tangential_per_pct
    within = min(from_pct, to_pct) >= DRY_PCT and max(from_pct, to_pct) <= DAMP_PCT
    if coefficient is not None and within:
        return size_mm * coefficient * (to_pct - from_pct)
    shrinkage_pct = wood.shrink_radial_pct if direction == "radial" else wood.shrink_tangential_pct
    if shrinkage_pct is not None:
        return _by_shrinkage_mm(size_mm, shrinkage_pct, from_pct, to_pct)
    if coefficient is None:
        raise ValueError(f"no movement is known for {wood.name}")
    return size_mm * coefficient * (to_pct - from_pct)


def across_mm(size_mm: float, wood: Species, rings_rad: float, from_pct: float, to_pct: float) -> float:
    """As ``change_mm``, across the grain at an angle from radial (0) to tangential (pi / 2): how the rings lie."""
    radial = change_mm(size_mm, wood, "radial", from_pct, to_pct)
    tangential = change_mm(size_mm, wood, "tangential", from_pct, to_pct)
    return radial * math.cos(rings_rad) ** 2 + tangential * math.sin(rings_rad) ** 2


def _by_shrinkage_mm(size_mm: float, shrinkage_pct: float, from_pct: float, to_pct: float) -> float:
    """Eq. 13-3: shrinkage from green to dry, linear below saturation, said of the size at ``from_pct``."""
    return size_mm * (to_pct - from_pct) / (SATURATED_PCT * 100.0 / shrinkage_pct - SATURATED_PCT + from_pct)
