"""The sweep against mesh booleans of another library (manifold3d): volumes, and heights by vertical rays.

A convex cutter that moves straight sweeps the hull of its two end places: the solids need no help of ours.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from manifold3d import Manifold

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector, surface_height
from witnessmark.field.sweep import remove

GRID = Grid(0.0, 0.0, 0.1, 300, 240)
AROUND, UP = 96, 60
TALL = 40.0


def cutter_points(profile):
    """The cutter's surface as points: its profile turned about the axis, and a rim far above all wood."""
    radii = profile[1] * np.sin(np.linspace(0, np.pi / 2, UP))
    heights = np.array([surface_height(r, profile) for r in radii])
    turn = np.linspace(0, 2 * np.pi, AROUND, endpoint=False)
    r, z = np.append(radii, profile[1]), np.append(heights, TALL)
    x, y = r[:, None] * np.cos(turn), r[:, None] * np.sin(turn)
    return np.stack([x, y, np.broadcast_to(z[:, None], x.shape)], -1).reshape(-1, 3)


def top_heights(solid, grid):
    """Height of the solid's upper surface at each cell centre, by rasterising its upward triangles."""
    mesh = solid.to_mesh()
    triangles = np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)].astype(np.float64)
    top = np.full(grid.shape, -np.inf)
    for a, b, c in triangles:
        area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        if area <= 1e-12:
            continue
        low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
        i0, i1 = np.searchsorted(grid.x_mm, [low[0], high[0]])
        j0, j1 = np.searchsorted(grid.y_mm, [low[1], high[1]])
        if i0 == i1 or j0 == j1:
            continue
        x, y = np.meshgrid(grid.x_mm[i0:i1], grid.y_mm[j0:j1])
        v = ((x - a[0]) * (c[1] - a[1]) - (y - a[1]) * (c[0] - a[0])) / area
        w = ((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])) / area
        inside = (v >= -1e-9) & (w >= -1e-9) & (v + w <= 1 + 1e-9)
        z = a[2] + v * (b[2] - a[2]) + w * (c[2] - a[2])
        part = top[j0:j1, i0:i1]
        part[inside] = np.maximum(part, z)[inside]
    return top


@pytest.mark.parametrize(
    ("kind", "args"),
    [
        ("flat", (6.0,)),
        ("ball", (6.0,)),
        ("bull", (6.0, 1.5)),
        ("v", (8.0, 0.0, 70.0)),
        ("tapered_ball", (6.0, 1.0, 30.0)),
    ],
)
def test_random_programs_agree_with_mesh_booleans(kind, args):
    """Volume removed within 1 %; heights within what a cutter of 96 flats and 60 rings leaves, but for the walls."""
    rng = np.random.default_rng(len(kind))
    profile = profile_vector(kind, *args)
    points = np.clip(np.array([15, 12, -3]) + rng.normal(0, [6, 5, 2], (7, 3)), [5, 5, -7], [25, 19, -0.5])
    points[2, :2] = points[1, :2]  # an upright move among them
    wood = Manifold.cube((30.0, 24.0, 20.0)).translate((0.0, 0.0, -20.0))
    body = cutter_points(profile)
    for a, b in pairwise(points):
        wood = wood - Manifold.hull_points(np.vstack([body + a, body + b]))
    heights = GRID.full(0.0)
    moves = np.hstack([points[:-1], points[1:], np.zeros((6, 3))])
    remove(heights, GRID, moves, profile)
    theirs = 30.0 * 24.0 * 20.0 - wood.volume()
    mine = -heights.sum(dtype=np.float64) * GRID.pitch_mm**2
    assert mine == pytest.approx(theirs, rel=0.01)
    gap = np.abs(top_heights(wood, GRID) - heights)
    assert np.median(gap[heights < 0]) < 1e-3
    assert (gap > 0.02).mean() < 0.01  # walls: a polygon of 96 sides lies up to 0.0016 mm within the circle
