"""Shallow faces that other wood of the piece hides from both sides: the floor and the ceiling of an undercut.

Question  is a hidden shallow face cut into, and is wood left on it
Frame     of the axis that stands upright; triangles (n, 3, 3)
Units     mm
Method    places on the faces under the middles of a grid's cells; beneath each, deeper than the tolerance, must be no
          air, and air must lie within the allowance over it. Places nearer to a wall than that are the wall's
Source    plane geometry
Valid     exact at these places; nothing is said of what lies between them
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.field.drop import top_centre
from witnessmark.field.grid import Grid
from witnessmark.field.threads import in_strips

from .edges import STEEPEST_FLOOR_RATIO
from .nearby import distance_to_any
from .walls import WayToAir, wood_along

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PITCH_MM = 0.4
UNDER_MM = 1e-3
FAR_FROM_WALL_MM = 5.0
BISECTIONS = 12  # of the depth of a fault
DEEPER = 1.0 + 1e-6
DEEP_SHARES = (DEEPER, 2.0, 4.0, 8.0)  # of the tolerance: how deep is looked, so that the depth can be told


@dataclass(frozen=True, eq=False)
class HiddenPlaces:
    """Places (n, 3) on hidden shallow faces, and the outward normals of these (n, 3)."""

    at_mm: Floats
    normals: Floats

    def __len__(self) -> int:
        return len(self.at_mm)


@dataclass(frozen=True, eq=False)
class HiddenFaults:
    """Places that are cut into, and how deep along the normal (n,); told up to 16 tolerances."""

    at_mm: Floats
    normals: Floats
    by_mm: Floats


def hidden_places(triangles: Floats, within_mm: float, also_open: bool = False) -> HiddenPlaces:
    """Places on shallow faces that are neither the piece's top nor its underside, further than ``within_mm`` from
    steep faces; ``also_open``: on the top and the underside too."""
    cross = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(cross, axis=1)
    normals = np.divide(cross, size[:, None], out=np.zeros_like(cross), where=size[:, None] > 0)
    low, high = triangles.reshape(-1, 3).min(axis=0), triangles.reshape(-1, 3).max(axis=0)
    grid = Grid.over(low[0], low[1], high[0], high[1], PITCH_MM)
    at, face = [np.empty((0, 3))], [np.empty(0, dtype=np.int64)]
    for up in (1.0, -1.0):
        rows = np.flatnonzero(up * normals[:, 2] >= STEEPEST_FLOOR_RATIO)
        # a mirror image seen from the other side: its own grid, x and y as they are
        flipped = triangles * np.array([1.0, 1.0, up])
        flipped = np.ascontiguousarray(flipped if up > 0 else flipped[:, ::-1])
        top = np.full(grid.shape, np.inf) if also_open else top_centre(flipped, grid)[0].astype(np.float64)
        found, which = _under(np.ascontiguousarray(flipped[rows]), grid.x_mm, grid.y_mm, top)
        at.append(found * np.array([1.0, 1.0, up]))
        face.append(rows[which])
    places, owner = np.concatenate(at), np.concatenate(face)
    steep = triangles[(np.abs(normals[:, 2]) < STEEPEST_FLOOR_RATIO) & (size > 0)]
    free = distance_to_any(places, steep, FAR_FROM_WALL_MM) > within_mm + UNDER_MM
    return HiddenPlaces(places[free], normals[owner[free]])


def is_hidden(at_mm: Floats, triangles: Floats) -> NDArray[np.bool_]:
    """Whether wood of the piece lies both over and under places (n, 3), (n,)."""
    return is_under(at_mm, triangles, 1) & is_under(at_mm, triangles, -1)


def is_under(at_mm: Floats, triangles: Floats, up: int) -> NDArray[np.bool_]:
    """Whether wood of the piece lies over places (n, 3), (n,), seen with the axis up (1) or down (-1)."""
    covered = np.zeros(len(at_mm), dtype=np.bool_)
    at, corners = np.ascontiguousarray(at_mm), np.ascontiguousarray(triangles)
    in_strips(lambda a, b: _covered(at, corners, float(up), covered, a, b), len(at), strips_each=2)
    return covered


def gouged(places: HiddenPlaces, way_to_air: WayToAir, tolerance_mm: float) -> HiddenFaults:
    """The places that are cut into deeper than the tolerance, along their normals."""
    deep = np.zeros(len(places))
    for share in DEEP_SHARES:
        air = way_to_air(places.at_mm - share * tolerance_mm * places.normals) == 0.0
        deep = np.where(air, share * tolerance_mm, deep)
    faults = np.flatnonzero(deep > 0.0)
    at_mm, normals, air, wood = places.at_mm[faults], places.normals[faults], deep[faults], 2 * deep[faults]
    for _ in range(BISECTIONS):
        middle = (air + wood) / 2
        gone = way_to_air(at_mm - middle[:, None] * normals) == 0.0
        air, wood = np.where(gone, middle, air), np.where(gone, wood, middle)
    return HiddenFaults(at_mm, normals, air)


def left_mm(places: HiddenPlaces, way_to_air: WayToAir, allowance_mm: float) -> Floats:
    """The wood before each place, (n,)."""
    return wood_along(way_to_air, places.at_mm, places.normals, allowance_mm)


@njit(cache=True, error_model="numpy", nogil=True)
def _covered(
    places: Floats, triangles: Floats, up: float, covered: NDArray[np.bool_], from_row: int, to_row: int
) -> None:
    """Whether a ray from each place, along the axis, meets a triangle."""
    for k in range(from_row, to_row):
        x, y, z = places[k, 0], places[k, 1], up * places[k, 2] + UNDER_MM
        for n in range(len(triangles)):
            a, b, c = triangles[n, 0], triangles[n, 1], triangles[n, 2]
            if max(up * a[2], up * b[2], up * c[2]) <= z:
                continue
            twice = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
            if twice == 0.0:
                continue
            u = ((b[0] - x) * (c[1] - y) - (c[0] - x) * (b[1] - y)) / twice
            v = ((c[0] - x) * (a[1] - y) - (a[0] - x) * (c[1] - y)) / twice
            if u < 0.0 or v < 0.0 or u + v > 1.0:
                continue
            if up * (u * a[2] + v * b[2] + (1.0 - u - v) * c[2]) > z:
                covered[k] = True
                break


@njit(cache=True, error_model="numpy")
def _under(triangles: Floats, x: Floats, y: Floats, top: Floats) -> tuple[Floats, Ints]:
    """Places on upward triangles under the cells' middles that lie beneath the top there, and their triangles."""
    pitch_x = x[1] - x[0] if x.size > 1 else 1.0
    pitch_y = y[1] - y[0] if y.size > 1 else 1.0
    room = 64
    at, which = np.empty((room, 3)), np.empty(room, dtype=np.int64)
    count = 0
    for n in range(len(triangles)):
        a, b, c = triangles[n, 0], triangles[n, 1], triangles[n, 2]
        twice = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
        if twice == 0.0:
            continue
        i0 = max(int(np.ceil((min(a[0], b[0], c[0]) - x[0]) / pitch_x)), 0)
        i1 = min(int(np.floor((max(a[0], b[0], c[0]) - x[0]) / pitch_x)), x.size - 1)
        j0 = max(int(np.ceil((min(a[1], b[1], c[1]) - y[0]) / pitch_y)), 0)
        j1 = min(int(np.floor((max(a[1], b[1], c[1]) - y[0]) / pitch_y)), y.size - 1)
        for j in range(j0, j1 + 1):
            for i in range(i0, i1 + 1):
                u = ((b[0] - x[i]) * (c[1] - y[j]) - (c[0] - x[i]) * (b[1] - y[j])) / twice
                v = ((c[0] - x[i]) * (a[1] - y[j]) - (a[0] - x[i]) * (c[1] - y[j])) / twice
                w = 1.0 - u - v
                if u < 0.0 or v < 0.0 or w < 0.0:
                    continue
                z = u * a[2] + v * b[2] + w * c[2]
                if z > top[j, i] - UNDER_MM:
                    continue
                if count == room:
                    room *= 2
                    more, more_which = np.empty((room, 3)), np.empty(room, dtype=np.int64)
                    more[:count], more_which[:count] = at[:count], which[:count]
                    at, which = more, more_which
                at[count, 0], at[count, 1], at[count, 2] = x[i], y[j], z
                which[count] = n
                count += 1
    return at[:count], which[:count]
