"""The step where the cuts of two sides meet on an outer wall, measured from the made walls.

Question  how far apart do the walls that the two sides cut lie, just above and just below the heights where they meet
Frame     piece frame
Units     mm
Arrays    triangles (n, 3, 3); deviations (m,): wood too much +, too little -, along the level
Method    from a point INSIDE_MM inside the drawn wall the way to the nearest air, less INSIDE_MM, is the deviation;
          the step is the deviation above the overlap less the deviation below it, at the same place of a wall
Source    plane geometry
Valid     for deviations within INSIDE_MM either way, on walls that lean the same above and below; the nearest air is
          the wall's own where the wood there is thicker than twice INSIDE_MM
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from witnessmark.job.placement import Placement

from .edges import wall_edges
from .walls import Floats, WallJudge

INSIDE_MM = 1.0
BESIDE_MM = 0.25  # above and below the overlap of the two sides
SAME_PLACE_MM = 2.5  # an edge above and one below this close on the level are one place (edges are 2 mm long)
EDGE_MM = 2.0
SAME_WAY_RATIO = 0.99  # cosine between their normals


@dataclass(frozen=True)
class Step:
    """The greatest step between the sides: where (piece frame), how much; over how many ``places``."""

    place_mm: tuple[float, float, float]
    by_mm: float
    z_from_mm: float
    z_to_mm: float
    places: int


def overlap_of(placements: Iterable[Placement]) -> tuple[float, float] | None:
    """Piece heights between which both sides cut the outer walls (or neither does); None with one side only."""
    ends: dict[str, float] = {}
    for place in placements:
        z_mm = float(place.stand.inverse().apply(np.array([0.0, 0.0, place.through_z_mm]))[2])
        ends[place.up] = z_mm
    if len(ends) < 2 or set(ends) != {"+z", "-z"}:
        return None
    return (min(ends.values()), max(ends.values()))


def step_between(judge: WallJudge, placements: Iterable[Placement]) -> Step | None:
    """The worst step of upright and drafted walls at the meeting of the two sides; None where none can be seen."""
    overlap = overlap_of(placements)
    if overlap is None:
        return None
    below_mm, above_mm = overlap[0] - BESIDE_MM, overlap[1] + BESIDE_MM
    edges = wall_edges(judge.triangles, np.array([below_mm, above_mm]), EDGE_MM)
    middle = (edges.ends_mm[:, :2] + edges.ends_mm[:, 2:]) / 2
    low = edges.level == 0
    if not low.any() or low.all():
        return None
    upper, normal_up, normal_low = middle[~low], edges.normals[~low], edges.normals[low]
    away, nearest = cKDTree(middle[low]).query(upper)
    lower, normal_low = middle[low][nearest], normal_low[nearest]
    across = ((upper - lower) * normal_low).sum(axis=1, keepdims=True)
    beneath = upper - across * normal_low  # on the lower edge's line, just opposite the upper place
    above = level_deviation(judge, upper, normal_up, above_mm)
    below = level_deviation(judge, beneath, normal_low, below_mm)
    same_way = (normal_up * normal_low).sum(axis=1) > SAME_WAY_RATIO
    usable = (away < SAME_PLACE_MM) & same_way & (np.maximum(np.abs(above), np.abs(below)) < INSIDE_MM)
    if not usable.any():
        return None
    step = np.where(usable, np.abs(above - below), -1.0)
    at = int(np.argmax(step))
    place = (float(upper[at, 0]), float(upper[at, 1]), sum(overlap) / 2)
    return Step(place, float(step[at]), overlap[0], overlap[1], int(usable.sum()))


def level_deviation(judge: WallJudge, at_mm: Floats, normals: Floats, z_mm: float | Floats) -> Floats:
    """Wood too much (+) or too little (-) at places (m, 2) of the drawn wall at their heights, along the level."""
    inside = np.column_stack([at_mm - INSIDE_MM * normals, np.broadcast_to(z_mm, len(at_mm))])
    return judge.wood_before(inside) - INSIDE_MM
