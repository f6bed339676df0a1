"""The washer between rotor and skin, and its seat in the rotor's top, between the magnets.

Question  how wide is the washer on which the rotor turns, and how deep does it lie in the rotor
Units     mm
Method    as wide as goes between the magnets, the wood left beside its seat no thinner than the seat is deep; where
          no useful one does, a wide thin one lies on the rotor, over its magnets
Source    plane geometry; sizes: our own choice
Valid     magnets flush with the rotor's top
Refuses   nothing
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .magnets import Ring

WIDEST_MM, LEAST_MM = 4.0, 2.0  # radii
DEEP_MM = 0.5  # of the seat
PLAY_MM = 0.25  # round the washer in it
BESIDE_MM = 0.7  # from the seat to the nearest magnet
ROUND_MM = 0.5


@dataclass(frozen=True)
class Washer:
    """``radius_mm``: on which the rotor rubs; ``in_mm``: how deep it lies in the rotor, 0 where it has no seat."""

    radius_mm: float
    in_mm: float

    @property
    def seat_mm(self) -> float:
        """Radius of its seat."""
        return self.radius_mm + PLAY_MM


def washer_of(rotor: Ring) -> Washer:
    """For a rotor with these magnets in its top."""
    room_mm = rotor.radius_mm - rotor.disc.radius_mm - BESIDE_MM - PLAY_MM
    radius_mm = min(WIDEST_MM, math.floor(room_mm / ROUND_MM + 1e-9) * ROUND_MM)
    return Washer(radius_mm, DEEP_MM) if radius_mm >= LEAST_MM else Washer(WIDEST_MM, 0.0)
