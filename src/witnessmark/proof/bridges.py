"""Wood that the plan leaves on the piece on purpose: bridges to its waste, to be sawn through at the end.

Question  which places with wood left on them belong to a bridge
Frame     piece frame
Units     mm
Arrays    places (n, 3)
Method    a bridge, and beside it as far as the cutters' radius and the flanks on which they pass over it
Source    plane geometry
Valid     for flanks no flatter than 30 degrees
Refuses   nothing
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.models import Cutter
from witnessmark.job.placement import Bridge, Placement

from .finding import Finding

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

FLANK_RAD = math.radians(30.0)
SPARE_MM = 0.5


@dataclass(frozen=True, eq=False)
class BridgeWood:
    """The bridges of a piece in its own frame, each once."""

    bridges: tuple[Bridge, ...]
    beside_mm: float
    rounded_mm: float

    def holds(self, places_mm: Floats) -> Flags:
        """Which places have wood left on them by a bridge."""
        held = np.zeros(len(places_mm), dtype=bool)
        for bridge in self.bridges:
            high_mm = bridge.z_to_mm - bridge.z_from_mm
            beside_mm = self.beside_mm + high_mm / math.tan(FLANK_RAD)
            zone = shapely.buffer(shapely.Polygon(bridge.outline_mm), beside_mm)
            shapely.prepare(zone)
            low, high = bridge.z_from_mm - self.rounded_mm, bridge.z_to_mm + self.rounded_mm
            within = (places_mm[:, 2] >= low) & (places_mm[:, 2] <= high)
            held |= within & shapely.contains_xy(zone, places_mm[:, 0], places_mm[:, 1])
        return held

    def findings(self) -> list[Finding]:
        """What the maker has to do about them; nothing where there are none."""
        if not self.bridges:
            return []
        middle = shapely.Polygon(self.bridges[0].outline_mm).centroid
        at = (float(middle.x), float(middle.y), (self.bridges[0].z_from_mm + self.bridges[0].z_to_mm) / 2)
        what = f"{len(self.bridges)} bridges hold the piece in its waste; what they leave on it is not judged"
        remedies = ("saw them through when all is cut, and pare them flush",)
        return [Finding("bridges", what, "note", at, "piece", "", "", 0, 0.0, remedies)]


def bridge_wood(placements: Sequence[Placement], cutters: Sequence[Cutter]) -> BridgeWood:
    """The bridges that these placements leave. Every placement of a piece leaves the same ones."""
    last = placements[-1] if placements else None
    bridges = () if last is None else tuple(bridge.moved(last.stand.inverse()) for bridge in last.bridges)
    widest_mm = max((cutter.diameter_mm for cutter in cutters), default=0.0) / 2
    rounded_mm = max((_rounding_mm(cutter) for cutter in cutters), default=0.0)
    return BridgeWood(bridges, widest_mm + SPARE_MM, rounded_mm + SPARE_MM)


def _rounding_mm(cutter: Cutter) -> float:
    """How far above its tip a cutter's edge is drawn in."""
    return cutter.diameter_mm / 2 if cutter.kind == "ball" else cutter.corner_radius_mm
