"""Parts of the assembly that are not round, as convex pieces for the watch.

Frame     standing frame: the machine's, turned as little as the work lies turned
Units     mm
Arrays    outline (n, 2) about the spindle axis; a piece is (s, 3): outward normals and distances from the axis
Method    an outline that is not convex is cut into triangles; a piece grown by so much has its sides moved out
Source    plane geometry; constrained Delaunay triangulation by shapely (GEOS)
Valid     pieces grown one by one reach at corners farther than the outline grown: on the safe side
Refuses   nothing: the job's checks have seen the outline
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.assembly import Step

Floats = NDArray[np.float64]

CONVEX_RATIO = 1e-6


def pieces_of(outline_mm: Sequence[tuple[float, float]], turn_rad: float) -> list[Floats]:
    """The convex pieces (s, 3) of an outline on the machine, in a frame that lies turned by ``turn_rad`` on it."""
    return [_sides(part) for part in _convex(_turned(outline_mm, turn_rad))]


def axis_places(
    outline_mm: Sequence[tuple[float, float]], turn_rad: float, what: shapely.Polygon
) -> shapely.Geometry:
    """Where the spindle axis stands when the outline meets ``what`` (both in the frame of ``pieces_of``).

    The Minkowski sum of ``what`` and the outline turned round, exact: the hulls of the sums of convex parts.
    """
    sums = []
    for own in _convex(_turned(outline_mm, turn_rad)):
        for other in _convex(what):
            one, two = (np.asarray(shapely.get_coordinates(part)) for part in (other, own))
            sums.append(shapely.MultiPoint((one[:, None] - two[None, :]).reshape(-1, 2)).convex_hull)
    return shapely.union_all(sums)


def _turned(outline_mm: Sequence[tuple[float, float]], turn_rad: float) -> shapely.Polygon:
    cos, sin = math.cos(turn_rad), math.sin(turn_rad)
    return shapely.Polygon(np.array(outline_mm, dtype=np.float64) @ np.array([[cos, -sin], [sin, cos]]))


def _convex(shape: shapely.Polygon) -> list[shapely.Polygon]:
    """The shape itself where it is convex, else triangles."""
    hull = shape.convex_hull
    if hull.area - shape.area <= CONVEX_RATIO * shape.area:
        return [hull]
    return list(shapely.constrained_delaunay_triangles(shape).geoms)


def watched_steps(
    steps: Sequence[Step], grown_mm: Sequence[float], down_mm: Sequence[float], turn_rad: float
) -> tuple[Floats, dict[int, Floats], NDArray[np.int64]]:
    """What the watch takes: rows (k, 3), the shapes of those that are not round, and the step of each row.

    ``grown_mm``, ``down_mm``: how much wider and lower each step is taken.
    """
    rows: list[tuple[float, float, float]] = []
    shapes: dict[int, Floats] = {}
    owner: list[int] = []
    for number, (step, aside, down) in enumerate(zip(steps, grown_mm, down_mm)):
        pieces: list[Floats | None] = [*pieces_of(step.outline_mm, turn_rad)] if step.outline_mm else [None]
        for piece in pieces:
            if piece is not None:
                shapes[len(rows)] = piece + np.array([0.0, 0.0, aside])
            rows.append((step.radius_mm + aside, step.z_from_mm - down, step.z_to_mm))
            owner.append(number)
    return np.array(rows, dtype=np.float64).reshape(-1, 3), shapes, np.array(owner, dtype=np.int64)


def _sides(shape: shapely.Polygon) -> Floats:
    ring = np.asarray(shapely.get_coordinates(shapely.orient_polygons(shape, exterior_cw=False).exterior))
    way = np.diff(ring, axis=0)
    way = way[np.hypot(way[:, 0], way[:, 1]) > 0.0]
    normal = np.column_stack([way[:, 1], -way[:, 0]]) / np.hypot(way[:, 0], way[:, 1])[:, None]
    return np.column_stack([normal, (normal * ring[:-1]).sum(axis=1)])
