"""The top surface dropped onto a grid."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.drop import top_bounds, top_centre
from witnessmark.field.grid import Grid


def triangles_of(solid: manifold3d.Manifold) -> np.ndarray:
    mesh = solid.to_mesh()
    return np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3][np.asarray(mesh.tri_verts)]


def cube(x: float, y: float, z: float, dx: float, dy: float, dz: float) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube((dx, dy, dz)).translate((x, y, z))


def tops_at(triangles: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Second implementation: the top at points by barycentric coordinates against every triangle."""
    top = np.full(x.shape, -np.inf)
    for a, b, c in triangles:
        twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        if twice <= 1e-12:
            continue
        u = ((b[0] - x) * (c[1] - y) - (b[1] - y) * (c[0] - x)) / twice
        v = ((c[0] - x) * (a[1] - y) - (c[1] - y) * (a[0] - x)) / twice
        w = 1 - u - v
        inside = (u >= -1e-12) & (v >= -1e-12) & (w >= -1e-12)
        top = np.where(inside, np.maximum(top, u * a[2] + v * b[2] + w * c[2]), top)
    return top


def test_box_fills_exactly_its_own_cells() -> None:
    """A box whose sides lie on cell edges covers those cells and no neighbour."""
    grid = Grid(-2.0, -2.0, 0.5, 48, 40)
    lowest, highest = top_bounds(triangles_of(cube(0, 0, 0, 20, 16, 10)), grid)
    inside = np.zeros(grid.shape, dtype=bool)
    inside[4:36, 4:44] = True
    assert np.array_equal(highest == 10.0, inside)
    assert np.array_equal(lowest == 10.0, inside)
    assert np.all(np.isneginf(highest[~inside]))


def test_cell_cut_by_the_silhouette_has_no_lower_bound() -> None:
    """Where the side of a box runs through a cell, the upper bound is its top and the lower bound is nothing."""
    grid = Grid(0.0, 0.0, 1.0, 6, 4)
    lowest, highest = top_bounds(triangles_of(cube(1.3, 0, 0, 10, 4, 7)), grid)
    assert np.isneginf(highest[:, 0]).all()
    assert (highest[:, 1] == 7.0).all()
    assert np.isneginf(lowest[:, 1]).all()
    assert (lowest[:, 2:] == 7.0).all()


def test_step_inside_a_cell_is_bracketed_by_its_two_heights() -> None:
    """A wall between two levels gives its cells the lower level below and the upper level above."""
    solid = cube(0, 0, 0, 8, 4, 3) + cube(0, 0, 0, 3.4, 4, 9)
    lowest, highest = top_bounds(triangles_of(solid), Grid(0.0, 0.0, 1.0, 8, 4))
    assert (lowest[:, 3] == 3.0).all()
    assert (highest[:, 3] == 9.0).all()
    assert (lowest[:, :3] == 9.0).all()
    assert (highest[:, 4:] == 3.0).all()


def test_slope_is_bounded_by_its_values_at_the_cells_corners() -> None:
    """On a plane z = 2 + x / 4 - y / 8 both bounds are those at the cell's corners, to float32 rounding."""
    corners = [(x, y, z) for x in (0, 8) for y in (0, 8) for z in (0.0, 2 + x / 4 - y / 8)]
    triangles = triangles_of(manifold3d.Manifold.hull_points(corners))
    grid = Grid(0.0, 0.0, 0.5, 16, 16)
    lowest, highest = top_bounds(triangles, grid)
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    middle = 2 + x / 4 - y / 8
    np.testing.assert_allclose(highest, middle + 0.25 * 0.25 + 0.25 / 8, atol=2e-6)
    np.testing.assert_allclose(lowest, middle - 0.25 * 0.25 - 0.25 / 8, atol=2e-6)


def test_overhang_does_not_hide_a_gap_of_equal_area() -> None:
    """Two shelves, one above the other, that leave as much of a cell bare as they cover twice: not covered."""
    solid = cube(0, 0, 0, 2.5, 4, 1) + cube(0, 0, 3, 2.5, 4, 1)
    lowest, highest = top_bounds(triangles_of(solid), Grid(0.0, 0.0, 1.0, 4, 4))
    assert np.isneginf(lowest[:, 2]).all()
    assert (highest[:, 2] == 4.0).all()
    assert (lowest[:, :2] == 4.0).all(), "the shelf beneath does not lower the bound"


