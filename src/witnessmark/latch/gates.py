"""What one assembled latch must pass, and by how much it does, for any number of assembled ones at once.

Question  with what margin does a latch of this design, each size a little off, pass each gate
Units     mm, N, N mm
Arrays    a ``Chance`` holds (n,) of each uncertain size, (bolts, n) of those that every bolt has of its own; margins
          (gates, n), above 0 where passed: of the worst bolt
Method    torque: the key's at the lead of its peak, less its rubbing, over what the bolts ask for. Enters: the bolt's
          axis lies in its hole with what play both leave. Engaged: the ball past where a pulled lid would cam it in.
          Depth: it does not bottom. Returns: what draws it back over what holds it. Clear: drawn in, it does not
          stand out. Rattle: the locked lid lifts by no more than ``RATTLE_MM``. Holds: the pull that is wished for.
          Free: the latch still goes into its opening in every season
Source    plane statics; see the modules named in ``design``
Valid     as ``design``
Refuses   nothing
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from .bolts import least_engaged_mm
from .cam import Guide, torque_per_n
from .design import FRICTION_RATIO, INSIDE_MM, PLAY_MM, Design
from .magnets import torque_and_pull

Floats = NDArray[np.float64]

GATES = ("torque", "enters", "engaged", "depth", "returns", "clear", "rattle", "holds", "free")
RATTLE_MM = 0.6
FREE_MM = 0.1
LEAST_MU, MOST_MU = 0.05, 0.6


@dataclass(frozen=True, eq=False)
class Chance:
    """How far each size is off: ratios about 1 for magnets, the friction itself, mm about 0 else. (n,) each; from
    ``up_mm`` on also (bolts, n)."""

    key_ratio: Floats
    rotor_ratio: Floats
    back_ratio: Floats
    friction_ratio: Floats
    skin_mm: Floats
    up_mm: Floats
    aside_mm: Floats
    hole_mm: Floats
    bolt_mm: Floats
    depth_mm: Floats
    season_mm: Floats

    @staticmethod
    def none(count: int = 1) -> Chance:
        """Everything as drawn."""
        one, zero = np.ones(count), np.zeros(count)
        return Chance(one, one, one, np.full(count, FRICTION_RATIO), *(zero,) * 7)

    def __len__(self) -> int:
        return len(self.skin_mm)

    def but(self, name: str, values: Floats) -> Chance:
        """With other values of one size."""
        return Chance(**{f.name: values if f.name == name else getattr(self, f.name) for f in fields(self)})


@dataclass(frozen=True, eq=False)
class Tables:
    """What a design's margins are read from, so that hundreds of thousands of chances cost a moment.

    ``peak_nmm`` and ``pull_n`` of the key over the gap; the torque that the bolts ask for over the friction: for what
    draws them back, and for a drag of 1 N; and the pull that draws a thrown bolt back."""

    gap_mm: Floats
    peak_nmm: Floats
    pull_n: Floats
    friction_ratio: Floats
    back_nmm: Floats
    drag_nmm: Floats
    thrown_n: float

    @staticmethod
    def of(design: Design) -> Tables:
        gap = design.gap_mm + np.linspace(-1.0, 1.0, 21)
        gap = gap[gap > 0.1]
        lead = np.full(len(gap), math.radians(design.turning.peak_deg))
        peak, pull = torque_and_pull(design.key, design.rotor, gap, lead)
        if math.isinf(design.skin_bends_mm):  # drawn down, the skin holds the rotor fast
            peak = np.zeros_like(peak)
        return Tables(gap, peak, np.abs(pull), *_asked(design), design.back.pull_n(design.rod, design.cam.throw_mm))


def _asked(design: Design) -> tuple[Floats, Floats, Floats]:
    """Friction; torque for the return, and for 1 N of drag, where both together are the most."""
    friction = np.linspace(LEAST_MU, MOST_MU, 23)
    turn = np.linspace(0.0, math.pi / design.cam.lobes, 181)
    radius, _ = design.cam.pitch_mm(turn)
    thrown = np.clip(radius - radius.min(), 0.0, design.cam.throw_mm)
    knots = np.linspace(0.0, design.cam.throw_mm, 17)
    draws = np.interp(thrown, knots, [design.back.pull_n(design.rod, float(x)) for x in knots])
    back, drag = [], []
    for mu in friction.tolist():
        per_n = torque_per_n(design.cam, Guide(design.guide.before_mm, design.guide.length_mm, mu, mu), turn)
        held = mu * (design.rod.weight_n + design.side_n)
        worst = int(np.argmax(per_n * (draws + held)))
        back.append(design.bolts * float(per_n[worst] * draws[worst]))
        drag.append(design.bolts * float(per_n[worst]))
    return friction, np.array(back), np.array(drag)


def in_hole_mm(design: Design, chance: Chance) -> tuple[Floats, Floats]:
    """By how much the bolts enter their holes, and how much less than it may the locked lid lifts; as ``chance``."""
    play = (design.hole_mm + chance.hole_mm - design.rod.diameter_mm) / 2
    up = chance.up_mm - design.lower_mm
    return play + PLAY_MM / 2 - np.hypot(up, chance.aside_mm), RATTLE_MM - PLAY_MM - play - up


def margins(design: Design, tables: Tables, chance: Chance) -> Floats:
    """(gates, n), as GATES: shares of what is asked (torque, returns, holds), mm for the others."""
    mu = np.clip(chance.friction_ratio, LEAST_MU, MOST_MU)
    gap = design.gap_mm + chance.skin_mm
    rubs = mu * design.washer.radius_mm * np.interp(gap, tables.gap_mm, tables.pull_n)
    drives = chance.key_ratio * chance.rotor_ratio * (np.interp(gap, tables.gap_mm, tables.peak_nmm) - rubs)
    held = mu * (design.rod.weight_n + design.side_n * chance.rotor_ratio**2)
    asks = chance.back_ratio * np.interp(mu, tables.friction_ratio, tables.back_nmm)
    asks = asks + held * np.interp(mu, tables.friction_ratio, tables.drag_nmm)
    enters, rattle = in_hole_mm(design, chance)
    out = design.out_mm + chance.bolt_mm - chance.season_mm
    lid, drawn_out = design.lid, max(design.out_mm, 1e-9)
    stands = np.minimum(min(lid.shears_n, lid.crushes_n) / drawn_out * np.maximum(out, 0.0), lid.bends_n)
    jams = ~np.isfinite(asks)
    by_gate = (
        np.where(jams, -1.0, drives / np.where(jams, 1.0, asks) - 1.0),
        enters,
        out - least_engaged_mm(design.rod.diameter_mm / 2, FRICTION_RATIO),
        design.hole_deep_mm + chance.depth_mm - out,
        chance.back_ratio * tables.thrown_n / held - 1.0,
        INSIDE_MM - chance.bolt_mm,
        rattle,
        stands / design.holds_n - 1.0,
        design.open_mm - chance.season_mm - FREE_MM,
    )
    return np.stack([by if by.ndim == 1 else by.min(axis=0) for by in by_gate])
