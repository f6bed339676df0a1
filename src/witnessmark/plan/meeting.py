"""The meeting height: how far down each side cuts the outer walls.

A wall that leans can be cut only from the side that sees it; an upright wall can be shared. In the piece frame the
side -z cuts the outer walls from the foot up to the meeting height, the side +z from the rim down to it, and both
go past it by the overlap.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon, buffer, union_all
from shapely.geometry.base import BaseGeometry

from witnessmark.job.frames import Rigid, side_rotation
from witnessmark.shapes.solid import Solid

SEES_MM = 0.08  # what hangs over by less is a sawtooth of facets, and less than may be left on a wall anyway


@dataclass(frozen=True)
class Meeting:
    """Heights of the piece frame between which the two sides may meet, mm; ``reason`` says why it is so."""

    lowest_mm: float
    highest_mm: float
    reason: str

    @property
    def possible(self) -> bool:
        return self.lowest_mm <= self.highest_mm + 1e-6


def filled(shape: BaseGeometry) -> BaseGeometry:
    """The shape without its holes: what counts for the outer walls."""
    parts = getattr(shape, "geoms", [shape])
    return union_all([Polygon(part.exterior) for part in parts if not part.is_empty])


def hides(solid: Solid, z_mm: float) -> bool:
    """Whether what lies above ``z_mm`` overhangs the outline of the section there, somewhere wider than SEES_MM."""
    over = filled(solid.shadow_above(z_mm)).difference(filled(solid.section(z_mm)))
    return not buffer(over, -SEES_MM / 2).is_empty


def meeting_range(piece: Solid, step_mm: float = 1.0) -> Meeting:
    """Where the two sides may meet so that neither has to cut a wall that it cannot see."""
    lower, upper = piece.bounds_mm
    foot_mm, rim_mm = float(lower[2]), float(upper[2])
    turned = piece.moved(Rigid(side_rotation("-z"), np.zeros(3)))
    levels_mm = np.arange(foot_mm + step_mm / 2, rim_mm, step_mm)
    seen_from_rim = np.array([not hides(piece, float(z)) for z in levels_mm])
    seen_from_foot = np.array([not hides(turned, -float(z)) for z in levels_mm])
    # the foot side works upward from the foot until the first level that it cannot see
    highest_mm = rim_mm if seen_from_foot.all() else float(levels_mm[np.argmin(seen_from_foot)] - step_mm / 2)
    first_hidden = np.argmin(seen_from_rim[::-1])
    lowest_mm = foot_mm if seen_from_rim.all() else float(levels_mm[::-1][first_hidden] + step_mm / 2)
    if lowest_mm > highest_mm + 1e-6:
        reason = f"between z {highest_mm:.1f} and {lowest_mm:.1f} the outer wall is hidden from above and from below"
    elif seen_from_foot.all() and seen_from_rim.all():
        reason = "the outer walls are seen whole from both sides"
    elif seen_from_foot.all():
        reason = "the outer walls are seen whole from the foot only"
    elif seen_from_rim.all():
        reason = "the outer walls are seen whole from the rim only"
    else:
        reason = "each side sees a part of the outer walls"
    return Meeting(lowest_mm, highest_mm, reason)
