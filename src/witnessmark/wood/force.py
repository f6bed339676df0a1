"""How hard a cutter pushes the wood, and how much power it takes.

Question  the force of a milling cutter from what it takes, for holding the work and for thin walls
Units     N, mm, N/mm2, mm/min, W
Method    specific cutting force times the section of the chip; it rises as chips thin, by a power law (Kienzle's
          form), and with the wood's specific gravity, straight in proportion
Source    particleboard, peripheral milling: 32 to 38 N/mm2 (Palubicki, Materials 14 (2021) 2208, abstract); power and
          chip thickness by definition and plane geometry. The exponent, the chip it is taken at, and the straight
          proportion are our own choice: density alone is a poor predictor (r = 0.61 for nine species, abstract of RSD
          11(7) 29674). Take the result as right within a factor of two
Valid     sharp cutters; a blunt one pushes several times as hard (common practice, no source)
Refuses   nothing: sizes come from the job's checked models
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.job.catalog import Species
from witnessmark.job.models import Cutter

AT_CHIP_MM, SPECIFIC_N_MM2, AT_GRAVITY_RATIO = 0.2, 35.0, 0.65
THINS_BY = 0.4
LEAST_CHIP_MM = 0.01
USUAL_GRAVITY_RATIO = 0.6
UNCERTAIN_RATIO = 2.0  # the force may be so many times as much


@dataclass(frozen=True)
class Cut:
    """What a cutter takes: how deep along its axis, how wide across it, mm."""

    deep_mm: float
    wide_mm: float


def bite_mm(cutter: Cutter) -> float:
    """How far a tooth moves on."""
    return cutter.feed_mm_min / (cutter.spindle_rpm * cutter.flutes)


def chip_mm(cutter: Cutter, wide_mm: float) -> float:
    """The greatest thickness of the chip: 2 bite sqrt(w/D (1 - w/D)) up to half the diameter, then the bite."""
    share = min(wide_mm / cutter.diameter_mm, 0.5)
    return 2.0 * bite_mm(cutter) * math.sqrt(share * (1.0 - share))


def specific_n_mm2(wood: Species | None, thick_mm: float) -> float:
    """Specific cutting force at a chip thickness."""
    gravity_ratio = (wood.specific_gravity_ratio if wood else None) or USUAL_GRAVITY_RATIO
    thin = math.pow(AT_CHIP_MM / max(thick_mm, LEAST_CHIP_MM), THINS_BY)
    return SPECIFIC_N_MM2 * gravity_ratio / AT_GRAVITY_RATIO * thin


def tooth_n(cutter: Cutter, wood: Species | None, cut: Cut) -> float:
    """The greatest force of one tooth, along its way."""
    chip = chip_mm(cutter, cut.wide_mm)
    return specific_n_mm2(wood, chip) * chip * min(cut.deep_mm, cutter.flute_length_mm)


def power_w(cutter: Cutter, wood: Species | None, cut: Cut) -> float:
    """Power at the cutter: specific force times wood a minute."""
    mm3_s = cut.deep_mm * cut.wide_mm * cutter.feed_mm_min / 60.0
    return specific_n_mm2(wood, chip_mm(cutter, cut.wide_mm)) * mm3_s / 1000.0
