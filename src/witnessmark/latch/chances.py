"""How many of a hundred latches built like this will work, which gate fails, and which sizes matter most.

Question  what is the yield, and what is worth making truer
Arrays    gates (g,), sizes (s,)
Method    Monte Carlo: every size drawn from its spread, the same draws each time; each bolt and each hole has draws
          of its own, and the worst of them counts. A size matters by how much the yield rises where it alone is as
          drawn, with the same draws for all others (one at a time); the standard error of a difference of yields is
          that of the latches which change sides
Source    one at a time: Saltelli et al., Global Sensitivity Analysis (textbook, from memory); binomial error
Valid     sizes independent of each other, and bolts of each other (what shifts all holes alike is drawn for each: the
          yield comes out lower by it, not higher)
Refuses   nothing
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.latch import Spreads

from .design import FRICTION_RATIO, Design
from .gates import GATES, Chance, Tables, margins

Floats = NDArray[np.float64]

SEED = 20261127
MANY = 200_000
SIZES = {
    "key_ratio": "the key's magnets",
    "rotor_ratio": "the rotor's magnets",
    "back_ratio": "what draws the bolts back",
    "friction_ratio": "friction",
    "skin_mm": "the skin's thickness",
    "up_mm": "the holes' height",
    "aside_mm": "the holes' place sideways",
    "hole_mm": "the holes' diameter",
    "bolt_mm": "the bolts' length",
    "depth_mm": "the holes' depth",
    "season_mm": "the wood's movement over the year, and how true lid and body are found",
}


@dataclass(frozen=True)
class Astray:
    """By how much more a hole's place is off than its spread says, in height, sideways and along the bolt (standard
    deviations): by the way in which it is made and the placements of lid and body; and how much wider it is made."""

    up_mm: float = 0.0
    aside_mm: float = 0.0
    along_mm: float = 0.0
    wider_mm: float = 0.0


@dataclass(frozen=True)
class Loose:
    """What the spreads of a job do not say: half the width of a magnet's remanence in its grade (uniform), how far
    wood moves to either side along a bolt over the year (uniform), the hole of each bolt, and the mean friction."""

    magnets_ratio: float
    season_mm: float
    spring: bool
    holes: tuple[Astray, ...]
    friction_ratio: float = FRICTION_RATIO


@dataclass(frozen=True)
class Matters:
    """A size, and by how much the yield rises where it is exactly as drawn, with its standard error."""

    name: str
    words: str
    rises_ratio: float
    error_ratio: float


@dataclass(frozen=True)
class Yield:
    """How many work, the standard error of that, how many fail each gate (more than one may), what matters most."""

    works_ratio: float
    error_ratio: float
    fails_ratio: tuple[tuple[str, float], ...]
    matters: tuple[Matters, ...]
    tried: int


def drawn(spreads: Spreads, loose: Loose, count: int, seed: int = SEED) -> Chance:
    """``count`` latches, with as many bolts as ``loose`` has holes."""
    rng = np.random.default_rng(seed)

    def normal(spread: float) -> Floats:
        return np.asarray(rng.standard_normal(count) * spread)

    def each(*spreads: float) -> Floats:
        """(bolts, n)"""
        return np.asarray(rng.standard_normal((len(loose.holes), count)) * np.array(spreads)[:, None])

    def even(half: float) -> Floats:
        return np.asarray((rng.random(count) * 2.0 - 1.0) * half)

    return Chance(
        key_ratio=1.0 + even(loose.magnets_ratio),
        rotor_ratio=1.0 + even(loose.magnets_ratio),
        back_ratio=1.0 + (normal(0.05) if loose.spring else even(2.0 * loose.magnets_ratio)),
        friction_ratio=loose.friction_ratio + normal(spreads.friction_ratio),
        skin_mm=normal(spreads.skin_mm),
        up_mm=each(*(math.hypot(spreads.hole_place_mm, hole.up_mm) for hole in loose.holes)),
        aside_mm=each(*(math.hypot(spreads.hole_place_mm, hole.aside_mm) for hole in loose.holes)),
        hole_mm=each(spreads.hole_mm) + np.array([[hole.wider_mm] for hole in loose.holes]),
        bolt_mm=each(spreads.bolt_mm),
        depth_mm=each(spreads.depth_mm),
        season_mm=even(loose.season_mm) + each(*(hole.along_mm for hole in loose.holes)),
    )


def works(design: Design, tables: Tables, chance: Chance) -> NDArray[np.bool_]:
    """(n,): every gate passed."""
    return np.asarray((margins(design, tables, chance) > 0.0).all(axis=0))


def yield_of(design: Design, spreads: Spreads, loose: Loose, count: int = MANY) -> Yield:
    """Yield, gates and what matters."""
    tables, chance = Tables.of(design), drawn(spreads, loose, count)
    passed = margins(design, tables, chance) > 0.0
    good = passed.all(axis=0)
    share = float(good.mean())
    fails = sorted(zip(GATES, (1.0 - passed.mean(axis=1)).tolist()), key=lambda gate: -gate[1])
    as_drawn = Chance.none(count)
    rows = []
    for name, words in SIZES.items():
        better = works(design, tables, chance.but(name, getattr(as_drawn, name)))
        gained, lost = float((better & ~good).mean()), float((good & ~better).mean())
        error = math.sqrt(max(gained + lost - (gained - lost) ** 2, 0.0) / count)
        rows.append(Matters(name, words, gained - lost, error))
    rows.sort(key=lambda row: -row.rises_ratio)
    return Yield(share, math.sqrt(share * (1.0 - share) / count), tuple(fails), tuple(rows), count)
