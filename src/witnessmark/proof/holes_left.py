"""Holes that were not made because no cutter gets into them: told apart from corners that come out rounded."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.shapes.narrow import NarrowHole, narrow_holes
from witnessmark.shapes.solid import Solid

from .eased import SHY_MM
from .finding import Finding

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]

ROUND_IT_MM = 0.2
BEYOND_MM = 1.0  # the ends of a hole are known to a section's distance


def holes_left(
    solid: Solid, at_mm: Floats, radius_mm: Floats, entered_z_mm: Callable[[Ints], Floats]
) -> tuple[Mask, Mask, list[Finding]]:
    """Which of the places (n, 3) that a cutter of a radius (n,) had to leave lie in a hole left whole; findings.

    ``entered_z_mm``: for some rows, where beside the place a cutter that gets no deeper has cut drawn air, or nan.
    Where that is within a hole the cutter fits, and what is left there is a fault: the second mask.
    """
    inside, fault = np.zeros(len(at_mm), dtype=bool), np.zeros(len(at_mm), dtype=bool)
    found = []
    for radius in np.unique(radius_mm):
        for hole in narrow_holes(solid, 2 * (float(radius) + SHY_MM)):
            rows = np.flatnonzero((radius_mm == radius) & ~inside)
            rows = rows[(at_mm[rows, 2] > hole.low_mm - BEYOND_MM) & (at_mm[rows, 2] < hole.high_mm + BEYOND_MM)]
            away = shapely.distance(hole.outline, shapely.points(at_mm[rows, :2]))
            rows = rows[away < ROUND_IT_MM]
            if len(rows):
                inside[rows] = True
                z_mm = entered_z_mm(rows)
                if ((z_mm > hole.low_mm) & (z_mm < hole.high_mm)).any():
                    fault[rows] = True
                    continue
                found.append(_told(hole, float(at_mm[rows, 2].min()), float(at_mm[rows, 2].max())))
    return inside, fault, found


def _told(hole: NarrowHole, low_mm: float, high_mm: float) -> Finding:
    what = (
        f"a hole {hole.width_mm:.2f} mm wide is left uncut between z {low_mm:.1f} and {high_mm:.1f}: "
        "no cutter of the job that gets so deep fits into it"
    )
    remedies = (
        "drill it by hand, or give the job a drill of its size",
        "give the job a narrower cutter that reaches",
    )
    place = (hole.x_mm, hole.y_mm, high_mm)
    return Finding("hole left uncut", what, "warning", place, "piece", "", "", 0, hole.width_mm, remedies)
