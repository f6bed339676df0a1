"""The smallest latch that does what is wished, out of the hardware on hand.

Question  which magnets, how many and on what circle, which rod, what draws it back, which cam, how deep
Units     mm, N, N mm
Method    the upper part (key, skin, rotor) gives a torque; the lower part (cam, bolts, return) asks for one, more
          with more friction. Every upper part is tried with every lower one that it can turn with a margin, from the
          smallest pocket on; the first ones go through chances (see ``chances``) until one works as often as wished
Source    our own
Valid     as ``design``; only alternating poles
Refuses   nothing: where no latch does, what came nearest and what it lacks
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.catalog import Species, grades
from witnessmark.job.latch import CountedOnHand, Latch, MagnetOnHand, SpringOnHand

from .bolts import Coil, MagnetReturn, Return, SpringReturn
from .cam import Dwell, Guide, torque_per_n, undercut
from .chances import Loose, drawn
from .design import (
    BESIDE_CAM_MM,
    CLEARANCE_MM,
    FRICTION_RATIO,
    INSIDE_MM,
    LINING_MM,
    Design,
    bolt_mm,
    guide_mm,
)
from .gates import GATES, Chance, Tables, in_hole_mm, margins
from .magnets import Disc, Ring, alternating, pair_forces_n
from .rods import Rod
from .washer import washer_of

Floats = NDArray[np.float64]
Takes = tuple[tuple[str, int], ...]

SAFE_RATIO = 1.5  # of torque and return, as drawn
STICKY_RATIOS = (0.45, 0.5, 0.55)  # friction at which it must still turn; the next where too few work
STACKS = (1, 2, 3)
POLES = (2, 4, 6)
ROUND_MM = 1.0  # steps of the circle on which magnets lie
WEBS_MM = (1.5, 3.0, 5.0, 8.0, 11.0)
LOWS_MM = (6.0, 8.0, 10.0, 12.0, 15.0, 18.0)
RECESSES_MM = (1.5, 2.0, 2.5, 3.0)  # wood of the flank
PLAYS_MM = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8)  # of a hole over its bolt
LOWER_MM = (0.0, 0.05, 0.1, 0.15)  # than its bolt it lies
REST_RAD = math.radians(10.0)  # least dwell of the cam
LEADS_RAD = np.radians(np.arange(4.0, 61.0, 3.0))
FEW, JUDGED, TRIED = 3, 40, 20_000
SURE = 2.0  # standard errors by which a share must be above what is wished


@dataclass(frozen=True)
class Upper:
    """Key and rotor: the torque at hand, less what rubs, and which magnets they take."""

    key: Ring
    rotor: Ring
    net_nmm: float
    sticky_nmm: float
    takes: Takes


@dataclass(frozen=True)
class Lower:
    """Cam and bolts: the torque asked for as drawn and where it sticks, for a bolt that nothing drags aside, and what
    a drag of 1 N adds."""

    cam: Dwell
    rod: Rod
    back: Return
    asks_nmm: float
    sticky_nmm: float
    per_n_nmm: float
    sticky_per_n_nmm: float
    thrown_n: float
    takes: Takes


@dataclass(frozen=True, eq=False)
class Found:
    """The design, how often it works (of ``TRIED``), how many designs were looked at and judged, whether it does what
    is wished, what it takes; where there is none, what is lacking."""

    design: Design | None
    works_ratio: float
    looked_at: int
    judged: int
    enough: bool
    lacks: tuple[str, ...]
    takes: Takes = ()


def disc_of(magnet: MagnetOnHand, stack: int = 1) -> Disc:
    """A magnet on hand with the middle of its grade."""
    grade = grades()[magnet.grade]
    return Disc(magnet.diameter_mm, magnet.thickness_mm, (grade.least_t + grade.most_t) / 2, stack)


def spring_of(spring: SpringOnHand) -> SpringReturn:
    """A spring on hand, with its sizes where they are given."""
    sizes = (spring.inside_mm, spring.outside_mm, spring.rest_mm, spring.pressed_mm)
    known = [size for size in sizes if size is not None]
    return SpringReturn(spring.rate_n_mm, spring.rest_n, Coil(*known) if len(known) == len(sizes) else None)


def magnets_ratio(latch: Latch) -> float:
    """Half the width of the widest grade on hand, of its middle."""
    rows = [grades()[magnet.grade] for magnet in latch.magnets]
    return max((row.most_t - row.least_t) / (row.most_t + row.least_t) for row in rows)


def uppers(latch: Latch, stick_ratio: float = STICKY_RATIOS[0]) -> list[Upper]:
    """Every key and rotor that the magnets on hand make; ``stick_ratio``: the friction at which it sticks."""
    wish = latch.wish
    gap_mm = LINING_MM + wish.skin_mm + CLEARANCE_MM
    found: list[Upper] = []
    for key_of, rotor_of, poles, key_stack, rotor_stack in product(
        latch.magnets, latch.magnets, POLES, STACKS, STACKS[:2]
    ):
        if poles > 2 and (720.0 / poles) % (360.0 / wish.bolts) > 1e-6:
            continue  # it would lock where the cam does not repeat
        takes = added((key_of.name, poles * key_stack), (rotor_of.name, poles * rotor_stack))
        if _there(latch, takes):
            key, rotor = disc_of(key_of, key_stack), disc_of(rotor_of, rotor_stack)
            found += _circles(key, rotor, poles, wish.across_most_mm, gap_mm, takes, stick_ratio)
    return found


def _circles(
    key: Disc, rotor: Disc, poles: int, most_mm: float, gap_mm: float, takes: Takes, stick_ratio: float
) -> Iterator[Upper]:
    """On every circle from where neighbours do not touch to the widest."""
    wide = max(key.diameter_mm, rotor.diameter_mm)
    radii = np.arange(math.ceil((wide + 1.0) / 2 / math.sin(math.pi / poles)), most_mm / 2 - wide / 2 - 1.9, ROUND_MM)
    if not len(radii):
        return
    torque, pull = np.zeros((len(radii), len(LEADS_RAD))), np.zeros((len(radii), len(LEADS_RAD)))
    for k in range(poles):  # the k-th magnet further on: unlike poles where k is odd
        turn = LEADS_RAD + 2.0 * math.pi * k / poles
        aside = 2.0 * radii[:, None] * np.abs(np.sin(turn / 2))
        sign = poles if k % 2 == 0 else -poles
        arm = radii[:, None] ** 2 * np.sin(turn) / np.maximum(aside, 1e-9)
        drag, along = pair_forces_n(key, rotor, gap_mm, aside)
        torque += sign * drag * arm
        pull += sign * along
    washers = [washer_of(alternating(rotor, radius, poles)).radius_mm for radius in radii.tolist()]
    rubs = np.array(washers)[:, None] * np.abs(pull)
    for radius, net, sticky in zip(
        radii.tolist(),
        (torque - FRICTION_RATIO * rubs).max(axis=1).tolist(),
        (torque - stick_ratio * rubs).max(axis=1).tolist(),
    ):
        yield Upper(alternating(key, radius, poles), alternating(rotor, radius, poles), net, sticky, takes)


def lowers(latch: Latch, stick_ratio: float = STICKY_RATIOS[0]) -> Iterator[Lower]:
    """Every cam, rod and return on hand."""
    wish, lobes = latch.wish, latch.wish.bolts  # a lobe for each bolt: they move together
    for rod_of in latch.rods:
        for low in LOWS_MM:
            rise = min(math.pi / lobes - REST_RAD, math.radians(80.0))
            cam = Dwell(low, wish.throw_mm, rod_of.diameter_mm / 2, rise, lobes)
            if undercut(cam):
                continue
            for back, takes in _returns(latch, cam):
                rod = Rod(rod_of.diameter_mm, bolt_mm(cam, rod_of.diameter_mm, back))
                if rod.length_mm * wish.bolts > rod_of.length_mm:
                    continue
                yield _lower(cam, rod, back, wish.bolts, ((rod_of.name, wish.bolts), *takes), stick_ratio)


def _returns(latch: Latch, cam: Dwell) -> Iterator[tuple[Return, Takes]]:
    bolts, low_mm = latch.wish.bolts, cam.low_mm
    for magnet in latch.magnets:
        for recess in RECESSES_MM:
            if magnet.count >= bolts and low_mm - recess - magnet.thickness_mm >= 3.5:  # clear of the pivot
                yield MagnetReturn(disc_of(magnet), recess), ((magnet.name, bolts),)
    for spring in latch.springs:
        back = spring_of(spring)
        fits = back.coil is not None and not back.coil.lacks(2 * cam.ball_mm, cam.throw_mm)
        if spring.count >= bolts and (latch.place is None or fits):  # let in, it has a seat only with its sizes
            yield back, ((spring.name, bolts),)


def _lower(cam: Dwell, rod: Rod, back: Return, bolts: int, takes: Takes, stick_ratio: float) -> Lower:
    turn = np.linspace(0.0, math.pi / cam.lobes, 91)
    radius, _ = cam.pitch_mm(turn)
    thrown = np.clip(radius - radius.min(), 0.0, cam.throw_mm)
    knots = np.linspace(0.0, cam.throw_mm, 9)
    draws = np.interp(thrown, knots, [back.pull_n(rod, float(x)) for x in knots])
    asked = []
    for mu in (FRICTION_RATIO, stick_ratio):
        per_n = torque_per_n(cam, Guide(cam.throw_mm + BESIDE_CAM_MM, guide_mm(back), mu, mu), turn)
        asked.append((bolts * float((per_n * (draws + mu * rod.weight_n)).max()), bolts * mu * float(per_n.max())))
    return Lower(
        cam, rod, back, asked[0][0], asked[1][0], asked[0][1], asked[1][1], back.pull_n(rod, cam.throw_mm), takes
    )


def search(latch: Latch, wood: Species, loose: Loose) -> Found:
    """The smallest latch that works as often as is wished; of those of one size the one with the fewest magnets.
    Where none does, the one that works the most often."""
    found = [_search(latch, wood, loose, STICKY_RATIOS[0])]
    for stick_ratio in STICKY_RATIOS[1:]:
        if found[-1].design is None or _sure(found[-1].works_ratio, latch):
            break
        found.append(_search(latch, wood, loose, stick_ratio))
    best = max(found, key=lambda one: one.works_ratio)
    return replace(best, looked_at=sum(one.looked_at for one in found), judged=sum(one.judged for one in found))


def _sure(share_ratio: float, latch: Latch) -> bool:
    """Whether so many of ``TRIED`` are surely as many as are wished."""
    return share_ratio >= latch.wish.works_ratio + SURE * math.sqrt(share_ratio * (1.0 - share_ratio) / TRIED)


def _search(latch: Latch, wood: Species, loose: Loose, stick_ratio: float) -> Found:
    above, below = uppers(latch, stick_ratio), list(lowers(latch, stick_ratio))
    looked_at = len(above) * len(below) * len(WEBS_MM)
    fitting = sorted(_pairs(latch, wood, above, below), key=Pair.rank)
    if not fitting:
        return Found(None, 0.0, looked_at, 0, False, tuple(_lacks(latch, above, below)))
    best: tuple[float, Design, Takes] | None = None
    judged = 0
    for pair in _unlike(fitting):
        spring = isinstance(pair.design.back, SpringReturn)
        chance = drawn(latch.spreads, replace(loose, spring=spring), TRIED)
        tables = Tables.of(pair.design)
        share, design = _best_hole(pair.design, margins(pair.design, tables, chance), chance)
        if best is None or share > best[0]:
            best = (share, design, pair.takes)
        judged += 1
        if judged == JUDGED or _sure(best[0], latch):
            break
    assert best is not None
    return Found(best[1], best[0], looked_at, judged, best[0] >= latch.wish.works_ratio, (), best[2])


def _best_hole(design: Design, by: Floats, chance: Chance) -> tuple[float, Design]:
    """How many work with the hole that lets the most, and the design with it: a wider one takes the bolt, and
    rattles; a lower one rattles less. ``by``: margins of all gates, of which only two hang on it."""
    others = (np.delete(by, [GATES.index("enters"), GATES.index("rattle")], axis=0) > 0.0).all(axis=0)
    rows = []
    for play, lower in product(PLAYS_MM, LOWER_MM):
        made = replace(design, hole_mm=design.rod.diameter_mm + play, lower_mm=lower)
        enters, rattle = in_hole_mm(made, chance)
        rows.append((float((others & ((enters > 0.0) & (rattle > 0.0)).all(axis=0)).mean()), made))
    return max(rows, key=lambda row: row[0])


@dataclass(frozen=True, eq=False)
class Pair:
    """A design that turns as drawn and where it sticks, the size of its pocket, and what it takes."""

    size_mm3: float
    design: Design
    takes: Takes

    def rank(self) -> tuple[float, int]:
        return self.size_mm3, sum(count for _, count in self.takes)


def _pairs(latch: Latch, wood: Species, above: list[Upper], below: list[Lower]) -> Iterator[Pair]:
    """For each lower part and web, the few smallest upper ones that turn it with a margin."""
    wish = latch.wish
    if not above:
        return
    net, sticky = np.array([u.net_nmm for u in above]), np.array([u.sticky_nmm for u in above])
    discs = list(dict.fromkeys(u.rotor.disc for u in above))
    which = np.array([discs.index(u.rotor.disc) for u in above])
    for lower, web in product(below, WEBS_MM):
        of_disc = [_design(latch, wood, above[int(np.argmax(which == k))], lower, web) for k in range(len(discs))]
        held = FRICTION_RATIO * (lower.rod.weight_n + np.array([design.side_n for design in of_disc]))
        side = held / FRICTION_RATIO - lower.rod.weight_n
        asks = lower.asks_nmm + lower.per_n_nmm * side
        sticks = lower.sticky_nmm + lower.sticky_per_n_nmm * side
        able = (lower.thrown_n >= SAFE_RATIO * held) & (np.array([d.high_mm for d in of_disc]) <= wish.high_most_mm)
        fits = able[which] & (net >= SAFE_RATIO * asks[which]) & (sticky >= sticks[which])
        rows = []
        for at in np.flatnonzero(fits).tolist():
            takes = added(*above[at].takes, *lower.takes)
            design = _design(latch, wood, above[at], lower, web)
            seat = latch.place is None or not design.chamber_lacks
            if design.across_mm <= wish.across_most_mm and seat and _there(latch, takes):
                rows.append(Pair(design.across_mm**2 * design.high_mm, design, takes))
        yield from sorted(rows, key=Pair.rank)[:FEW]


def _design(latch: Latch, wood: Species, upper: Upper, lower: Lower, web_mm: float) -> Design:
    wish = latch.wish
    out = wish.throw_mm - INSIDE_MM - wish.open_mm
    deep = math.ceil(2 * (out + 0.5 + 3 * latch.spreads.depth_mm + 3 * latch.spreads.bolt_mm)) / 2
    return Design(
        key=upper.key,
        rotor=upper.rotor,
        skin_mm=wish.skin_mm,
        web_mm=web_mm,
        cam=lower.cam,
        rod=lower.rod,
        back=lower.back,
        bolts=wish.bolts,
        hole_mm=lower.rod.diameter_mm + 0.5,
        hole_deep_mm=deep,
        over_mm=wish.over_mm,
        open_mm=wish.open_mm,
        holds_n=wish.holds_n,
        wood=wood,
    )


def _unlike(fitting: list[Pair]) -> Iterator[Pair]:
    """From the smallest on, of those of one size and rod only the first two."""
    seen: dict[tuple[int, int, float], int] = {}
    for pair in fitting:
        key = (round(pair.design.across_mm), round(pair.design.high_mm), pair.design.rod.diameter_mm)
        seen[key] = seen.get(key, 0) + 1
        if seen[key] <= 2:
            yield pair


def added(*takes: tuple[str, int]) -> Takes:
    found: dict[str, int] = {}
    for name, count in takes:
        found[name] = found.get(name, 0) + count
    return tuple(found.items())


def _there(latch: Latch, takes: Takes) -> bool:
    every: tuple[CountedOnHand, ...] = (*latch.magnets, *latch.springs)
    counts = {item.name: item.count for item in every}
    return all(count <= counts.get(name, count) for name, count in takes)


def _lacks(latch: Latch, above: list[Upper], below: list[Lower]) -> Iterator[str]:
    """Why no pair does."""
    wish = latch.wish
    if not above:
        yield f"no ring of the magnets on hand fits within {wish.across_most_mm:g} mm: allow more, or smaller magnets"
    if not below:
        yield f"no cam of {wish.throw_mm:g} mm throw goes with the rods on hand: a longer rod, or less throw"
    if above and below:
        most = max(upper.net_nmm for upper in above)
        least = min(max(lower.asks_nmm, lower.sticky_nmm / SAFE_RATIO) for lower in below)
        yield (
            f"the strongest key turns with {most:.0f} N mm, the easiest bolts ask for {SAFE_RATIO * least:.0f}, with "
            "a margin: thinner skin, stronger magnets, less throw or a softer return"
            if most < SAFE_RATIO * least
            else "torque is there, but not within the height, or the rotor's magnets drag on the bolts: allow more "
            "height"
        )
