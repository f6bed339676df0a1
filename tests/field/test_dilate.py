"""Dilations of height fields by cutters and by what turns above them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from witnessmark.field.dilate import disc_max, lowered_by, tip_clear_of, tip_over_surface, underside_over, undersides
from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector, surface_height

PROFILES = {
    "flat": profile_vector("flat", 6.0),
    "ball": profile_vector("ball", 6.0),
    "bull": profile_vector("bull", 8.0, 1.5),
    "v": profile_vector("v", 9.0, included_angle_deg=60.0),
    "tapered ball": profile_vector("tapered_ball", 8.0, 1.0, 20.0),
}


def grid_of(heights: np.ndarray, pitch_mm: float) -> Grid:
    return Grid(0.0, 0.0, pitch_mm, heights.shape[1], heights.shape[0])


def rough_heights(seed: int, shape: tuple[int, int], empty_ratio: float = 0.2) -> np.ndarray:
    rng = np.random.default_rng(seed)
    heights = rng.choice([0.0, 5.0, 12.5, 40.0], shape) + rng.uniform(0, 3, shape) * rng.integers(0, 2, shape)
    heights[rng.uniform(size=shape) < empty_ratio] = -np.inf
    return heights.astype(np.float32)


def by_hand(heights: np.ndarray, pitch_mm: float, radius_mm: float, drop) -> np.ndarray:
    """Second implementation: max over all pairs of cells within the radius of heights(q) - drop(distance)."""
    ny, nx = heights.shape
    j, i = np.mgrid[:ny, :nx]
    out = np.full(heights.shape, -np.inf)
    for y in range(ny):
        for x in range(nx):
            d = np.hypot(j - y, i - x) * pitch_mm
            near = d <= radius_mm + 1e-9
            values = [h - drop(r) for h, r in zip(heights[near], d[near])]
            out[y, x] = max(values, default=-np.inf)
    return out


@pytest.mark.parametrize("radius_cells", [0.0, 0.9, 1.0, 1.5, 2.3, 5.0, 7.07, 16.2, 41.0])
def test_flat_disc_agrees_with_scipy(radius_cells: float) -> None:
    """The dilation by a disc equals scipy.ndimage.grey_dilation with the same footprint, bit for bit."""
    heights = rough_heights(3, (57, 83))
    k = int(radius_cells)
    y, x = np.mgrid[-k : k + 1, -k : k + 1]
    footprint = x * x + y * y <= radius_cells**2 + 1e-9
    expected = ndimage.grey_dilation(heights, footprint=footprint, mode="constant", cval=-np.inf)
    assert np.array_equal(disc_max(heights, grid_of(heights, 0.5), radius_cells * 0.5), expected)


def test_disc_wider_than_a_block_of_columns_agrees_with_scipy() -> None:
    """Rows longer than one block of tables are joined without a seam."""
    heights = rough_heights(5, (9, 2300), 0.9)
    y, x = np.mgrid[-6:7, -6:7]
    expected = ndimage.grey_dilation(heights, footprint=x * x + y * y <= 36, mode="constant", cval=-np.inf)
    assert np.array_equal(disc_max(heights, grid_of(heights, 1.0), 6.0), expected)


@pytest.mark.parametrize("name", PROFILES)
def test_curved_cutter_agrees_with_scipy_structure(name: str) -> None:
    """With no allowance sideways, the lowest tip is scipy's grey dilation with structure -b(r)."""
    profile, pitch_mm = PROFILES[name], 0.5
    heights = rough_heights(11, (64, 90), 0.0)
    k = int(profile[1] / pitch_mm + 1e-9)
    y, x = np.mgrid[-k : k + 1, -k : k + 1]
    r = np.hypot(x, y) * pitch_mm
    footprint = r <= profile[1] + 1e-9
    structure = -np.array([[surface_height(min(v, profile[1]), profile) for v in row] for row in r])
    padded = np.pad(heights, k, constant_values=-1e6)
    expected = ndimage.grey_dilation(padded, footprint=footprint, structure=structure, mode="constant", cval=-1e6)
    found = tip_over_surface(heights, grid_of(heights, pitch_mm), profile)
    np.testing.assert_allclose(found, expected[k:-k, k:-k], atol=2e-5)


