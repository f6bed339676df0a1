"""The step where two placements of one side meet on a wall, measured from the made walls.

Question  how far apart do the walls lie that two neighbouring placements cut, on either side of what both of them cut
Frame     piece frame
Units     mm
Method    the seam is the line that the two regions share; the axis goes ``overlap_mm`` beyond it in both placements,
          so that a wall's cut ends where the axis, a radius off the wall, does. There a wall's deviation (wood too
          much +, too little -, along the level, as in proof.meet) just within, where both cut, is held against that
          just beyond, where one does, at several heights, for the radius of every cutter
Source    plane geometry
Valid     as proof.meet; regions that share no straight line (and placements turned by other than quarter turns) are
          not compared
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from scipy.spatial import cKDTree

from witnessmark.job.placement import Placement

from .edges import wall_edges
from .meet import INSIDE_MM, SAME_WAY_RATIO, level_deviation
from .walls import Floats, Ints, WallJudge

HEIGHTS = 12
BESIDE_MM = 0.25  # from the end of the overlap
BAND_MM = 1.5  # as far from there places are looked at
APART = 1e3  # heights are that much farther apart than places are
EDGE_MM = 1.0
SHARED_MM = 1.0  # regions this close meet
FAR_MM = 1e4


@dataclass(frozen=True)
class SeamStep:
    """Two placements of one side, where their walls step the most (piece frame), by how much; ``places`` compared."""

    placements: tuple[str, str]
    place_mm: tuple[float, float, float]
    by_mm: float
    places: int


def seam_steps(
    judge: WallJudge, placements: Sequence[Placement], overlap_mm: float, radii_mm: Sequence[float]
) -> tuple[SeamStep, ...]:
    """The worst step of each pair of placements of one side whose regions share a line; pairs without walls there
    are left out. ``radii_mm``: of the cutters that can finish a wall."""
    found = []
    for one, other in combinations(placements, 2):
        seam = _seam(_region(one), _region(other)) if one.up == other.up else None
        step = None if seam is None else _step(judge, *seam, overlap_mm, radii_mm)
        if step is not None:
            found.append(SeamStep((one.name, other.name), *step))
    return tuple(found)


def _region(placement: Placement) -> Floats:
    """Two corners (2, 2) of what a placement finishes, piece frame; open ends as far as FAR_MM."""
    x0, y0, x1, y1 = np.clip(np.array(placement.region_mm), -FAR_MM, FAR_MM).tolist()
    ends = placement.stand.inverse().apply(np.array([[x0, y0, 0.0], [x1, y1, 0.0]]))[:, :2]
    return np.stack([ends.min(axis=0), ends.max(axis=0)])


def _seam(one: Floats, other: Floats) -> tuple[int, float, float, float] | None:
    """(axis across the seam, where it lies on it, from, to along the other); None where the regions do not meet."""
    for axis in (0, 1):
        along = 1 - axis
        low, high = max(one[0, along], other[0, along]), min(one[1, along], other[1, along])
        for a, b in ((one, other), (other, one)):
            if abs(a[1, axis] - b[0, axis]) <= SHARED_MM and high > low:
                return axis, float(a[1, axis] + b[0, axis]) / 2, float(low), float(high)
    return None


def _step(
    judge: WallJudge,
    axis: int,
    at_mm: float,
    low_mm: float,
    high_mm: float,
    overlap_mm: float,
    radii_mm: Sequence[float],
) -> tuple[tuple[float, float, float], float, int] | None:
    z = judge.triangles[:, :, 2]
    levels = np.linspace(float(z.min()), float(z.max()), HEIGHTS + 2)[1:-1]
    edges = wall_edges(judge.triangles, levels, EDGE_MM)
    middle = (edges.ends_mm[:, :2] + edges.ends_mm[:, 2:]) / 2
    along = middle[:, 1 - axis]
    near = (along >= low_mm) & (along <= high_mm)
    steps, places = [], []
    for way, radius_mm in product((-1.0, 1.0), sorted(set(radii_mm)) or (0.0,)):
        off = middle[:, axis] + radius_mm * edges.normals[:, axis] - at_mm  # where the axis stood at this place
        beyond = way * off - overlap_mm
        beside = near & (np.abs(beyond) >= BESIDE_MM) & (np.abs(beyond) <= BESIDE_MM + BAND_MM)
        outer, inner = np.flatnonzero(beside & (beyond > 0)), np.flatnonzero(beside & (beyond < 0))
        outer, inner = _paired(middle, edges.z_mm, outer, inner)
        same_way = (edges.normals[outer] * edges.normals[inner]).sum(axis=1) > SAME_WAY_RATIO
        outer, inner = outer[same_way], inner[same_way]
        one, other = (level_deviation(judge, middle[k], edges.normals[k], edges.z_mm[k]) for k in (outer, inner))
        usable = np.maximum(np.abs(one), np.abs(other)) < INSIDE_MM
        steps.append(np.abs(one - other)[usable])
        places.append(np.column_stack([middle[outer], edges.z_mm[outer]])[usable])
    step, place = np.concatenate(steps), np.concatenate(places)
    if not len(step):
        return None
    x, y, height = place[np.argmax(step)].tolist()
    return (x, y, height), float(step.max()), len(step)


def _paired(middle: Floats, z_mm: Floats, outer: Ints, inner: Ints) -> tuple[Ints, Ints]:
    """Each outer place and the inner one nearest to it at its height; those with none within reach are left out."""
    if not len(outer) or not len(inner):
        return outer[:0], inner[:0]
    spot = np.column_stack([middle, APART * z_mm])
    away, nearest = cKDTree(spot[inner]).query(spot[outer], distance_upper_bound=2 * (BESIDE_MM + BAND_MM))
    met = np.isfinite(away)
    return outer[met], inner[nearest[met]]
