"""Which faces a seam would cross: on a show face it is seen, on a mating one it is felt, on a hidden one neither.

Only solids whose faces have names (boxes of the tool's own making) tell; for all others every place costs the same.
Heights near a glue line cost as much as a seam all round on a show face: step and line together are seen twice.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from witnessmark.shapes.solid import Solid

COST_RATIO = {"mating": 3.0, "show": 2.0, "hidden": 0.0}  # of a mm of seam (our own choice)
NEAR_GLUE_MM = 1.5
SAME_RATIO = 0.02


def crossing_mm(piece: Solid, axis: int, at_mm: float) -> dict[str, float]:
    """How much of the surface of each role a plane across ``axis`` crosses, mm; {} where no face has a name."""
    faces, number = piece.faces_named
    if not faces:
        return {}
    off = piece.triangles[:, :, axis] - at_mm
    cut = (off.min(axis=1) < 0.0) & (off.max(axis=1) > 0.0)
    corner, off, number = piece.triangles[cut], off[cut], number[cut]
    ends = np.zeros((len(corner), 2, 3))
    found = np.zeros(len(corner), dtype=np.int64)
    for one, other in ((0, 1), (1, 2), (2, 0)):
        between = (off[:, one] < 0.0) != (off[:, other] < 0.0)
        rows = np.flatnonzero(between & (found < 2))
        share = off[rows, one] / (off[rows, one] - off[rows, other])
        ends[rows, found[rows]] = corner[rows, one] + share[:, None] * (corner[rows, other] - corner[rows, one])
        found[rows] += 1
    length_mm = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    told: dict[str, float] = {face.role: 0.0 for face in faces}
    for k, face in enumerate(faces):
        told[face.role] += float(length_mm[number == k].sum())
    return told


def shown_mm(piece: Solid, z_mm: float) -> float:
    """How much of a line at a height is seen: on show faces, or all round the outside where no face has a name."""
    told = crossing_mm(piece, 2, z_mm)
    if told:
        return told.get("show", 0.0)
    return float(sum(part.exterior.length for part in shapely.get_parts(piece.section(z_mm))))


def seam_cost_mm(piece: Solid, axis: int, at_mm: float) -> float:
    """Millimetres of seam, each weighed by the role of the face it crosses."""
    return sum(COST_RATIO[role] * length for role, length in crossing_mm(piece, axis, at_mm).items())


def cheapest_first(piece: Solid, heights_mm: Sequence[float], glue_lines_mm: Sequence[float]) -> list[float]:
    """Meeting heights (piece frame), those whose seam is seen least first; as they were where nothing tells."""
    if not piece.faces_named[0] and not glue_lines_mm:
        return list(heights_mm)
    low, high = piece.bounds_mm
    all_round_mm = 2.0 * COST_RATIO["show"] * float((high - low)[:2].sum())

    def cost(z_mm: float) -> float:
        if min(abs(z_mm - low[2]), abs(z_mm - high[2])) < 1e-3:
            return 0.0  # at an edge there is no seam to see
        on_glue = any(abs(z_mm - line_mm) < NEAR_GLUE_MM for line_mm in glue_lines_mm)
        return seam_cost_mm(piece, 2, z_mm) + (all_round_mm if on_glue else 0.0)

    costs = [cost(z_mm) for z_mm in heights_mm]
    step_mm = SAME_RATIO * all_round_mm  # what differs by less is the same
    order = sorted(range(len(costs)), key=lambda k: (round(costs[k] / step_mm), k))
    return [heights_mm[k] for k in order]


def least_seen(piece: Solid, axis: int, low_mm: float, high_mm: float, count: int = 9) -> float:
    """The place between two where a seam across ``axis`` is seen least; the middle where nothing tells."""
    middle = (low_mm + high_mm) / 2
    if not piece.faces_named[0] or high_mm <= low_mm:
        return middle
    places = sorted(np.linspace(low_mm, high_mm, count).tolist(), key=lambda at: abs(at - middle))
    costs = [seam_cost_mm(piece, axis, at) for at in places]
    return float(places[costs.index(min(costs))]) if min(costs) < (1 - 5 * SAME_RATIO) * costs[0] else middle
