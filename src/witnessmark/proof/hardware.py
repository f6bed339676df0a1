"""Hardware that nothing may touch: clamps, bolt heads, stops, as upright prisms."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.assembly import Assembly
from witnessmark.job.frames import Rigid
from witnessmark.job.placement import Placement

from .charges import Dock
from .finding import Finding
from .passes import passes_of

Floats = NDArray[np.float64]

LEAST_OVER_SPOT_MM = 0.5  # a cutter that stays this far above the spot leaves it whole

NAMES = {
    "cut": "cutter",
    "shank": "shank",
    "nut": "collet nut",
    "nose": "spindle nose",
    "shoe": "dust shoe",
}


def hardware_findings(
    rows: Floats, parent: NDArray[np.int64], assembly: Assembly, placement: Placement, dock: Dock
) -> list[Finding]:
    """Moves (standing frame) in which cutter, shank, nut, nose or shoe meets an obstacle.

    Every part counts as a cylinder, a round cutter too; a sloping move counts at its lowest within each mm of height.
    """
    if not placement.obstacles or not len(rows):
        return []
    passes = passes_of(rows, parent, Rigid.identity(), 1, 0, 0)
    e = passes.ends
    motion = passes.motion[:, 1]
    tip = np.minimum(e[:, 2], e[:, 5])
    lines = shapely.linestrings(e[:, [0, 1, 3, 4]].reshape(-1, 2, 2))
    found: list[Finding] = []
    for obstacle in placement.obstacles:
        away = shapely.distance(lines, shapely.Polygon(obstacle.outline_mm)) - passes.bulge_mm
        for step in assembly.steps:
            low, high = tip + step.z_from_mm, tip + step.z_to_mm
            meets = (away < step.radius_mm) & (low < obstacle.z_to_mm) & (high > obstacle.z_from_mm)
            by = np.full(len(dock.lines), 0.0)
            np.maximum.at(by, motion[meets], np.minimum(step.radius_mm - away, obstacle.z_to_mm - low)[meets])
            part = NAMES[step.kind]
            found += dock.charge(
                "hardware touched",
                "stop",
                by > 0.0,
                by,
                lambda i, b=by, p=part, o=obstacle: (  # type: ignore[misc]
                    f"the {p} would hit {o.name}, by {b[i]:.2f} mm"
                ),
                ("move that hardware", "shift the placement, or keep its region away from there"),
            )
    return found


def touch_off_findings(
    rows: Floats, parent: NDArray[np.int64], assembly: Assembly, placement: Placement, dock: Dock
) -> list[Finding]:
    """Moves that cut where every cutter is touched off again: the spot lies on the supporting face."""
    if placement.touch_off_mm is None or not len(rows):
        return []
    passes = passes_of(rows, parent, Rigid.identity(), 1, 0, 0)
    e, motion = passes.ends, passes.motion[:, 1]
    away = shapely.distance(
        shapely.linestrings(e[:, [0, 1, 3, 4]].reshape(-1, 2, 2)), shapely.Point(placement.touch_off_mm)
    )
    within = assembly.steps[0].radius_mm - away + passes.bulge_mm
    meets = (within > 0.0) & (np.minimum(e[:, 2], e[:, 5]) < LEAST_OVER_SPOT_MM)
    by = np.zeros(len(dock.lines))
    np.maximum.at(by, motion[meets], within[meets])
    return dock.charge(
        "touch-off spot cut",
        "stop",
        by > 0.0,
        by,
        lambda i: "the cutter comes down on the spot that every cutter is touched off on",
        ("keep this placement's region away from that spot", "reserve another spot"),
    )
