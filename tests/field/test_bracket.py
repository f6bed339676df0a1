"""The bracket of a made surface against a wanted one: nothing sampled between the cells' middles lies outside it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_sweep import move_surface
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

from witnessmark.field.bracket import narrow, widest
from witnessmark.field.drop import top_centre
from witnessmark.field.facets import facets_over, touched
from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector

GRID = Grid(0.0, 0.0, 0.4, 30, 26)
TOP_MM = 6.0
PROFILES = {
    "flat": profile_vector("flat", 3.0),
    "ball": profile_vector("ball", 3.0),
    "bull": profile_vector("bull", 3.0, 0.6),
    "v": profile_vector("v", 3.0, 0.0, 90.0),
    "drill": profile_vector("drill", 3.0, 0.0, 118.0),
    "tapered ball": profile_vector("tapered_ball", 3.0, 0.5, 40.0),
}


def wanted(rng):
    """A surface of some forty shallow faces over the grid and beyond: triangles, and its height anywhere."""
    spots = np.vstack([rng.uniform([-1, -1], [13, 11.4], (20, 2)), [[-2, -2], [14, -2], [-2, 12.4], [14, 12.4]]])
    slope, phase = rng.uniform(-0.2, 0.2, 2), rng.uniform(0, 6, 2)
    heights = 2.0 + spots @ slope + 0.5 * np.sin(spots[:, 0] / 1.5 + phase[0]) * np.cos(spots[:, 1] / 1.5 + phase[1])
    mesh = Delaunay(spots)
    corners = np.column_stack([spots, heights])[mesh.simplices]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    turned = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0] < 0
    corners[turned] = corners[turned][:, ::-1]
    return corners, LinearNDInterpolator(mesh, heights)


def chain(rng, count):
    points = rng.uniform([-1, -1, 0.0], [13, 11.4, 5.0], (count + 1, 3))
    points[1, :2] = points[0, :2]  # upright
    points[3, 2] = points[2, 2]  # level
    return np.hstack([points[:-1], points[1:]])


def made_at(lines, profile, x, y):
    least = np.full(x.shape, TOP_MM)
    for line in lines:
        np.minimum(least, move_surface(np.r_[line, 0, 0, 0], x, y, profile, slack=0.0), out=least)
    return least


def bounds(lines, profile, triangles, grid=GRID):
    top, _ = top_centre(triangles, grid)
    facets = facets_over(triangles, top, grid)
    least, most = widest(facets, TOP_MM)
    everywhere = np.ones(grid.shape, dtype=bool)
    narrow(least, most, facets, everywhere, lines, np.zeros(len(lines)), profile, grid)
    return least, most


@settings(max_examples=5, deadline=None)
@given(seed=st.integers(0, 10**6), kind=st.sampled_from(sorted(PROFILES)))
def test_dense_sampling_of_random_sweeps_never_leaves_the_bracket(seed, kind):
    """25 places in every cell, its edges among them: made minus wanted is within the cell's bounds."""
    rng = np.random.default_rng(seed)
    triangles, height = wanted(rng)
    lines = chain(rng, 12)
    least, most = bounds(lines, PROFILES[kind], triangles)
    assert (least <= most).all()
    share = np.linspace(0.0, 1.0, 5)
    for v in share:
        for u in share:
            x, y = np.meshgrid(GRID.x_mm + (u - 0.5) * 0.4, GRID.y_mm + (v - 0.5) * 0.4)
            by = made_at(lines, PROFILES[kind], x, y) - height(x, y)
            assert (by >= least - 1e-7).all()
            assert (by <= most + 1e-7).all()


@settings(max_examples=4, deadline=None)
@given(seed=st.integers(0, 10**6), kind=st.sampled_from(sorted(PROFILES)))
def test_the_way_may_run_beside_its_chords_by_the_bulge(seed, kind):
    """Level lines moved bodily by up to the bulge leave surfaces within the same bounds."""
    rng = np.random.default_rng(seed)
    triangles, height = wanted(rng)
    lines = chain(rng, 8)
    lines[:, 5] = lines[:, 2]
    bulge = np.full(len(lines), 0.05)
    top, _ = top_centre(triangles, GRID)
    facets = facets_over(triangles, top, GRID)
    least, most = widest(facets, TOP_MM)
    narrow(least, most, facets, np.ones(GRID.shape, dtype=bool), lines, bulge, PROFILES[kind], GRID)
    turn = rng.uniform(0, 2 * np.pi, len(lines))
    aside = 0.05 * np.column_stack([np.cos(turn), np.sin(turn), 0 * turn])
    moved = lines + np.hstack([aside, aside])
    for u, v in rng.uniform(-0.5, 0.5, (25, 2)):
        x, y = np.meshgrid(GRID.x_mm + u * 0.4, GRID.y_mm + v * 0.4)
        by = made_at(moved, PROFILES[kind], x, y) - height(x, y)
        assert (by >= least - 1e-7).all()
        assert (by <= most + 1e-7).all()


@pytest.mark.parametrize(("pitch", "within"), [(0.4, 0.06), (0.2, 0.015), (0.1, 0.004)])
def test_rows_that_touch_a_slope_are_known_to_second_order(pitch, within):
    """A ball's rows down a slope of 30 degrees, 0.3 mm apart: along them the bounds are of second order.

    The ridge is that of one row's round carried half a pitch beyond it; nothing lies deeper than ``within``.
    """
    triangles = np.array(
        [[[-5, -5, -5], [25, -5, 25], [25, 25, 25]], [[-5, -5, -5], [25, 25, 25], [-5, 25, -5]]], float
    )
    triangles[:, :, 2] *= np.tan(np.radians(30.0))
    ball = PROFILES["ball"]
    y = np.arange(-3.0, 14.0, 0.3)
    x = np.array([-3.0, 15.0])
    tip = x * np.tan(np.radians(30.0)) + 1.5 / np.cos(np.radians(30.0)) - 1.5
    lines = np.array([[x[0], v, tip[0], x[1], v, tip[1]] for v in y])
    grid = Grid(0.0, 0.0, pitch, int(6 / pitch), int(6 / pitch))
    least, most = bounds(lines, ball, triangles, grid)
    ridge = (1.5 - np.sqrt(1.5**2 - (0.15 + pitch / 2) ** 2)) / np.cos(np.radians(30.0))
    assert least.min() > -within
    assert most.max() < ridge + within


def test_a_face_that_touches_a_cell_in_a_corner_counts_there_and_nowhere_else():
    """A small triangle about one corner of the grid's cells lies over those four cells."""
    about = np.array([[[3.99, 4.0, 1.0], [4.02, 3.99, 1.0], [4.0, 4.02, 1.0]]])
    assert np.argwhere(touched(about, GRID)).tolist() == [[9, 9], [9, 10], [10, 9], [10, 10]]
    upright = np.array([[[2.1, 4.1, 1.0], [2.1, 5.0, 1.0], [2.1, 5.0, 3.0]]])
    assert np.argwhere(touched(upright, GRID)).tolist() == [[10, 5], [11, 5], [12, 5]]
