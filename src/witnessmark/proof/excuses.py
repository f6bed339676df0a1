"""Why wood may be left: no listed cutter could take it, or a bridge holds the piece there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .bridges import BridgeWood
from .eased import SHY_MM, SLACK_MM, Easing
from .floors import FloorFaults
from .left import Left
from .walls import Places, WallJudge

Floats = NDArray[np.float64]

OVER_MM = 0.01
OVER_MM = 0.01
OVER_MM = 0.01


@dataclass(frozen=True, eq=False)
class Excuses:
    """Answers for one piece, once it is made."""

    judge: WallJudge
    bridged: BridgeWood
    allowance_mm: float
    shy_mm: float = SHY_MM  # how much wider than the cutter's own disc counts as not getting in

    def of_walls(self, easing: Easing, places: Places) -> Floats:
        """The radius of the cutter that leaves it, infinite where a bridge does, 0 without an excuse; (n,)."""
        # The same margin along the level as the allowance is along the normal. Wood is looked for up to LOOK_MM; more
        # than that and than must stand shows at the places beside, nearer the mouth of the corner.
        radius = np.zeros(len(places))
        for dz_mm in (0.0, -self.allowance_mm, self.allowance_mm):  # a ridge may lie over an eased corner by so much
            rows = np.flatnonzero(radius == 0)
            over, level_by = places.at_mm[rows] + np.array([0.0, 0.0, dz_mm]), places.level_by_mm[rows]
            if dz_mm:  # but not on the far side of a floor: a wall of at most 45 degrees off upright is still near
                near = easing.near_wall(over, abs(dz_mm) + SLACK_MM)
                rows, over = rows[near], over[near]
                level_by = np.minimum(level_by[near], self.judge.wood_before(over))
            need_mm = level_by - self.allowance_mm / places.steep[rows] - SLACK_MM
            radius[rows] = easing.unavoidable(over, places.lean[rows], need_mm, self.shy_mm, places.normal[rows])
        return self._or_bridged(radius, places.at_mm)

    def of_floors(self, easing: Easing, faults: FloorFaults) -> Left:
        """Wood on a floor is looked at on the level just above it: the way to the nearest air there."""
        just_over = faults.at_mm + np.array([0.0, 0.0, easing.ups[0] * self.allowance_mm])
        level_by = self.judge.wood_before(just_over)
        keep = level_by > self.allowance_mm  # less is as good as air beside it: the allowance of a finished wall
        faults, just_over, level_by = faults.kept(keep), just_over[keep], level_by[keep]
        leans = np.zeros(len(faults), dtype=np.int8)
        radius = easing.unavoidable(just_over, leans, level_by - self.allowance_mm - SLACK_MM, self.shy_mm)
        seen_mm = faults.at_mm + np.array([0.0, 0.0, easing.ups[0] * OVER_MM])  # where sections are those of the air
        return Left(seen_mm, faults.by_mm, self._or_bridged(radius, faults.at_mm))

    def _or_bridged(self, radius_mm: Floats, at_mm: Floats) -> Floats:
        return np.where(self.bridged.holds(at_mm), np.inf, radius_mm)
