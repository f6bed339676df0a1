"""The hole for a magnet, pin, bearing or dowel in wood: press, glue with clearance, or a sleeve.

Question  how large is the hole to be cut, does the part hold in every season, and does the wood split
Units     mm, MPa; moisture in percent of the dry weight
Method    the tightest and the loosest that part, cutting and season make of it. Pressed: the pressure of a rigid
          round part in an orthotropic plate, never more than what crushes the wood; the hoop tension where it tears
          across the grain, as in a ring out to the nearest edge, taken as the mean over a length that the wood's
          toughness gives (so that a small hole bears more). Glued: clearance enough for the glue when tightest, and
          no more than it fills when loosest
Source    hoop tension at a pressed hole p (n - 1) / k across the grain, k = sqrt(E1 / E2), n = sqrt(2 (k - v12) +
          E1 / G12): Lekhnitskii, Anisotropic Plates (textbook, from memory; k = 1, n = 2 gives Lame's p). Ring: Lame.
          Mean over a length (2 / pi) (K / f)^2: the average stress criterion of Whitney and Nuismer (1974, from
          memory). Strength and crushing across the grain: the catalog's (Wood Handbook table 5-3); toughness K 0.35
          MPa sqrt(m), poor of what ch. 5 lists (0.2 to 0.5, from memory); shear stiffness 0.07 of that along the
          grain, Poisson's ratio 0.4 (about table 5-1's, from memory). Margins, glue gaps: our own choice
Valid     part stiff against wood; wood without checks; slow pressing. Nothing published was found for metal pins
          pressed into wood: cut the test strip
Refuses   sizes of nothing, edges inside the hole (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from witnessmark.job.catalog import Species

from .movement import change_mm
from .season import Year
from .thin import USUAL_ACROSS_RATIO, USUAL_MOE_GPA

ENOUGH_RATIO = 2.0
POISSON_RATIO, SHEAR_RATIO = 0.4, 0.07
GLUE_LEAST_MM, GLUE_MOST_MM = 0.05, 0.30  # all of the diameter: thinner starves, thicker does not centre
GRIP_MM = 0.005  # a pressed part keeps this much interference when loosest
MOST_PRESSED_MM = 0.15  # of the diameter: more is hammered in, not pressed
TOUGH_MPA_M = 0.35  # MPa times the root of a metre

How = Literal["press", "glue", "sleeve"]


@dataclass(frozen=True)
class Seat:
    """A round part and where it goes: its diameter and tolerance (plus or minus), how far a cut hole scatters (plus
    or minus), the wood, from the hole's middle to the nearest edge or half way to the next hole, and whether its
    axis runs along the grain."""

    part_mm: float
    part_tolerance_mm: float
    scatter_mm: float
    wood: Species
    edge_mm: float
    end_grain: bool = False

    def __post_init__(self) -> None:
        if min(self.part_mm, self.edge_mm) <= 0 or min(self.part_tolerance_mm, self.scatter_mm) < 0:
            raise ValueError("a part has a diameter, and tolerances are not less than nothing")
        if self.edge_mm <= self.part_mm / 2:
            raise ValueError(f"an edge {self.edge_mm:g} mm from the middle lies inside the hole")


@dataclass(frozen=True)
class Fit:
    """The hole to cut, what it comes to (interference above 0, clearance below, of the diameter), and the margin
    against splitting when tightest (None: no strength is known)."""

    how: How
    hole_mm: float
    tightest_mm: float
    loosest_mm: float
    margin_ratio: float | None


def breathes_mm(seat: Seat, year: Year) -> tuple[float, float]:
    """How far the hole closes and opens over the year from now: both 0 or more."""
    changes = [change_mm(seat.part_mm, seat.wood, "tangential", year.now_pct, to) for to in year.range_pct]
    return max(0.0, -min(changes)), max(0.0, *changes)


def hoop_ratio(wood: Species, end_grain: bool) -> float:
    """Hoop tension across the grain at the hole, of the pressure in it, far from any edge."""
    if end_grain:
        return 1.0  # radial and tangential stiffness differ little: Lame's
    k = math.sqrt(1.0 / _across_ratio(wood))
    n = math.sqrt(2.0 * (k - POISSON_RATIO) + 1.0 / SHEAR_RATIO)
    return (n - 1.0) / k


def splits_ratio(seat: Seat, interference_mm: float) -> float | None:
    """Strength across the grain over the tension that an interference (of the diameter) brings; None: not known."""
    strength_mpa = seat.wood.tension_across_mpa
    if strength_mpa is None:
        return None
    if interference_mm <= 0.0:
        return math.inf
    return strength_mpa / (_tension_ratio(seat, strength_mpa) * _pressure_mpa(seat, interference_mm))


def fit_for(seat: Seat, year: Year) -> Fit:
    """Press where that holds in every season and splits nothing, else glue with clearance, else a sleeve."""
    closes_mm, opens_mm = breathes_mm(seat, year)
    spread_mm = seat.part_tolerance_mm + seat.scatter_mm
    least_mm = GRIP_MM + spread_mm + opens_mm  # interference now, so that the loosest still grips
    hole_mm = seat.part_mm - least_mm
    tightest_mm, loosest_mm = least_mm + spread_mm + closes_mm, GRIP_MM
    margin = splits_ratio(seat, tightest_mm)
    if margin is not None and margin >= ENOUGH_RATIO and tightest_mm <= MOST_PRESSED_MM:
        return Fit("press", _drawn(hole_mm), tightest_mm, loosest_mm, margin)
    return glued_for(seat, year)


def glued_for(seat: Seat, year: Year) -> Fit:
    """Glue with clearance in every season, or a sleeve where that would be too loose."""
    closes_mm, opens_mm = breathes_mm(seat, year)
    spread_mm = seat.part_tolerance_mm + seat.scatter_mm
    gap_mm = GLUE_LEAST_MM + spread_mm + closes_mm
    loosest_mm = -(gap_mm + spread_mm + opens_mm)
    how: How = "glue" if -loosest_mm <= GLUE_MOST_MM else "sleeve"
    margin = None if seat.wood.tension_across_mpa is None else math.inf
    return Fit(how, _drawn(seat.part_mm + gap_mm), -GLUE_LEAST_MM, loosest_mm, margin)


def _across_ratio(wood: Species) -> float:
    return wood.elastic_tangential_ratio or USUAL_ACROSS_RATIO


def _plane_mpa(seat: Seat) -> float:
    """The stiffness against which the part presses: across the grain, or between that and along it."""
    along_mpa = (seat.wood.moe_gpa or USUAL_MOE_GPA) * 1000.0
    across = _across_ratio(seat.wood)
    return along_mpa * across if seat.end_grain else along_mpa * math.sqrt(across)


def _pressure_mpa(seat: Seat, interference_mm: float) -> float:
    """A rigid part in an endless plate presses with E d / (D (1 + v)); never with more than crushes the wood."""
    elastic = _plane_mpa(seat) * interference_mm / (seat.part_mm * (1.0 + POISSON_RATIO))
    crushing = seat.wood.compression_across_mpa
    return elastic if crushing is None else min(elastic, crushing)


def _tension_ratio(seat: Seat, strength_mpa: float) -> float:
    """The mean tension across the grain beside the hole, of the pressure in it."""
    r, c = seat.part_mm / 2, seat.edge_mm
    over_mm = min(2000.0 / math.pi * (TOUGH_MPA_M / strength_mpa) ** 2, c - r)
    ring = r**2 / (c**2 - r**2) * (1.0 + c**2 / (r * (r + over_mm)))
    return ring * hoop_ratio(seat.wood, seat.end_grain)


def _drawn(hole_mm: float) -> float:
    """To a hundredth, as it is drawn."""
    return round(hole_mm, 2)