@pytest.mark.parametrize("sides", [((0.25, 0.75),), ((0.0, 0.5),), ((0.1, 0.4), (0.6, 0.8))])
def test_stacked_fins_thinner_than_a_cell_do_not_pass_for_a_covered_cell(
    sides: tuple[tuple[float, float], ...],
) -> None:
    """Fins above one another whose areas add up to the cell's leave it bare in part: no lower bound."""
    solid = manifold3d.Manifold()
    for k in range(round(1 / sum(b - a for a, b in sides))):
        for a, b in sides:
            solid += cube(a, 0, 3 * k, b - a, 1, 1)
    lowest, highest = top_bounds(triangles_of(solid), Grid(0.0, 0.0, 1.0, 1, 1))
    assert np.isneginf(lowest[0, 0])
    assert highest[0, 0] == solid.bounding_box()[5]


def test_ball_is_bracketed_and_its_centres_are_exact() -> None:
    """For a fine ball the heights at the centres agree with the closed form and lie within the bounds."""
    radius_mm = 20.0
    solid = manifold3d.Manifold.sphere(radius_mm, 720)
    grid = Grid.over(-21, -21, 21, 21, 0.7)
    lowest, highest = top_bounds(triangles_of(solid), grid)
    top, hit = top_centre(triangles_of(solid), grid)
    r = np.hypot(*np.meshgrid(grid.x_mm, grid.y_mm))
    core = r < 0.8 * radius_mm
    # facets of this ball are up to 1.7 times as long as a chord of 1/720 turn; z is 1 / 0.6 of the normal distance
    inward_mm = radius_mm * (1 - np.cos(1.7 * np.pi / 720)) / 0.6
    np.testing.assert_allclose(top[core], np.sqrt(radius_mm**2 - r[core] ** 2), atol=inward_mm)
    assert np.array_equal(hit >= 0, np.isfinite(top))
    assert (lowest <= top + 1e-5).all()
    assert (highest >= top - 1e-5).all()


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([0.3, 0.8, 2.7]))
def test_bounds_hold_at_every_sampled_point(seed: int, pitch_mm: float) -> None:
    """For random solids no sampled point of the top lies outside the bounds of its cell."""
    rng = np.random.default_rng(seed)
    hull = manifold3d.Manifold.hull_points(rng.uniform(0, 9, (12, 3)))
    other = manifold3d.Manifold.hull_points(rng.uniform(2, 12, (8, 3)))
    solid = [hull + other, hull - other, hull + other.translate((5, 0, 7))][seed % 3]
    triangles = triangles_of(solid)
    grid = Grid.over(-1, -1, 18, 13, pitch_mm)
    lowest, highest = top_bounds(triangles, grid)
    x, y = rng.uniform(-1, 18, 4000), rng.uniform(-1, 13, 4000)
    i = ((x - grid.x0_mm) / pitch_mm).astype(int)
    j = ((y - grid.y0_mm) / pitch_mm).astype(int)
    top = tops_at(triangles, x, y)
    assert (top <= highest[j, i] + 1e-4).all()
    assert (top >= lowest[j, i] - 1e-4).all()
    centre, _ = top_centre(triangles, grid)
    gx, gy = np.meshgrid(grid.x_mm, grid.y_mm)
    with np.errstate(invalid="ignore"):
        differ = ~((centre == tops_at(triangles, gx, gy)) | (np.abs(centre - tops_at(triangles, gx, gy)) < 1e-4))
    assert not differ.any()


@pytest.mark.parametrize("turn_deg", [0.0, 31.0])
def test_upper_bound_is_attained_within_the_cell(turn_deg: float) -> None:
    """The upper bound is no looser than the greatest of a dense sample of the cell allows."""
    solid = manifold3d.Manifold.cylinder(10, 6, 2, 40).rotate((20, 0, turn_deg))
    triangles = triangles_of(solid)
    grid = Grid.over(-8, -8, 8, 12, 1.0)
    _, highest = top_bounds(triangles, grid)
    n = 24
    fine = Grid(grid.x0_mm, grid.y0_mm, grid.pitch_mm / n, grid.nx * n, grid.ny * n)
    top, _ = top_centre(triangles, fine)
    dense = top.reshape(grid.ny, n, grid.nx, n).max(axis=(1, 3))
    slope_reach_mm = 6.0 / n  # dz/dx stays under about 5 on these faces save the upright ones
    solidly = np.isfinite(dense)
    assert (highest[solidly] >= dense[solidly] - 1e-5).all()
    assert np.quantile(highest[solidly] - dense[solidly], 0.9) < slope_reach_mm
