"""Magnets on hand for the two simple latches: a lid that is only held down, and a bolt slid from outside.

Question  which magnets, and how many on each other, do what is wished with the least magnet
Units     mm, N
Method    every size on hand, in stacks of one to three, is tried; of those that do, the one with the least volume
Source    see ``holding`` and ``sliding``
Valid     as these
Refuses   nothing: where none does, the nearest, and that it is not enough
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

from witnessmark.job.latch import Latch

from .design import FRICTION_RATIO
from .holding import Hold, Holder, hold
from .magnets import Disc
from .rods import Rod
from .search import STACKS, disc_of
from .sliding import Sliding, sliding


@dataclass(frozen=True)
class HoldChoice:
    """Magnets in the lid (and as many in the body, where there is no plate), and what they hold with."""

    magnet: str
    disc: Disc
    hold: Hold
    takes: int
    enough: bool


@dataclass(frozen=True, eq=False)
class SlideChoice:
    """The hand's magnet, the bolt's, and how the bolt follows."""

    hand: str
    in_bolt: str
    discs: tuple[Disc, Disc]
    how: Sliding
    enough: bool


def choose_hold(latch: Latch) -> HoldChoice | None:
    """The least magnets that hold at the edge with what is wished and no more than one can lift; None: too few."""
    wish = latch.hold
    found = []
    for magnet, stack in product(latch.magnets, STACKS):
        takes = wish.count * stack * (1 if wish.plate else 2)
        if takes > magnet.count:
            continue
        disc = disc_of(magnet, stack)
        holder = Holder(disc, None if wish.plate else disc, wish.wood_mm, wish.deep_mm - wish.inset_mm)
        held = hold([holder] * wish.count, wish.lid_n, wish.deep_mm / 2, wish.deep_mm)
        enough = wish.lifts_n <= held.edge_n <= wish.lifts_most_n
        found.append(HoldChoice(magnet.name, disc, held, takes, enough))
    middle = math.sqrt(wish.lifts_n * wish.lifts_most_n)
    return min(
        found,
        key=lambda c: (not c.enough, _volume_mm3(c.disc) if c.enough else abs(math.log(c.hold.edge_n / middle))),
        default=None,
    )


def choose_slide(latch: Latch) -> SlideChoice | None:
    """The least magnets that move the bolt with ``spare_n`` to spare; None: no magnets for both."""
    wish, rod = latch.slide, latch.rods[0]
    found = []
    for hand, in_bolt, stack in product(latch.magnets, latch.magnets, STACKS):
        there = stack + (hand is in_bolt) <= hand.count
        if not there or in_bolt.diameter_mm > wish.wide_mm:
            continue
        one, other = disc_of(hand, stack), disc_of(in_bolt)
        weight = Rod(rod.diameter_mm, wish.long_mm).weight_n + other.mass_kg * 9.80665
        how = sliding(one, other, wish.skin_mm + wish.play_mm, weight, FRICTION_RATIO)
        found.append(SlideChoice(hand.name, in_bolt.name, (one, other), how, how.most_n >= wish.spare_n))
    return min(
        found,
        key=lambda c: (not c.enough, sum(map(_volume_mm3, c.discs)) if c.enough else -c.how.most_n),
        default=None,
    )


def _volume_mm3(disc: Disc) -> float:
    return math.pi * disc.radius_mm**2 * disc.length_mm
