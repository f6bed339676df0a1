"""The bodies that boxes are put together from: prisms with rounded edges, domes, balls. Exact meshes, mm."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from ..offsets import loft
from ..rings import Area
from ..solid import Solid
from ..upright import upright
from .parallels import inset

Floats = NDArray[np.float64]
HeightOf = Callable[[Floats, Floats], Floats]

SAG_MM = 0.01  # facets of round edges, domes and balls stray no farther
BEYOND_MM = 1.0  # how far a body that is taken away runs on beyond the face it opens


def prism(area: Area, z_from_mm: float, z_to_mm: float) -> manifold3d.Manifold:
    return upright(area, z_to_mm - z_from_mm, z_from_mm).manifold


def rounded_prism(
    area: Area, z_from_mm: float, z_to_mm: float, foot_mm: float = 0.0, top_mm: float = 0.0
) -> manifold3d.Manifold:
    """A prism whose lower and upper edges are rounded by these radii, outside and in holes alike."""
    whole = prism(area, z_from_mm, z_to_mm)
    if top_mm:
        whole ^= _rounded_above(area, z_from_mm, lambda x, _y: np.full_like(x, z_to_mm), top_mm)
    if foot_mm:
        upside = _rounded_above(area, -z_to_mm, lambda x, _y: np.full_like(x, -z_from_mm), foot_mm)
        whole ^= upside.mirror((0.0, 0.0, 1.0))
    return whole


def domed_prism(
    area: Area, z_from_mm: float, edge_z_mm: float, dome_mm: float, top_mm: float = 0.0
) -> manifold3d.Manifold:
    """A prism under a dome: at the rectangle about it ``edge_z_mm`` high, in the middle ``dome_mm`` more."""
    x0, y0, x1, y1 = area.bounds
    half_x, half_y = (x1 - x0) / 2, (y1 - y0) / 2
    middle_x, middle_y = (x0 + x1) / 2, (y0 + y1) / 2

    def height(x: Floats, y: Floats) -> Floats:
        along, across = 1 - ((x - middle_x) / half_x) ** 2, 1 - ((y - middle_y) / half_y) ** 2
        return np.asarray(edge_z_mm + dome_mm * along * across)

    step_mm = 2 * min(half_x, half_y) * math.sqrt(SAG_MM / 2 / dome_mm)  # it bends by 8 dome / size^2 each way
    highest_mm = edge_z_mm + dome_mm + BEYOND_MM
    under = _beneath(height, (x0, y0, x1, y1), z_from_mm - BEYOND_MM, step_mm)
    whole = prism(area, z_from_mm, highest_mm) ^ under
    if top_mm:
        whole ^= _rounded_above(shapely.segmentize(area, step_mm), z_from_mm, height, top_mm, highest_mm)
    return whole


def ball(x_mm: float, y_mm: float, z_mm: float, radius_mm: float) -> manifold3d.Manifold:
    return manifold3d.Manifold.sphere(radius_mm, _segments(radius_mm)).translate((x_mm, y_mm, z_mm))


def notch(width_mm: float, depth_mm: float, length_mm: float) -> manifold3d.Manifold:
    """A round notch along x from x = 0, its lowest line ``depth_mm`` below z = 0, open upward."""
    radius_mm = (width_mm**2 / 4 + depth_mm**2) / (2 * depth_mm)
    axis_mm = radius_mm - depth_mm
    rod = manifold3d.Manifold.cylinder(length_mm, radius_mm, circular_segments=_segments(radius_mm))
    rod = rod.rotate((0.0, 90.0, 0.0)).translate((0.0, 0.0, axis_mm))
    mouth = manifold3d.Manifold.cube((length_mm, width_mm, 2 * radius_mm)).translate((0.0, -width_mm / 2, 0.0))
    return rod.trim_by_plane((0.0, 0.0, -1.0), 0.0) + mouth


def _segments(radius_mm: float) -> int:
    return 4 * math.ceil(math.pi / 4 / math.acos(1.0 - SAG_MM / radius_mm))


def _rounded_above(
    area: Area, z_from_mm: float, top_of: HeightOf, radius_mm: float, highest_mm: float | None = None
) -> manifold3d.Manifold:
    """Over an area up to a surface, its edge rounded: the surface less what a quarter circle leaves out there.

    Between parallels the surface is ruled. ``highest_mm``: within the rounding it stands up to this height instead.
    """
    count = max(3, math.ceil(math.pi / 4 / math.acos(max(0.0, 1.0 - SAG_MM / radius_mm))))
    turns = np.linspace(0.0, math.pi / 2, count + 1)
    rings = [_rings(inset(area, radius_mm * (1 - math.cos(turn)))) for turn in turns]
    tops = [
        [top_of(ring[:, 0], ring[:, 1]) - radius_mm * (1 - math.sin(turn)) for ring in level]
        for turn, level in zip(turns, rings)
    ]
    mesh = _Mesh()
    floor = [np.full(len(ring), z_from_mm) for ring in rings[0]]
    mesh.cap([ring[::-1] for ring in rings[0]], floor, up=False)
    mesh.wall(rings[0], floor, tops[0])
    for outer, inner in pairwise(zip(rings, tops)):
        holes = [ring[::-1] for ring in inner[0]]
        mesh.cap([*outer[0], *holes], [*outer[1], *(top[::-1] for top in inner[1])])
    inmost = tops[-1]
    if highest_mm is not None:
        inmost = [np.full(len(ring), highest_mm) for ring in rings[-1]]
        mesh.wall(rings[-1], tops[-1], inmost)
    mesh.cap(rings[-1], inmost)
    return mesh.solid()


class _Mesh:
    """Triangles put together from caps and walls that share their corners exactly."""

    def __init__(self) -> None:
        self._corners: list[Floats] = []
        self._faces: list[NDArray[np.int64]] = []
        self._count = 0

    def _put(self, corners: Floats, faces: NDArray[np.int64]) -> None:
        self._corners.append(corners)
        self._faces.append(faces + self._count)
        self._count += len(corners)

    def cap(self, rings: list[Floats], heights: list[Floats], up: bool = True) -> None:
        """Fill rings, outer ones counter-clockwise (``up`` False: clockwise), at a height for every corner."""
        if not rings:
            return
        flat, z = np.concatenate(rings), np.concatenate(heights)
        turned = rings if up else [ring * (-1.0, 1.0) for ring in rings]
        triangles = np.asarray(manifold3d.triangulate(turned, 0.0), dtype=np.int64)
        self._put(np.column_stack([flat, z]), triangles)

    def wall(self, rings: list[Floats], low: list[Floats], high: list[Floats]) -> None:
        """Upright walls along rings, from one height to another."""
        for ring, under, over in zip(rings, low, high):
            n = len(ring)
            k, after = np.arange(n), (np.arange(n) + 1) % n
            corners = np.vstack([np.column_stack([ring, under]), np.column_stack([ring, over])])
            self._put(
                corners, np.vstack([np.column_stack([k, after, n + after]), np.column_stack([k, n + after, n + k])])
            )

    def solid(self) -> manifold3d.Manifold:
        vertices, number = np.unique(np.concatenate(self._corners), axis=0, return_inverse=True)
        return Solid.from_mesh(vertices, number.reshape(-1)[np.concatenate(self._faces)], "rounded edge").manifold


def _rings(area: Area) -> list[Floats]:
    """Outer rings counter-clockwise, holes clockwise, without the closing point."""
    found = []
    for polygon in shapely.get_parts(area):
        oriented = shapely.geometry.polygon.orient(polygon)
        found += [np.asarray(ring.coords)[:-1, :2] for ring in (oriented.exterior, *oriented.interiors)]
    return found


def _beneath(
    height: HeightOf, bounds_mm: tuple[float, float, float, float], z_from_mm: float, step_mm: float
) -> manifold3d.Manifold:
    """Everything under a surface over a little more than a rectangle, in facets of this size."""
    x0, y0, x1, y1 = bounds_mm
    nx, ny = math.ceil((x1 - x0) / step_mm), math.ceil((y1 - y0) / step_mm)
    x = np.linspace(x0, x1, nx + 1)
    sheets = []
    for y in np.linspace(y0, y1, ny + 1):
        # the outermost lines of facets lie just outside, so that no face falls together with the prism's
        wide_x, wide_y = _wider(x, x0, x1), float(_wider(np.array([y]), y0, y1)[0])
        top = height(x, np.full_like(x, y))
        below = np.column_stack([wide_x, np.full_like(x, z_from_mm)])
        sheets.append((wide_y, np.vstack([below, np.column_stack([wide_x, top])[::-1]])))
    # the sheets were stacked along z; a quarter turn about x and a mirror bring (x, z, y) to (x, y, z)
    return loft(sheets, "dome").manifold.rotate((90.0, 0.0, 0.0)).mirror((0.0, 1.0, 0.0))


def _wider(at: Floats, low_mm: float, high_mm: float) -> Floats:
    return np.where(at <= low_mm, low_mm - 1e-3, np.where(at >= high_mm, high_mm + 1e-3, at))
