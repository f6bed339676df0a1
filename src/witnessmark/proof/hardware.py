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
from .over import rows_over
from .passes import CHORD_MM, Passes, passes_of
from .shapes import axis_places

Floats = NDArray[np.float64]

LEAST_INTO_MM = 1e-6
LEAST_OVER_SPOT_MM = 0.5  # a cutter that stays this far above the spot leaves it whole

NAMES = {
    "cut": "cutter",
    "neck": "neck",
    "shank": "shank",
    "nut": "collet nut",
    "nose": "spindle nose",
    "shoe": "dust shoe",
}


def hardware_findings(
    rows: Floats,
    parent: NDArray[np.int64],
    assembly: Assembly,
    placement: Placement,
    dock: Dock,
    turn_rad: float = 0.0,
) -> list[Finding]:
    """Moves (standing frame, which lies turned on the machine) in which cutter, shank, nut, nose or shoe meets an
    obstacle.

    Every part counts as a cylinder, a round cutter too, and a shoe that is not round by its outline; a sloping move
    counts at its lowest within each mm of height.
    """
    widest_mm, lowest_mm = max(step.radius_mm for step in assembly.steps), min(s.z_from_mm for s in assembly.steps)
    found: list[Finding] = []
    for obstacle in placement.obstacles:
        outline = shapely.Polygon(obstacle.outline_mm)
        near = _near(rows, parent, outline, widest_mm, obstacle.z_to_mm - lowest_mm)
        if near is None:
            continue
        passes, away = near
        tip, motion = np.minimum(passes.ends[:, 2], passes.ends[:, 5]), passes.motion[:, 1]
        for step in assembly.steps:
            low, high = tip + step.z_from_mm, tip + step.z_to_mm
            into = step.radius_mm - away
            if step.outline_mm:
                into = np.minimum(into, _into(passes, axis_places(step.outline_mm, turn_rad, outline)))
            meets = (into > 0.0) & (low < obstacle.z_to_mm) & (high > obstacle.z_from_mm)
            by = np.full(len(dock.lines), 0.0)
            np.maximum.at(by, motion[meets], np.minimum(into, obstacle.z_to_mm - low)[meets])
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


def _into(passes: Passes, places: shapely.Geometry) -> Floats:
    """How deep each pass goes into the places where something is met, (n,); below 0 where it stays out."""
    lines = shapely.linestrings(passes.ends[:, [0, 1, 3, 4]].reshape(-1, 2, 2))
    within = shapely.intersection(lines, places)
    met = shapely.length(within) > 0.0
    met |= shapely.dwithin(lines, places, 0.0) & (shapely.length(lines) == 0.0)
    middle = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    depth = np.zeros(len(lines))
    for point in (shapely.centroid(within), middle, shapely.get_point(lines, 0), shapely.get_point(lines, -1)):
        inside = shapely.intersects(places, point)
        depth = np.maximum(depth, np.where(inside, np.nan_to_num(shapely.distance(places.boundary, point)), 0.0))
    out = -shapely.distance(lines, places)
    return np.where(met, np.maximum(depth, LEAST_INTO_MM), np.minimum(out, 0.0)) + passes.bulge_mm


def touch_off_findings(
    rows: Floats, parent: NDArray[np.int64], assembly: Assembly, placement: Placement, dock: Dock
) -> list[Finding]:
    """Moves that cut where every cutter is touched off again: the spot lies on the supporting face."""
    if placement.touch_off_mm is None:
        return []
    radius_mm = assembly.steps[0].radius_mm
    near = _near(rows, parent, shapely.Point(placement.touch_off_mm), radius_mm, LEAST_OVER_SPOT_MM)
    if near is None:
        return []
    passes, away = near
    within, motion = radius_mm - away, passes.motion[:, 1]
    meets = (within > 0.0) & (np.minimum(passes.ends[:, 2], passes.ends[:, 5]) < LEAST_OVER_SPOT_MM)
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


def _near(
    rows: Floats, parent: NDArray[np.int64], what: shapely.Geometry, reach_mm: float, below_mm: float
) -> tuple[Passes, Floats] | None:
    """The passes of the moves whose tip comes below a height within reach of something, and how far each is away."""
    x0, y0, x1, y1 = (float(v) for v in what.bounds)
    low = np.minimum(rows[:, 2], rows[:, 5]) < below_mm
    kept = low & rows_over(rows, (x0, y0, x1, y1), reach_mm + CHORD_MM)
    if not kept.any():
        return None
    passes = passes_of(rows[kept], parent[kept], Rigid.identity(), 1, 0, 0)
    lines = shapely.linestrings(passes.ends[:, [0, 1, 3, 4]].reshape(-1, 2, 2))
    return passes, shapely.distance(lines, what) - passes.bulge_mm
