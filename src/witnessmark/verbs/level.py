"""level: from heights read at a placement's level places to whether it lies level, or the shim that makes it so."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from witnessmark.job.errors import Refusal, Trouble, refuse
from witnessmark.job.placement import Placement, rectangle_of
from witnessmark.locate.level import Level, levelled
from witnessmark.locate.typed import READ_U_MM, number_troubles
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.model import PiecePlan

from .placed import placed
from .workshop import Workshop

FARTHEST_MM = 20.0


def level(
    folder: Path | str,
    piece: str | None,
    placement: str,
    heights_mm: Mapping[int, float],
    read_u_mm: float = READ_U_MM,
) -> Level:
    """Refused where the heights are too few, or no heights of this work."""
    workshop, plan, place = placed(folder, piece, placement)
    return level_of(workshop, plan, place, heights_mm, read_u_mm)


def level_of(
    workshop: Workshop, plan: PiecePlan, place: Placement, heights_mm: Mapping[int, float], read_u_mm: float
) -> Level:
    """As ``level``, of a placement that is known."""
    troubles = number_troubles(("height", "places for heights"), place, heights_mm, len(place.levels))
    for number, value in heights_mm.items() if not troubles else ():
        if abs(value - place.stand.apply(np.array(place.levels[number - 1].point_mm))[2]) > FARTHEST_MM:
            what = f"is more than {FARTHEST_MM:g} mm from what is planned"
            remedy = "count it from the supporting face, in mm: z 0 is the face that the work lies on"
            troubles.append(Trouble(f"height {number}", what, (remedy,)))
    if troubles:
        raise Refusal(*troubles)
    settings = workshop.job.settings
    box = blank_box(plan.piece.blank, *workshop.solids[plan.piece.name].bounds_mm)
    blank_mm = rectangle_of(place.holds[0].outline_mm) if place.holds else place.region_mm
    tolerance_mm = settings.gouge_tolerance_mm + settings.leftover_tolerance_mm
    try:
        return levelled(place, heights_mm, blank_mm, float(box.size_mm[2]), tolerance_mm, read_u_mm)
    except ValueError as error:
        raise refuse(f"placement {place.name}", str(error), "read three heights or more, at its corners") from None
