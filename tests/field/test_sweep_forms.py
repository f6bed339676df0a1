"""The sweep against closed forms: slots, floors, grooves, cones, slopes, arcs, helices (plane geometry)."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.chords import chords
from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.field.sweep import remove

GRID = Grid(0.0, 0.0, 0.1, 400, 300)
MID_Y = 15.0


def row(start, end):
    return np.array([[*start, *end, 0.0, 0.0, 0.0]])


def cut(profile, moves, grid=GRID, height=0.0):
    heights = grid.full(height)
    remove(heights, grid, moves, profile)
    return heights


def beside():
    """Distance of each row from the line y = MID_Y."""
    return np.abs(GRID.y_mm - MID_Y)


def test_a_slot_has_the_area_of_its_stadium():
    """A flat cutter along a line leaves a slot of 2 R L + pi R^2, to the grid's share of the outline."""
    heights = cut(profile_vector("flat", 6.0), row((10, MID_Y, -2), (30, MID_Y, -2)))
    area = (heights < -1.0).sum() * GRID.pitch_mm**2
    assert set(np.unique(heights)) == {np.float32(-2.0), np.float32(0.0)}
    assert area == pytest.approx(2 * 3 * 20 + math.pi * 9, rel=3e-3)


def test_cells_exactly_under_the_rim_are_cut_on_both_sides():
    """A rim that runs exactly through cell centres takes them, left and right alike, whatever the rounding."""
    grid = Grid(0.0, 0.0, 0.2, 150, 151)  # rows at 0.1, 0.3, ...: 15.1 is a centre, and so are 12.1 and 18.1
    for end in ((30.0, 15.1, -2.0), (30.0, 15.1, -3.0)):
        heights = cut(profile_vector("flat", 6.0), row((5.0, 15.1, -2.0), end), grid)
        touched = np.flatnonzero(heights[:, 75] < 0.0)
        assert grid.y_mm[touched[[0, -1]]] == pytest.approx([12.1, 18.1])


def test_a_pocket_floor_is_flat_and_complete():
    """Rows at a stepover below the diameter leave no wood between them and nothing below the tip."""
    ys = np.arange(8.0, 22.01, 5.0)
    points = [
        p for k, y in enumerate(ys) for p in ([(8, y, -3), (32, y, -3)] if k % 2 == 0 else [(32, y, -3), (8, y, -3)])
    ]
    moves = np.vstack([row(a, b) for a, b in pairwise(points)])
    heights = cut(profile_vector("flat", 6.0), moves)
    floor = heights[(GRID.y_mm > 8) & (GRID.y_mm < 20)][:, (GRID.x_mm > 8) & (GRID.x_mm < 32)]
    assert (floor == np.float32(-3.0)).all()
    assert heights.min() == np.float32(-3.0)


def test_a_level_ball_groove_is_the_circle():
    """z = tip + R - sqrt(R^2 - d^2) across the groove."""
    heights = cut(profile_vector("ball", 6.0), row((5, MID_Y, -2), (35, MID_Y, -2)))
    d = beside()
    circle = -2 + 3 - np.sqrt(np.maximum(9 - d**2, 0))
    expected = np.where((d <= 3) & (circle < 0), circle, 0.0)
    assert np.abs(heights[:, 200] - expected).max() < 1e-5


@settings(max_examples=30, deadline=None)
@given(fall=st.floats(-1.5, 1.5), turn=st.floats(0.0, 6.28))
def test_a_sloping_ball_groove_is_the_tilted_cylinder(fall, turn):
    """A ball's sweep is a cylinder of radius R: (z - z_c) sqrt(1 / (1 + m^2)) = -sqrt(R^2 - d^2) from its axis."""
    centre, half = np.array([20.0, MID_Y]), 12.0
    t = np.array([math.cos(turn), math.sin(turn)])
    a, b = centre - half * t, centre + half * t
    heights = cut(profile_vector("ball", 6.0), row((*a, -20 - half * fall), (*b, -20 + half * fall)), height=50.0)
    x, y = np.meshgrid(GRID.x_mm - centre[0], GRID.y_mm - centre[1])
    along, d = x * t[0] + y * t[1], y * t[0] - x * t[1]
    surface = -20 + 3 + along * fall - np.sqrt(np.maximum(9 - d**2, 0)) * math.sqrt(1 + fall**2)
    inner = (np.abs(d) < 2.9) & (np.abs(along) < half - 3)
    assert np.abs(heights - surface)[inner].max() < 3e-5


