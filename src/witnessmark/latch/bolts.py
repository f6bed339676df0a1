"""Bolts in their guides: what draws them back, whether they snap back or bind, and what a pulled lid does to them.

Units     mm, N, MPa
Method    a bolt is drawn in by a magnet behind its tail, by a spring, or by nothing; the cam throws it against that.
          It snaps back where what draws it at full throw beats its friction. A side push overhanging the guide rubs
          more than its own size; a push off the axis jams a short guide. Locked, a lid that is pulled loads each bolt
          across: the wood over the hole shears out or is crushed, or the bolt bends
Source    plane statics (textbook); coil spring k = G d^4 / (8 D^3 n): Shigley (textbook, from memory); strengths of
          woods: the catalog's
Valid     slow; the wood over a hole not split before
Refuses   sizes of nothing (ValueError)
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.catalog import Species

from .cam import Cam, Guide, torque_per_n
from .magnets import Disc
from .rods import Rod, rod_pull_n

Floats = NDArray[np.float64]

SPRING_SHEAR_MPA = 79_300.0  # of hard-drawn spring wire: Shigley (textbook, from memory)
STEEL_YIELD_MPA = 235.0  # of plain mild steel bar, S235 of EN 10025 (from memory)
USUAL_SHEAR_MPA, USUAL_CRUSH_MPA = 7.0, 4.0  # woods without values: poor of the catalog's hardwoods (our own choice)
KNOTS = 33
THROUGH_MM = 0.2  # a spring's inside over its bolt


@dataclass(frozen=True)
class MagnetReturn:
    """A magnet behind the bolt's tail, ``recess_mm`` off it when the bolt is drawn in."""

    disc: Disc
    recess_mm: float

    def pull_n(self, rod: Rod, thrown_mm: float) -> float:
        return rod_pull_n(self.disc, rod, self.recess_mm + thrown_mm)


@dataclass(frozen=True)
class Coil:
    """A compression spring's sizes; ``rest_mm``: its length while the bolt is drawn in."""

    inside_mm: float
    outside_mm: float
    rest_mm: float
    pressed_mm: float

    def lacks(self, rod_mm: float, throw_mm: float) -> str:
        """Why a bolt cannot go through it and be thrown; nothing where it can."""
        if self.inside_mm < rod_mm + THROUGH_MM:
            return f"a rod of {rod_mm:g} mm does not go through a spring of {self.inside_mm:g} mm inside"
        if self.rest_mm - throw_mm < self.pressed_mm:
            return f"a spring {self.rest_mm:g} mm long cannot be pressed by {throw_mm:g} mm"
        return ""


@dataclass(frozen=True)
class SpringReturn:
    """A spring round each bolt, against a pin across it: its rate, what it pushes with when the bolt is drawn in, and
    its sizes, where they are known."""

    rate_n_mm: float
    rest_n: float
    coil: Coil | None = None

    def pull_n(self, rod: Rod, thrown_mm: float) -> float:
        return self.rest_n + self.rate_n_mm * thrown_mm


Return = MagnetReturn | SpringReturn


def spring_rate_n_mm(wire_mm: float, coil_mm: float, turns: float) -> float:
    """Of a coil of round wire, ``coil_mm`` the middle of the wire."""
    if min(wire_mm, coil_mm, turns) <= 0:
        raise ValueError("a spring has a wire, a coil and turns above 0")
    return SPRING_SHEAR_MPA * wire_mm**4 / (8.0 * coil_mm**3 * turns)


def resisting(back: Return, rod: Rod, throw_mm: float, drag_n: float = 0.0) -> Callable[[Floats], Floats]:
    """Force along the bolt over how far it is thrown: what draws it back, and the friction of its weight and of
    ``drag_n`` besides."""
    at = np.linspace(0.0, throw_mm, KNOTS)
    pull = np.array([back.pull_n(rod, float(x)) for x in at])
    return lambda thrown: np.interp(thrown, at, pull) + drag_n


def driving_nmm(cam: Cam, guide: Guide, resists: Callable[[Floats], Floats], bolts: int) -> float:
    """The greatest torque on the way from drawn in to thrown, all bolts together; inf where it jams."""
    turn = np.linspace(0.0, math.pi / cam.lobes, 361)
    radius, _ = cam.pitch_mm(turn)
    thrown = np.clip(radius - radius.min(), 0.0, cam.throw_mm)
    return float(bolts * np.maximum(torque_per_n(cam, guide, turn) * resists(thrown), 0.0).max())


def snaps_back(back: Return, rod: Rod, throw_mm: float, friction_ratio: float, drag_n: float = 0.0) -> float:
    """What draws the thrown bolt back, over all that holds it there: 1 and it just moves."""
    holds = friction_ratio * rod.weight_n + drag_n
    return back.pull_n(rod, throw_mm) / holds if holds > 0 else math.inf


def binding_n(side_n: float, guide: Guide) -> float:
    """The friction of a push across the bolt's tip."""
    return side_n * guide.binds


def jams_off_axis(guide: Guide, off_axis_mm: float) -> bool:
    """Whether a push so far off the bolt's axis locks it in its guide."""
    return guide.length_mm <= 2.0 * guide.guide_ratio * off_axis_mm


def least_engaged_mm(ball_mm: float, friction_ratio: float) -> float:
    """How far a ball tip must be in its hole, so that a pulled lid does not cam it back."""
    return ball_mm * (1.0 - math.sin(math.atan(friction_ratio)))


@dataclass(frozen=True)
class Pulled:
    """The pull on a locked lid that each part of it stands, N, all bolts together; the least decides."""

    shears_n: float
    crushes_n: float
    bends_n: float

    @property
    def least_n(self) -> float:
        return min(self.shears_n, self.crushes_n, self.bends_n)

    @property
    def first(self) -> str:
        """What gives first."""
        ways = {
            "the wood over the holes shears out": self.shears_n,
            "the bolts are pressed into the holes' sides": self.crushes_n,
            "the bolts bend": self.bends_n,
        }
        return min(ways, key=lambda way: ways[way])


def pulled(rod: Rod, engaged_mm: float, over_mm: float, open_mm: float, wood: Species, bolts: int) -> Pulled:
    """``over_mm``: wood between a hole and the rim; ``open_mm``: from guide to hole, where the bolt lies free."""
    if engaged_mm <= 0 or over_mm <= 0:
        return Pulled(0.0, 0.0, 0.0)
    shear, crush = wood.shear_mpa or USUAL_SHEAR_MPA, wood.compression_across_mpa or USUAL_CRUSH_MPA
    arm_mm = open_mm + engaged_mm / 2
    section_mm3 = math.pi * rod.diameter_mm**3 / 32
    return Pulled(
        bolts * 2.0 * over_mm * engaged_mm * shear,
        bolts * rod.diameter_mm * engaged_mm * crush,
        bolts * STEEL_YIELD_MPA * section_mm3 / arm_mm,
    )
