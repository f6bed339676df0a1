"""How far places are from the nearest of many triangles.

Question  is a place on a floor so near a wall that what happens there is the wall's business
Frame     any; the same for places and triangles
Units     mm
Arrays    points (n, 3), triangles (m, 3, 3), distance (n,)
Method    boxes first, then the distance to the triangle's plane where the foot lies inside it, or to its sides
Source    plane geometry
Valid     exact to float64
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.field.threads import in_strips

Floats = NDArray[np.float64]


def distance_to_any(points: Floats, triangles: Floats, most_mm: float) -> Floats:
    """Distance from each point (n, 3) to the nearest of the triangles (m, 3, 3), looked for up to ``most_mm``."""
    distance = np.full(len(points), most_mm)
    if len(points) and len(triangles):
        points = np.ascontiguousarray(points, dtype=np.float64)
        low, high = triangles.min(axis=1), triangles.max(axis=1)
        corners = np.ascontiguousarray(triangles, dtype=np.float64)
        in_strips(lambda a, b: _nearest(points, corners, low, high, distance, a, b), len(points), strips_each=2)
    return distance


@njit(cache=True, error_model="numpy", nogil=True)
def _nearest(
    points: Floats, triangles: Floats, low: Floats, high: Floats, distance: Floats, first: int, last: int
) -> None:
    for i in range(first, last):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        best = distance[i]
        for j in range(len(triangles)):
            outside = max(low[j, 0] - x, x - high[j, 0], low[j, 1] - y, y - high[j, 1], low[j, 2] - z, z - high[j, 2])
            if outside < best:
                best = min(best, _distance(points[i], triangles[j]))
        distance[i] = best


@njit(cache=True, error_model="numpy")
def _to_side(p: Floats, a: Floats, b: Floats) -> float:
    d = b - a
    length2 = d[0] * d[0] + d[1] * d[1] + d[2] * d[2]
    t = 0.0
    if length2 > 0.0:
        t = min(max(((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1] + (p[2] - a[2]) * d[2]) / length2, 0.0), 1.0)
    ex, ey, ez = a[0] + t * d[0] - p[0], a[1] + t * d[1] - p[1], a[2] + t * d[2] - p[2]
    return math.sqrt(ex * ex + ey * ey + ez * ez)


@njit(cache=True, error_model="numpy")
def _cross(u: Floats, v: Floats) -> Floats:
    return np.array([u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]])


@njit(cache=True, error_model="numpy")
def _distance(p: Floats, t: Floats) -> float:
    normal = _cross(t[1] - t[0], t[2] - t[0])
    length = math.sqrt(normal[0] ** 2 + normal[1] ** 2 + normal[2] ** 2)
    if length > 0.0:
        inside = True
        for i in range(3):
            side = _cross(normal, t[(i + 1) % 3] - t[i])
            d = p - t[i]
            inside = inside and side[0] * d[0] + side[1] * d[1] + side[2] * d[2] >= 0.0
        if inside:
            d = p - t[0]
            return abs(normal[0] * d[0] + normal[1] * d[1] + normal[2] * d[2]) / length
    return min(_to_side(p, t[0], t[1]), _to_side(p, t[1], t[2]), _to_side(p, t[2], t[0]))