def test_a_level_cone_groove_is_the_v():
    """z = tip + d / tan(half angle) across the groove of a V cutter of 90 degrees."""
    heights = cut(profile_vector("v", 12.0, 0.0, 90.0), row((8, MID_Y, -4), (32, MID_Y, -4)))
    d = beside()
    assert np.abs(heights[:, 200] - np.minimum(0.0, np.where(d <= 6, -4 + d, 0.0))).max() < 1e-5


def test_a_sloping_cone_groove_has_the_lesser_slope_of_its_envelope():
    """The envelope of a cone of slope k falling at m is z = ... + |d| sqrt(k^2 - m^2) across (its tangent planes)."""
    k, m = 1.0, 0.4
    heights = cut(profile_vector("v", 12.0, 0.0, 90.0), row((5, MID_Y, -4), (35, MID_Y, -16)))
    column = 200
    axis = -4 - m * (GRID.x_mm[column] - 5)
    d = beside()
    inner = d < 4.0
    expected = axis + d * math.sqrt(k * k - m * m)
    assert np.abs(heights[:, column] - np.minimum(expected, 0))[inner].max() < 1e-5


def test_a_steeper_fall_than_the_cone_leaves_the_rim_or_the_end():
    """Falling steeper than the cone, each cell is lowest at the last instant that it lies under the cutter."""
    heights = cut(profile_vector("v", 12.0, 0.0, 90.0), row((15, MID_Y, 0), (20, MID_Y, -15)), height=20.0)
    on_axis = heights[np.argmin(beside())]
    x = GRID.x_mm
    d = beside().min()
    last = np.minimum(20.0, x + math.sqrt((6 + 2e-6) ** 2 - d * d))
    expected = -3 * (last - 15) + np.hypot(last - x, d)
    under = (last >= 15) & (x <= 26)
    assert np.abs(on_axis - np.where(under, expected, 20.0))[x <= 25.9].max() < 2e-5


def test_a_falling_bull_on_its_axis_is_the_offset_line():
    """On the axis of a slope the corner's circle is tangent to a line: tip + m u, shifted by flat and circle."""
    flat, corner, m = 2.0, 1.0, -0.5
    heights = cut(profile_vector("bull", 6.0, 1.0), row((5, MID_Y, 0), (35, MID_Y, -15)))
    grid_d = beside().min()
    on_axis = heights[np.argmin(beside())]
    x = GRID.x_mm
    # the tangent point of the leading corner circle: a line of slope m at corner sqrt(1 + m^2) below its centre
    expected = m * (x - 5) + m * flat + corner - corner * math.sqrt(1 + m * m)
    middle = (x > 10) & (x < 30)
    assert np.abs(on_axis - expected)[middle].max() < 1e-3 + grid_d**2
    assert (on_axis - expected)[middle].min() > -1e-5


def test_an_upright_move_stamps_the_cutter():
    """Straight down: the profile itself, about the axis; up again changes nothing."""
    for kind, args in (
        ("ball", (6.0,)),
        ("bull", (6.0, 1.0)),
        ("v", (6.0, 0.0, 60.0)),
        ("tapered_ball", (6.0, 1.0, 20.0)),
    ):
        profile = profile_vector(kind, *args)
        heights = cut(profile, np.vstack([row((20, 15, 5), (20, 15, -4)), row((20, 15, -4), (20, 15, 9))]))
        assert heights.min() == pytest.approx(-4.0, abs=0.2)
        line = heights[:, 200]
        r = np.hypot(GRID.y_mm - 15, GRID.x_mm[200] - 20)
        kind_number, radius, round_r, slope, blend, blend_z = profile
        if kind_number == 1:
            b = slope * r
        elif kind_number == 2:
            b = np.where(
                r <= blend, round_r - np.sqrt(np.maximum(round_r**2 - r**2, 0)), blend_z + slope * (r - blend)
            )
        else:
            b = round_r - np.sqrt(np.maximum(round_r**2 - np.maximum(r - radius + round_r, 0) ** 2, 0))
        expected = np.where(r <= radius, np.minimum(0.0, -4 + b), 0.0)
        assert np.abs(line - expected)[np.abs(r - radius) > 1e-4].max() < 2e-5


