"""Areas closed by a disc, against the plain way of growing and shrinking them."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.shapes.closing import closed, fits


def ring(x, y, radius, corners):
    turn = np.linspace(0.0, 2 * np.pi, corners, endpoint=False)
    return shapely.Polygon(np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)]))


def plainly(area, radius):
    return area.buffer(radius, quad_segs=48).buffer(-radius, quad_segs=48)


@given(
    st.sampled_from([3, 7, 64, 200]),
    st.floats(0.5, 6.0),
    st.sampled_from([0.3, 0.8, 0.97, 1.05, 1.3, 3.0]),
    st.floats(0.0, 3.0),
)
def test_holes_of_any_size_are_closed_as_by_growing_and_shrinking(corners, radius, ratio, aside):
    """A round hole (or one of few corners), a slot beside it, a notch from outside: the same area to the chords."""
    hole = ring(aside, 0.0, ratio * radius, corners)
    slot = shapely.LineString([(-15.0, 30.0), (15.0, 30.0)]).buffer(0.4 * radius)
    notch = shapely.box(30.0, -0.7 * radius, 60.0, 0.7 * radius)
    area = shapely.box(-50.0, -50.0, 50.0, 50.0) - hole - slot - notch
    found = closed(area, radius, 48)
    assert shapely.symmetric_difference(found, plainly(area, radius)).area < 0.02 * radius
    assert found.is_valid


@given(st.sampled_from([4, 9, 150, 193]), st.floats(1.0, 5.0), st.floats(-0.2, 0.2), st.floats(0.5, 2.0))
def test_a_disc_fits_where_shrinking_leaves_something(corners, radius, less, wide):
    hole = shapely.affinity.scale(ring(0.0, 0.0, radius, corners), wide, 1.0)
    inside = shapely.maximum_inscribed_circle(hole, 1e-4).length
    if abs(inside - (radius - less)) > 0.003:
        assert fits(hole, radius - less) == (inside > radius - less)


def test_an_area_with_no_holes_and_one_that_is_filled():
    assert closed(shapely.box(0, 0, 9, 9), 2.0, 48).area == pytest.approx(81.0, abs=1e-3)
    tube = ring(0, 0, 5.0, 200) - ring(0, 0, 2.0, 200)
    assert closed(tube, 2.5, 48).area == pytest.approx(ring(0, 0, 5.0, 200).area, rel=1e-4)
