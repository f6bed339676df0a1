"""What magnets can do to people: the flux index of a loose one, and the words that stand on the bench sheet.

Question  is a loose magnet one that 16 CFR part 1262 calls hazardous, and what is to be said of it
Units     kG2 mm2, tesla, mm
Method    the greatest field 0.38 mm above the pole, squared, times the pole's area. The field of two charged faces:
          J / 2 Int J1(x) J0(rho x) (exp(-zeta x) - exp(-(zeta + length) x)) dx along the axis, J1(rho x) for J0 away
Source    16 CFR 1262.2 and 1262.3: 50 kG2 mm2 or more and small enough to swallow (seen); how it is measured: ASTM
          F963 8.25 (distance of the probe from memory). The small parts' cylinder of 16 CFR 1501.4, 31.7 mm wide and
          25.4 to 57.1 mm deep (sizes from memory). That rule is for toys and trinkets with loose magnets; one that is
          glued in furniture is not meant, but it is loose until then, and when the glue fails
Valid     single round magnets and stacks
Refuses   nothing
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import j0, j1

from .magnets import Disc

Floats = NDArray[np.float64]

PROBE_MM = 0.38
HAZARD_KG2_MM2 = 50.0
SWALLOWED_MM, DEEPEST_MM = 31.7, 57.1
MOST_X, POINTS = 260.0, 6000

WORDS = (
    "A swallowed magnet, and two even more, can hole the bowel: count them, keep them from children and animals, and "
    "see a doctor at once if one is missing and might have been swallowed.",
    "Keep strong magnets away from pacemakers and other implants (how far, their makers say) and from cards.",
    "They jump together: they pinch skin and chip. Wear eye protection; slide them apart, and store them apart.",
    "A bolt that jams locks the box for good: drill the poke-hole before the latch goes in, and try it.",
)


def field_t(disc: Disc, above_mm: float, aside_mm: Floats) -> tuple[Floats, Floats]:
    """Above one pole: along the axis and away from it, (n,) each."""
    radius = disc.radius_mm
    edges = np.linspace(0.0, MOST_X, POINTS // 6 + 1)
    at, weight = np.polynomial.legendre.leggauss(6)
    half = np.diff(edges)[:, None] / 2
    x = ((edges[:-1, None] + half) + half * at).ravel()
    fade = np.exp(-above_mm / radius * x) - np.exp(-(above_mm + disc.length_mm) / radius * x)
    charge = (half * weight).ravel() * j1(x) * fade
    outward = np.outer(np.asarray(aside_mm) / radius, x)
    return disc.remanence_t / 2 * (j0(outward) @ charge), disc.remanence_t / 2 * (j1(outward) @ charge)


def flux_index(disc: Disc) -> float:
    """kG2 mm2, of a loose one. The whole field is meant, near the rim the greater; an axial probe reads less."""
    across = np.linspace(0.0, 1.0, 201) * disc.radius_mm
    greatest = float(np.hypot(*field_t(disc, PROBE_MM, across)).max())
    return (10.0 * greatest) ** 2 * math.pi * disc.radius_mm**2


def swallowable(disc: Disc) -> bool:
    """Whether it goes into the small parts' cylinder."""
    return disc.diameter_mm < SWALLOWED_MM and disc.length_mm < DEEPEST_MM


def caution_of(disc: Disc) -> str:
    """In words."""
    index = flux_index(disc)
    over = index >= HAZARD_KG2_MM2 and swallowable(disc)
    said = "hazardous when loose" if over else "below the limit"
    return (
        f"magnet {disc.diameter_mm:g} x {disc.length_mm:g} mm: flux index {index:.0f} kG2 mm2, {said} "
        f"(limit {HAZARD_KG2_MM2:g}, 16 CFR 1262)"
    )
