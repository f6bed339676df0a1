"""Seats of a latch's magnets: wide enough for the glue in every season, and no wider.

Question  how much wider than its magnet is a seat cut, so that it is not squeezed when dry, nor loose when damp
Units     mm
Method    the glued fit of ``wood.fit`` for the widest magnet, in wood that moves the most: one clearance for all
Source    see ``wood.fit``; a magnet's tolerance: common practice, no source
Valid     as ``wood.fit``
Refuses   nothing
"""

from __future__ import annotations

from witnessmark.job.latch import Spreads
from witnessmark.wood.fit import Seat, glued_for
from witnessmark.wood.season import Year

from .bolts import MagnetReturn
from .design import WALL_MM, Design

MAGNET_MM = 0.05  # plus or minus, of a plated magnet's diameter
SURE = 2.0  # standard deviations of a cut hole


def seat_mm(design: Design, spreads: Spreads, year: Year) -> float:
    """Over the magnet's diameter, and over its length."""
    discs = [design.key.disc, design.rotor.disc]
    if isinstance(design.back, MagnetReturn):
        discs.append(design.back.disc)
    wide_mm = max(disc.diameter_mm for disc in discs)
    seat = Seat(wide_mm, MAGNET_MM, SURE * spreads.hole_mm, design.wood, wide_mm / 2 + WALL_MM)
    return glued_for(seat, year).hole_mm - wide_mm
