"""The latch that a file states, without a search; and what a design is in the file's words.

Units     mm
Refuses   sizes that cannot be (ValueError, from the modules of ``design``)
"""

from __future__ import annotations

import math

from witnessmark.job.catalog import Species
from witnessmark.job.latch import Chosen, Latch, MagnetOnHand

from .bolts import MagnetReturn, Return
from .cam import Dwell, undercut
from .design import Design, bolt_mm
from .magnets import Ring, alternating
from .rods import Rod
from .search import Takes, added, disc_of, spring_of


def design_of(latch: Latch, wood: Species) -> Design:
    """What the file's ``chosen`` comes to, with its wish."""
    chosen, wish = latch.chosen, latch.wish
    if chosen is None:
        raise ValueError("no latch is settled on")
    rod_mm = next(rod.diameter_mm for rod in latch.rods if rod.name == chosen.rod)
    cam = Dwell(chosen.low_mm, wish.throw_mm, rod_mm / 2, math.radians(chosen.rise_deg), wish.bolts)
    if undercut(cam):
        raise ValueError(f"a cam of low_mm {chosen.low_mm:g} is too small for a ball of {rod_mm:g} mm")
    back = _back(latch, chosen)
    return Design(
        key=_ring(latch, chosen.key_magnet, chosen.key_stack, chosen),
        rotor=_ring(latch, chosen.rotor_magnet, chosen.rotor_stack, chosen),
        skin_mm=wish.skin_mm,
        web_mm=chosen.web_mm,
        cam=cam,
        rod=Rod(rod_mm, bolt_mm(cam, rod_mm, back)),
        back=back,
        bolts=wish.bolts,
        hole_mm=chosen.hole_mm,
        hole_deep_mm=chosen.hole_deep_mm,
        over_mm=wish.over_mm,
        open_mm=wish.open_mm,
        holds_n=wish.holds_n,
        wood=wood,
        lower_mm=chosen.lower_mm,
    )


def takes_of(latch: Latch) -> Takes:
    """How many of what is on hand the chosen latch takes."""
    chosen, bolts = latch.chosen, latch.wish.bolts
    if chosen is None:
        return ()
    return added(
        (chosen.key_magnet, chosen.poles * chosen.key_stack),
        (chosen.rotor_magnet, chosen.poles * chosen.rotor_stack),
        (chosen.rod, bolts),
        (chosen.back, bolts),
    )


def chosen_of(latch: Latch, design: Design) -> Chosen:
    """The design by the names of what is on hand."""
    back = design.back
    if isinstance(back, MagnetReturn):
        name = next(m.name for m in latch.magnets if disc_of(m) == back.disc)
    else:
        name = next(spring.name for spring in latch.springs if spring_of(spring) == back)
    key, rotor = (_magnet(latch, ring) for ring in (design.key, design.rotor))
    return Chosen(
        key_magnet=key,
        key_stack=design.key.disc.stack,
        rotor_magnet=rotor,
        rotor_stack=design.rotor.disc.stack,
        poles=len(design.rotor.signs),  # type: ignore[arg-type]  # the model checks it
        circle_mm=design.rotor.radius_mm,
        web_mm=design.web_mm,
        rod=next(rod.name for rod in latch.rods if rod.diameter_mm == design.rod.diameter_mm),
        low_mm=design.cam.low_mm,
        rise_deg=round(math.degrees(design.cam.rise_rad), 6),
        back=name,
        recess_mm=back.recess_mm if isinstance(back, MagnetReturn) else 0.0,
        hole_mm=design.hole_mm,
        hole_deep_mm=design.hole_deep_mm,
        lower_mm=design.lower_mm,
    )


def _named(latch: Latch, name: str) -> MagnetOnHand:
    return next(magnet for magnet in latch.magnets if magnet.name == name)


def _magnet(latch: Latch, ring: Ring) -> str:
    return next(magnet.name for magnet in latch.magnets if disc_of(magnet, ring.disc.stack) == ring.disc)


def _ring(latch: Latch, name: str, stack: int, chosen: Chosen) -> Ring:
    return alternating(disc_of(_named(latch, name), stack), chosen.circle_mm, chosen.poles)


def _back(latch: Latch, chosen: Chosen) -> Return:
    for spring in latch.springs:
        if spring.name == chosen.back:
            return spring_of(spring)
    return MagnetReturn(disc_of(_named(latch, chosen.back)), chosen.recess_mm)
