"""The skin of wood between key and rotor: how far it bends when they pull.

Units     mm, N, MPa
Method    a round plate, clamped at its rim, loaded at its middle: w = F a^2 / (16 pi D), D = E t^3 / (12 (1 - nu^2));
          wood bends least along the grain and most across, so the stiffness across the grain is put in for the worst
          It bends the farther the nearer that brings the magnets: the rest where both agree, looked for from flat on
Source    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells (textbook, from memory); tests check it by
          a numerical solution of the plate's own equation
Valid     bending small against the thickness
Refuses   sizes of nothing (ValueError)
"""

from __future__ import annotations

import math
from collections.abc import Callable

POISSON_RATIO = 0.3
STEPS, SAME_MM = 500, 1e-7


def bend_mm(force_n: float, radius_mm: float, thickness_mm: float, e_mpa: float) -> float:
    """At the middle."""
    if min(radius_mm, thickness_mm, e_mpa) <= 0:
        raise ValueError("a skin has a radius, a thickness and a stiffness above 0")
    stiff = e_mpa * thickness_mm**3 / (12.0 * (1.0 - POISSON_RATIO**2))
    return force_n * radius_mm**2 / (16.0 * math.pi * stiff)


def rests_mm(pull_n: Callable[[float], float], radius_mm: float, thickness_mm: float, e_mpa: float) -> float:
    """How far it bends under magnets that pull with ``pull_n`` when it has bent so far; inf where it does not stop.

    ``pull_n`` rises with the bend and is inf where the magnets would touch."""
    bends = 0.0
    for _ in range(STEPS):
        further = bend_mm(pull_n(bends), radius_mm, thickness_mm, e_mpa)
        if further - bends < SAME_MM or math.isinf(further):
            return further
        bends = further
    return math.inf
