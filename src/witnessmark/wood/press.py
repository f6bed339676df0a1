"""Rings pressed into each other: the pressure between them and the tension round a hole.

Question  how hard do a pin and the wood round its hole press, and what tension goes round the hole
Units     mm, MPa, kg/m3, radians a second
Arrays    n rings from the inside out; n - 1 contacts between them
Method    Lame's thick rings, plane stress, with what turning adds; the pressures are those at which neighbours meet
Source    Lame; e.g. Shigley's Mechanical Engineering Design, ch. 3 (textbook)
Valid     round, elastic, alike all round: wood is not, and its stiffness and strength across the grain are put in
          for the worst; edges and neighbours of a hole are not in it
Refuses   radii that do not grow, and interferences that would leave rings apart (ValueError)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Ring:
    """From ``inner_mm`` (0: solid) to ``outer_mm``; ``e_mpa``: stiffness; ``density_kg_m3`` where it turns."""

    inner_mm: float
    outer_mm: float
    e_mpa: float
    poisson_ratio: float
    density_kg_m3: float = 0.0

    def stresses_mpa(self, r_mm: float, inner_mpa: float, outer_mpa: float, turning_rad_s: float = 0.0) -> Floats:
        """Radial and hoop stress at a radius, tension above 0; ``inner_mpa``, ``outer_mpa``: pressures on it."""
        a2, b2, r2 = self.inner_mm**2, self.outer_mm**2, r_mm**2
        even = (inner_mpa * a2 - outer_mpa * b2) / (b2 - a2)
        falling = (inner_mpa - outer_mpa) * a2 * b2 / (b2 - a2) / r2 if a2 else 0.0
        v = self.poisson_ratio
        whirl = (3.0 + v) / 8.0 * self.density_kg_m3 * turning_rad_s**2 * 1e-12  # kg/m3 mm2/s2 to MPa
        hole = a2 * b2 / r2 if a2 else 0.0
        radial = even - falling + whirl * (a2 + b2 - hole - r2)
        hoop = even + falling + whirl * (a2 + b2 + hole - (1.0 + 3.0 * v) / (3.0 + v) * r2)
        return np.array([radial, hoop])

    def moves_mm(self, r_mm: float, inner_mpa: float, outer_mpa: float, turning_rad_s: float = 0.0) -> float:
        """How far a radius moves outward."""
        radial, hoop = self.stresses_mpa(r_mm, inner_mpa, outer_mpa, turning_rad_s)
        return float(r_mm / self.e_mpa * (hoop - self.poisson_ratio * radial))


def contact_mpa(
    rings: Sequence[Ring],
    interference_mm: Sequence[float],
    inner_mpa: float = 0.0,
    outer_mpa: float = 0.0,
    turning_rad_s: float = 0.0,
) -> Floats:
    """The pressure at each contact, (n - 1,); ``interference_mm``: by how much the inner radius is the larger."""
    if any(not 0.0 <= ring.inner_mm < ring.outer_mm for ring in rings) or len(interference_mm) != len(rings) - 1:
        raise ValueError(
            "rings go from the inside out, each from a smaller radius to a larger, one interference a contact"
        )
    count = len(rings) - 1

    def apart(pressures: Floats) -> Floats:
        """At each contact: how much further out the outer ring's hole goes than the inner ring's rim."""
        on = np.concatenate([[inner_mpa], pressures, [outer_mpa]])
        moves = []
        for k in range(count):
            inner, outer = rings[k], rings[k + 1]
            rim = inner.moves_mm(inner.outer_mm, on[k], on[k + 1], turning_rad_s)
            moves.append(outer.moves_mm(outer.inner_mm, on[k + 1], on[k + 2], turning_rad_s) - rim)
        return np.array(moves)

    free = apart(np.zeros(count))
    per_mpa = np.column_stack([apart(unit) - free for unit in np.eye(count)])
    pressures = np.linalg.solve(per_mpa, np.asarray(interference_mm, dtype=np.float64) - free)
    if (pressures < 0.0).any():
        raise ValueError("with these interferences the rings do not all touch")
    return np.asarray(pressures)