def test_a_level_arc_is_the_ring_and_its_ends():
    """Half a turn of a flat cutter: pi rho 2 R of ring and a disc's worth of ends; all at the tip's height."""
    arc = np.array([[30.0, 15.0, -2.0, 10.0, 15.0, -2.0, 20.0, 15.0, 1.0]])
    heights = cut(profile_vector("flat", 4.0), arc)
    area = (heights < -1).sum() * GRID.pitch_mm**2
    assert area == pytest.approx(math.pi * 10 * 4 + math.pi * 4, rel=3e-3)
    x, y = np.meshgrid(GRID.x_mm - 20, GRID.y_mm - 15)
    below = heights[(y < -2.01) & (np.hypot(x, y) < 20)]
    assert (below == 0.0).all()


@pytest.mark.parametrize("kind", ["flat", "ball", "bull", "v", "tapered_ball"])
@pytest.mark.parametrize("way", [1.0, 2.0])
@pytest.mark.parametrize("sweep_deg", [20.0, 180.0, 300.0, 360.0])
def test_arcs_are_the_limit_of_fine_chords(kind, way, sweep_deg):
    """Arc and chords of 1e-5 mm sagitta agree to what 1e-5 mm sideways makes, away from the rim."""
    grid = Grid(0.0, 0.0, 0.4, 100, 75)
    profile = profile_vector(kind, 6.0, 1.0, 40.0)
    begin, sense = 0.7, 1.0 if way == 1.0 else -1.0
    finish = begin + sense * math.radians(sweep_deg)
    start = [20 + 9 * math.cos(begin), 15 + 9 * math.sin(begin), -2.0]
    end = start if sweep_deg == 360 else [20 + 9 * math.cos(finish), 15 + 9 * math.sin(finish), -2.0]
    arc = np.array([[*start, *end, 20.0, 15.0, way]])
    fine, _ = chords([start], [end], [[20.0, 15.0, 0.0]], np.array([17]), np.array([way == 1.0]), np.array([0]), 1e-5)
    one, two = cut(profile, arc, grid), cut(profile, fine, grid)
    differ = np.abs(one - two) > 1e-3
    assert differ.sum() <= 2  # a cell within 1e-5 mm of the rim may fall on either side
    assert (one < -0.1).sum() > 30


def test_a_helix_of_chords_bores_its_hole():
    """Down a helix and once round level: a hole of radius rho + R with a flat floor, a core left in the middle."""
    start, bottom, centre = [[22.5, 15.0, 0.0]], [[22.5, 15.0, -6.0]], [[20.0, 15.0, 0.0]]
    down, _ = chords(start, bottom, centre, np.array([17]), np.array([True]), np.array([2]))
    level = np.array([[22.5, 15.0, -6.0, 22.5, 15.0, -6.0, 20.0, 15.0, 1.0]])
    heights = cut(profile_vector("flat", 4.0), np.vstack([down, level]))
    r = np.hypot(*np.meshgrid(GRID.x_mm - 20, GRID.y_mm - 15))
    assert (heights[(r < 4.495) & (r > 0.505)] == np.float32(-6.0)).all()
    assert (heights[r > 4.51] == 0.0).all()
    assert (heights[r < 0.49] == 0.0).all()


def test_wood_that_is_not_there_stays_away():
    """Cells without wood (-inf) stay so, and no cell ever rises."""
    heights = GRID.full(0.0)
    heights[:, 150:] = -np.inf
    before = heights.copy()
    remove(heights, GRID, row((5, 15, -2), (35, 15, -4)), profile_vector("ball", 6.0))
    assert np.isneginf(heights[:, 150:]).all()
    assert (heights <= before).all()


def test_bad_input_is_refused():
    """Wrong type, wrong shape, a place that is not a number, an arc that climbs: named, and nothing is cut."""
    flat = profile_vector("flat", 6.0)
    good = row((5, 15, -2), (35, 15, -4))
    climbing = np.array([[30.0, 15.0, -2.0, 10.0, 15.0, -4.0, 20.0, 15.0, 1.0]])
    for heights, moves, words in (
        (GRID.full(0.0).astype(np.float64), good, "float32"),
        (np.zeros((3, 3), dtype=np.float32), good, "shape"),
        (GRID.full(0.0), good[:, :8], r"\(n, 9\)"),
        (GRID.full(0.0), good * np.nan, "number"),
        (GRID.full(0.0), climbing, "level"),
    ):
        with pytest.raises(ValueError, match=words):
            remove(heights, GRID, moves, flat)
