"""A wall as a plate that stands fast at its foot and is free at its top, pushed at one place of the free edge.

Question  how far does the pushed place move, and how hard is the wall bent at its foot
Units     N, mm, MPa
Method    Kirchhoff's plate, endless along its length: for every wave number along it the plate's equation has a
          closed solution; the deflection and the moment at the foot are its integrals (Fourier)
Source    plate theory (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, textbook); the integrals worked
          out here. They give 0.166 F h^2 / D and 0.509 F a length; Jaramillo (1950) has 0.168 and 0.509, from memory
Valid     thin against its height, alike in both directions of the plate; corners and curves make a wall stiffer
Refuses   sizes of nothing (ValueError)
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

POISSON_RATIO = 0.3
STEPS = 4000
FARTHEST = 40.0  # in k h: what comes after adds less than a thousandth


@dataclass(frozen=True)
class Pushed:
    """Of a unit push on a wall of unit height and stiffness: how far it moves, and the moment at its foot."""

    moves_ratio: float
    foot_ratio: float


@cache
def pushed(poisson_ratio: float = POISSON_RATIO) -> Pushed:
    """The two pure numbers of the plate.

    >>> found = pushed(0.3)
    >>> round(found.moves_ratio, 3), round(found.foot_ratio, 3)
    (0.166, 0.509)
    """
    k = (np.arange(STEPS) + 0.5) * FARTHEST / STEPS
    v, c, s, e = poisson_ratio, np.cosh(k), np.sinh(k), np.exp(-k)
    # W = A (sinh ky - ky cosh ky) + B ky sinh ky, y from foot 0 to edge 1, divided by e^k so that nothing overflows
    c, s = c * e, s * e
    at = np.array([s - k * c, k * s])
    slope = np.array([-(k**2) * s, k * (s + k * c)])
    bent = np.array([-(k**2) * (s + k * c), k**2 * (2 * c + k * s)])
    third = np.array([-(k**3) * (2 * c + k * s), k**3 * (3 * s + k * c)])
    moment = bent - v * k**2 * at
    shear = third - (2 - v) * k**2 * slope
    # moment 0 and shear -1 at the edge
    det = moment[0] * shear[1] - moment[1] * shear[0]
    a, b = moment[1] / det, -moment[0] / det
    edge = a * at[0] + b * at[1]
    foot = 2 * k**2 * b * e  # W'' at the foot, where W and its slope are nothing
    width = FARTHEST / STEPS / np.pi
    return Pushed(float(edge.sum() * width), float(foot.sum() * width))


def edge_moves_mm(
    push_n: float, high_mm: float, thick_mm: float, e_mpa: float, poisson_ratio: float = POISSON_RATIO
) -> float:
    """How far the pushed place of a wall's free edge moves."""
    if e_mpa <= 0.0:
        raise ValueError("a stiffness is more than nothing")
    _must_be_more(high_mm, thick_mm)
    stiff = e_mpa * thick_mm**3 / (12.0 * (1.0 - poisson_ratio**2))
    return pushed(poisson_ratio).moves_ratio * push_n * high_mm**2 / stiff


def foot_bends_mpa(
    push_n: float, high_mm: float, thick_mm: float, push_wide_mm: float, poisson_ratio: float = POISSON_RATIO
) -> float:
    """The greatest tension at the foot of the wall, across it.

    A low wall is bent by a push of some width as a beam that wide, and wider to each side by the wall's height.
    """
    _must_be_more(high_mm, thick_mm, push_wide_mm)
    low = high_mm / (push_wide_mm + 2.0 * high_mm)
    return 6.0 * min(pushed(poisson_ratio).foot_ratio, low) * push_n / thick_mm**2


def _must_be_more(*sizes_mm: float) -> None:
    if min(sizes_mm) <= 0.0:
        raise ValueError("a wall has a height and a thickness of more than nothing")
