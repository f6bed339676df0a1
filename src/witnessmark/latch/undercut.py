"""A bolt's hole as a slot that the disc of a T-slot cutter makes from within the opening.

Question  which cutter of the job makes the hole, and how wide does it come out
Frame     as ``solids``, the bolt along x
Units     mm
Method    the disc goes straight out along the bolt until its edge is as deep as the hole; the hole is as high as is
          wished, and as wide as the disc
Source    plane geometry
Valid     discs no thicker than the hole is high
Refuses   nothing
"""

from __future__ import annotations

from collections.abc import Sequence

from manifold3d import Manifold

from witnessmark.job.models import Cutter

from .design import Design
from .solids import Room, bore, box

BESIDE_MM = 0.15  # between neck and wall, at least
WIDER_MM = 0.05  # a slot than its disc, to either side


def reaches(design: Design, cutter: Cutter) -> bool:
    """Whether a disc is thin enough for the hole and reaches far enough beyond its neck."""
    neck_mm = cutter.neck_diameter_mm or cutter.shank_diameter_mm
    beyond_mm = (cutter.diameter_mm - neck_mm) / 2 - BESIDE_MM
    return cutter.undercuts and cutter.flute_length_mm <= design.hole_mm and beyond_mm >= design.hole_deep_mm


def disc_for(design: Design, cutters: Sequence[Cutter]) -> Cutter | None:
    """The narrowest that does it."""
    able = [cutter for cutter in cutters if reaches(design, cutter)]
    return min(able, key=lambda cutter: cutter.diameter_mm, default=None)


def slot(design: Design, room: Room, cutter: Cutter, half_mm: float) -> Manifold:
    """What the disc takes; ``half_mm``: half the width of the opening's arm. A wider disc takes of its sides too."""
    radius = cutter.diameter_mm / 2 + WIDER_MM
    last = design.mouth_mm + design.open_mm + design.hole_deep_mm - radius
    first = 0.0 if cutter.diameter_mm / 2 > half_mm + WIDER_MM else design.mouth_mm + design.open_mm - radius
    low, high = (room.holes_mm(design) + sign * design.hole_mm / 2 for sign in (-1, 1))
    disc = bore(radius, low, high)
    straight = box((first, last), (-radius, radius), (low, high))
    return straight + disc.translate((first, 0.0, 0.0)) + disc.translate((last, 0.0, 0.0))
