"""Blind holes against what goes into them: depth, the wood left behind, and glue that has no way out.

Question  does the part go in all the way, is enough wood left behind it, and how much glue is there room for
Units     mm, mm3
Method    glue under a part that fills its hole is shut in: more than there is room for under and round the part, and
          it stands up again, or the wood behind is pushed out (hydraulic lock; common practice, no source)
Source    plane geometry; least wood behind: our own choice
Refuses   nothing
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .bolts import MagnetReturn
from .design import CLEARANCE_MM, RUNNING_MM, Design
from .let_in import LetIn
from .solids import PIVOT_DEEP_MM, PIVOT_MM, PIVOT_PLAY_MM
from .together import pivot_out_mm

LEAST_BEHIND_MM = 1.0


@dataclass(frozen=True)
class Blind:
    """A hole and the part in it."""

    name: str
    hole_mm: float
    deep_mm: float
    part_mm: float
    in_mm: float
    behind_mm: float
    glued: bool = True

    @property
    def glue_mm3(self) -> float:
        """Room for glue under and round the part."""
        under = math.pi / 4 * self.hole_mm**2 * max(0.0, self.deep_mm - self.in_mm)
        return under + math.pi / 4 * (self.hole_mm**2 - self.part_mm**2) * self.in_mm

    @property
    def troubles(self) -> tuple[str, ...]:
        """What is wrong with it."""
        found = []
        if self.hole_mm <= self.part_mm:
            found.append(f"{self.name}: {self.part_mm:g} mm does not go into {self.hole_mm:g} mm")
        if self.deep_mm < self.in_mm:
            found.append(f"{self.name}: {self.deep_mm:g} mm deep for {self.in_mm:g} mm: it stands out")
        if self.behind_mm < LEAST_BEHIND_MM:
            found.append(f"{self.name}: {self.behind_mm:.1f} mm of wood behind it would break: make it less deep")
        return tuple(found)


def blind_holes(let_in: LetIn) -> tuple[Blind, ...]:
    """Every blind hole of the latch, one of each kind."""
    design, key = let_in.design, let_in.parts.key.bounding_box()
    washer, key_mm = design.washer, key[5] - key[2]
    rotor_mm = let_in.room.tall_mm(design) - CLEARANCE_MM - RUNNING_MM
    found = [
        _magnet("the key's magnets", design, key_mm, key=True),
        _magnet("the rotor's magnets", design, rotor_mm - design.cam_high_mm, key=False),
        Blind(
            "the rotor on its pivot",
            PIVOT_MM + PIVOT_PLAY_MM,
            PIVOT_DEEP_MM,
            PIVOT_MM,
            pivot_out_mm(),
            rotor_mm - PIVOT_DEEP_MM - washer.in_mm,
            glued=False,
        ),
        Blind(
            "the bolts in their holes",
            design.hole_mm,
            design.hole_deep_mm,
            design.rod.diameter_mm,
            design.out_mm,
            design.hole_deep_mm,
            glued=False,
        ),
    ]
    if washer.in_mm:
        found.append(
            Blind(
                "the rotor's washer",
                2 * washer.seat_mm,
                washer.in_mm,
                2 * washer.radius_mm,
                washer.in_mm,
                rotor_mm - PIVOT_DEEP_MM - washer.in_mm,
                glued=False,
            )
        )
    if isinstance(design.back, MagnetReturn):
        disc = design.back.disc
        found.append(
            Blind(
                "the cam's magnets",
                disc.diameter_mm + design.seat_mm,
                disc.length_mm + design.seat_mm,
                disc.diameter_mm,
                disc.length_mm,
                design.back.recess_mm,
            )
        )
    return tuple(found)


def _magnet(name: str, design: Design, tall_mm: float, key: bool) -> Blind:
    disc = design.key.disc if key else design.rotor.disc
    deep = disc.length_mm + design.seat_mm
    return Blind(name, disc.diameter_mm + design.seat_mm, deep, disc.diameter_mm, disc.length_mm, tall_mm - deep)
