"""Sheets over a cell, connected regions' extents, and covering cells with the least over-cut."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.cover import cover
from witnessmark.field.dilate import lowered_by
from witnessmark.field.grid import Grid
from witnessmark.field.layers import upward_sheets
from witnessmark.field.parts import extents, regions
from witnessmark.field.profile import profile_vector


def triangles_of(solid: manifold3d.Manifold) -> np.ndarray:
    mesh = solid.to_mesh()
    return np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3][np.asarray(mesh.tri_verts)]


def test_shelves_are_counted_where_they_lie_above_one_another() -> None:
    """One sheet over the lower shelf alone, two where the upper one hangs over it, none beside."""
    shelves = manifold3d.Manifold.cube((8, 4, 1)) + manifold3d.Manifold.cube((4, 4, 1)).translate((6, 0, 3))
    sheets = upward_sheets(triangles_of(shelves), Grid(-1.0, 0.0, 1.0, 12, 4))
    assert (sheets == [0, 1, 1, 1, 1, 1, 1, 2, 2, 1, 1, 0]).all()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**31))
def test_convex_solid_has_one_sheet_over_its_shadow(seed: int) -> None:
    """Whatever the mesh, a convex solid is counted once over its shadow and never twice on shared edges."""
    points = np.rint(np.random.default_rng(seed).uniform(0, 12, (14, 3)))
    hull = manifold3d.Manifold.hull_points(points)
    if hull.is_empty():
        return
    sheets = upward_sheets(triangles_of(hull), Grid(-1.5, -1.5, 1.0, 15, 15))
    assert set(np.unique(sheets)) <= {0, 1}
    area_mm2 = hull.project().area()
    assert abs(int(sheets.sum()) - area_mm2) <= 30


def test_extent_is_the_longer_side_and_marks_are_seen() -> None:
    """A bent region's box counts, a single cell has side 0, and a mark belongs to its own region."""
    mask = np.zeros((8, 9), dtype=bool)
    mask[1, 1:6] = mask[1:4, 5] = mask[6, 2] = True
    labels, count = regions(mask)
    marked = np.zeros_like(mask)
    marked[6, 2] = marked[0, 0] = True
    side, touched = extents(labels, count, marked)
    assert side.tolist() == [0, 4, 0]
    assert touched.tolist() == [False, False, True]


def test_cell_in_the_open_is_covered_by_one_tip_and_one_in_a_corner_with_least_overcut() -> None:
    """A lone cell to be cut costs one tip; beside wood that may go, the tip lies on that side."""
    grid = Grid(0.0, 0.0, 1.0, 21, 21)
    left, stay, goal = grid.full(10.0), grid.full(10.0), grid.full(np.inf)
    stay[:, 11:] = 4.0
    goal[10, 11] = 4.0
    profile = profile_vector("flat", 8.0)
    before = left.copy()
    tips = cover(left, stay, goal, grid.full(0.0), grid, profile, 0.0, 1e-4)
    assert np.count_nonzero(np.isfinite(tips)) == 1
    ((row, column),) = np.argwhere(np.isfinite(tips))
    assert tips[row, column] == 4.0
    assert column == 15, "a disc of radius 4 that reaches column 11 from the side that may go"
    assert np.array_equal(left, np.minimum(before, lowered_by(tips, grid, profile)))
    assert (left[:, :11] == 10.0).all()


@pytest.mark.parametrize("kind", ["flat", "ball"])
def test_cells_that_no_allowed_tip_reaches_stay(kind: str) -> None:
    """Where every tip that would do is forbidden nothing is cut; elsewhere every cell comes down to its goal."""
    grid = Grid(0.0, 0.0, 0.5, 40, 30)
    goal = grid.full(np.inf)
    goal[8:20, 5:30] = 3.0
    allowed = grid.full(-np.inf)
    allowed[:, 20:] = 5.0
    left = grid.full(9.0)
    cover(left, grid.full(9.0), goal, allowed, grid, profile_vector(kind, 4.0), grid.reach_mm, 1e-4)
    assert (left[8:20, 5:20] <= 3.0 + 1e-4).all()
    assert (left[8:20, 24:30] == 9.0).all()
