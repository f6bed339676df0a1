"""Placements: where the blank stands, and what the spindle reaches there."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.frames import standing
from witnessmark.job.placement import Placement, inside_outline, rectangle_outline

LOW, HIGH = np.array([-30.0, -30.0, -4.0]), np.array([440.0, 340.0, 58.0])


def placement(up: str = "-z", shift_mm: tuple[float, float] = (-120.0, 35.0)) -> Placement:
    return Placement(
        name="1",
        up=up,
        stand=standing(up, LOW, HIGH),
        shift_mm=shift_mm,
        support_z_bed_mm=18.0,
        region_mm=(0.0, 0.0, 100.0, 100.0),
        cutters=("flat 6",),
    )


@pytest.mark.parametrize("up", ["+z", "-z", "+x", "-y"])
def test_the_blank_stands_on_the_board(up: str) -> None:
    """In the bed frame the blank's lowest point is the top of the movable board; in the program's it is zero."""
    here = placement(up)
    corners = np.array([[x, y, z] for x in (LOW[0], HIGH[0]) for y in (LOW[1], HIGH[1]) for z in (LOW[2], HIGH[2])])
    on_bed = here.piece_to_bed.apply(corners)
    in_program = here.standing_to_program.apply(here.stand.apply(corners))
    assert on_bed[:, 2].min() == pytest.approx(18.0)
    assert in_program[:, 2].min() == pytest.approx(0.0)
    np.testing.assert_allclose(on_bed[:, :2], in_program[:, :2], atol=1e-12)


@given(st.floats(-300, 300), st.floats(-300, 300), st.floats(0, 20))
def test_the_window_is_the_travel_seen_from_the_work(x_mm: float, y_mm: float, slack_mm: float) -> None:
    """The corners of the window, carried to the bed, are the corners of the travel less the slack."""
    here = placement(shift_mm=(x_mm, y_mm))
    x0, y0, x1, y1 = here.window_mm(300.0, 400.0, slack_mm)
    to_bed = here.standing_to_program
    np.testing.assert_allclose(to_bed.apply([x0, y0, 0.0])[:2], [slack_mm, slack_mm], atol=1e-9)
    np.testing.assert_allclose(to_bed.apply([x1, y1, 0.0])[:2], [300 - slack_mm, 400 - slack_mm], atol=1e-9)


def test_renaming_changes_the_name_only() -> None:
    """A renamed placement stands where it stood."""
    here = placement()
    there = here.named("2 rim up")
    assert there.name == "2 rim up"
    assert there.stand is here.stand
    assert here.name == "1"


@given(st.integers(0, 2**32 - 1), st.integers(3, 9))
def test_inside_an_outline_agrees_with_a_geometry_library(seed: int, corners: int) -> None:
    """For star-shaped rings the even-odd rule gives shapely's answer (the general reference library)."""
    chance = np.random.default_rng(seed)
    angles = np.sort(chance.uniform(0, 2 * np.pi, corners))
    radii = chance.uniform(5, 50, corners)
    ring = tuple(zip((radii * np.cos(angles)).tolist(), (radii * np.sin(angles)).tolist()))
    polygon = shapely.Polygon(ring)
    x_mm, y_mm = chance.uniform(-60, 60, (2, 40))
    if polygon.is_valid:
        clear = shapely.distance(polygon.exterior, shapely.points(x_mm, y_mm)) > 1e-9
        inside = inside_outline(ring, x_mm, y_mm)
        np.testing.assert_array_equal(inside[clear], shapely.contains_xy(polygon, x_mm, y_mm)[clear])


def test_a_rectangles_outline_is_counter_clockwise_and_broadcasts_over_a_grid() -> None:
    """Rows and columns of a grid are tested together; a ring round the rectangle encloses its area once."""
    ring = rectangle_outline((1.0, 2.0, 4.0, 7.0))
    assert shapely.LinearRing(ring).is_ccw
    inside = inside_outline(ring, np.arange(0.5, 6)[None, :], np.arange(0.5, 9)[:, None])
    assert inside.shape == (9, 6)
    assert inside.sum() == 15