@pytest.mark.parametrize("name", PROFILES)
def test_grown_and_shrunk_cutters_follow_their_definition(name: str) -> None:
    """Growing reads b at d - g out to R + g; shrinking reads b at d + s in to R - s; both against a double loop."""
    profile, pitch_mm, side_mm = PROFILES[name], 0.8, 0.8 / np.sqrt(2)
    heights = rough_heights(7, (17, 22))
    grid = grid_of(heights, pitch_mm)

    def b(r: float) -> float:
        return surface_height(min(max(r, 0.0), profile[1]), profile)

    grown = by_hand(heights, pitch_mm, profile[1] + side_mm, lambda d: b(d - side_mm))
    np.testing.assert_allclose(tip_over_surface(heights, grid, profile, side_mm), grown, atol=1e-5)
    tips = -heights
    shrunk = -by_hand(heights, pitch_mm, profile[1] - side_mm, lambda d: b(d + side_mm))
    np.testing.assert_allclose(lowered_by(tips, grid, profile, side_mm), shrunk, atol=1e-5)


def test_rigid_steps_follow_their_definition() -> None:
    """Steps give the greatest of their discs lifted by where they start, and the undersides the least."""
    steps = np.array([[3.0, 12.0, 30.0], [10.0, 30.0, 50.0], [16.0, 50.0, 90.0]])
    heights = rough_heights(1, (21, 26))
    grid = grid_of(heights, 1.5)
    expected = np.full(heights.shape, -np.inf)
    for radius_mm, from_mm, _ in steps:
        expected = np.maximum(expected, by_hand(heights, 1.5, radius_mm + 0.4, lambda d, f=from_mm: f))
    np.testing.assert_allclose(tip_clear_of(heights, grid, steps, 0.4), expected, atol=1e-5)
    np.testing.assert_allclose(underside_over(-heights, grid, steps, 0.4), -expected, atol=1e-5)


def test_step_behind_a_wider_lower_one_is_left_out() -> None:
    """A step that starts above a step at least as wide can never meet a field first."""
    steps = np.array([[3.0, 12.0, 30.0], [10.0, 30.0, 50.0], [10.0, 50.0, 60.0], [4.0, 60.0, 70.0]])
    assert undersides(steps) == [(3.0, 12.0), (10.0, 30.0)]


def test_cutter_smaller_than_a_cell_takes_no_wood_for_certain() -> None:
    """If the sideways allowance eats the whole cutter, nothing is surely lowered."""
    tips = np.zeros((5, 5), dtype=np.float32)
    assert np.isposinf(lowered_by(tips, grid_of(tips, 2.0), profile_vector("flat", 2.0), 1.1)).all()


def test_round_cutters_give_mirror_images() -> None:
    """Turning the field over or on its side turns the answer with it."""
    heights = rough_heights(23, (40, 40))
    grid = grid_of(heights, 0.7)
    for profile in PROFILES.values():
        tips = tip_over_surface(heights, grid, profile, grid.reach_mm)
        assert np.array_equal(tip_over_surface(heights[::-1].copy(), grid, profile, grid.reach_mm), tips[::-1])
        assert np.array_equal(tip_over_surface(heights.T.copy(), grid, profile, grid.reach_mm), tips.T)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**31), st.sampled_from(sorted(PROFILES)), st.sampled_from([0.6, 1.0]))
def test_visiting_the_lowest_tips_never_cuts_the_surface(seed: int, name: str, pitch_mm: float) -> None:
    """Cutting at the lowest allowed tips leaves every cell at or above the surface (a closing is extensive)."""
    heights = rough_heights(seed, (24, 31))
    grid = grid_of(heights, pitch_mm)
    tips = tip_over_surface(heights, grid, PROFILES[name], grid.reach_mm)
    left = lowered_by(
        np.where(np.isneginf(tips), np.inf, tips).astype(np.float32), grid, PROFILES[name], grid.reach_mm
    )
    assert (left >= heights - 1e-4).all()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**31), st.floats(0.0, 20.0), st.floats(0.0, 6.0))
def test_wider_steps_never_allow_a_lower_tip(seed: int, radius_mm: float, more_mm: float) -> None:
    """Enlarging a step raises or keeps the lowest tip everywhere."""
    heights = rough_heights(seed, (20, 33))
    grid = grid_of(heights, 1.0)
    narrow = tip_clear_of(heights, grid, np.array([[radius_mm, 20.0, 40.0]]))
    wide = tip_clear_of(heights, grid, np.array([[radius_mm + more_mm, 20.0, 40.0]]))
    assert (wide >= narrow).all()
