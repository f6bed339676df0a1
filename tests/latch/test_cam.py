"""Cams: pressure angle, torque, jam, holding, profile; against worked figures, work done, and brute contact."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.latch.cam import (
    Dwell,
    Ellipse,
    Guide,
    holds_rad,
    jams_rad,
    mills_mm,
    polyline_mm,
    pressure_angle_rad,
    profile_mm,
    torque_per_n,
    undercut,
)

ELLIPSE, DWELL = Ellipse(8.0, 6.0, 2.5), Dwell(8.0, 6.0, 2.5, math.pi / 3)
SHORT = Dwell(8.0, 4.0, 2.5, math.pi / 3)
QUARTER = np.linspace(0.0, math.pi / 2, 4001)


# Low radius 8, throw 6, ball 2.5, A 10, B 20: computed apart for this project.
@pytest.mark.parametrize(
    ("cam", "angle_deg", "smooth_mm", "rough_mm", "holds_deg"),
    [(ELLIPSE, 25.2, 6.6, 13.9, 8.9), (DWELL, 39.1, 10.7, 29.2, 24.9)],
)
def test_worked_figures(cam, angle_deg, smooth_mm, rough_mm, holds_deg):
    assert math.degrees(pressure_angle_rad(cam, QUARTER).max()) == pytest.approx(angle_deg, abs=0.05)
    assert torque_per_n(cam, Guide(10, 20, 0.0, 0.0), QUARTER).max() == pytest.approx(smooth_mm, abs=0.05)
    assert torque_per_n(cam, Guide(10, 20, 0.2, 0.2), QUARTER).max() == pytest.approx(rough_mm, abs=0.05)
    assert math.degrees(holds_rad(cam, 0.2)) == pytest.approx(holds_deg, abs=0.05)


def test_a_throw_of_four_pushes_less_steeply():
    assert math.degrees(pressure_angle_rad(SHORT, QUARTER).max()) == pytest.approx(30.1, abs=0.05)


@pytest.mark.parametrize(
    ("friction", "overhang", "jam_deg"),
    [(0.2, 0.5, 57), (0.3, 0.5, 42), (0.3, 1, 31), (0.4, 0.5, 29.5), (0.4, 1, 18)],
)
def test_where_it_jams(friction, overhang, jam_deg):
    """Friction and A / B: computed apart for this project."""
    guide = Guide(10.0 * overhang, 10.0, friction, friction)
    assert math.degrees(jams_rad(guide)) == pytest.approx(jam_deg, abs=0.55)


@pytest.mark.parametrize("cam", [ELLIPSE, DWELL, SHORT], ids=["ellipse", "dwell", "short"])
def test_without_friction_the_torque_does_the_bolts_work(cam):
    """Int T dturn = P x throw (energy)."""
    torque = torque_per_n(cam, Guide(10, 20, 0.0, 0.0), QUARTER)
    assert np.trapezoid(torque, QUARTER) == pytest.approx(cam.throw_mm, rel=1e-5)


@pytest.mark.parametrize(
    "cam", [ELLIPSE, DWELL, Dwell(10.0, 3.0, 2.0, 0.5, lobes=3)], ids=["ellipse", "dwell", "three"]
)
def test_slopes_are_those_of_the_pitch_curve(cam):
    turn, step = np.linspace(-1.0, 7.0, 200), 1e-6
    ahead, behind = cam.pitch_mm(turn + step)[0], cam.pitch_mm(turn - step)[0]
    assert np.allclose((ahead - behind) / (2 * step), cam.pitch_mm(turn)[1], atol=1e-6)


def test_the_pitch_of_an_ellipse_is_where_a_ball_rests_on_it():
    """11.4052 mm at 30 degrees from the minor axis, by brute contact (computed apart); here by polygons too."""
    assert ELLIPSE.pitch_mm(np.radians([30.0]))[0][0] == pytest.approx(11.4052, abs=1e-4)
    t = np.linspace(0, 2 * math.pi, 20_001)
    shape = shapely.Polygon(np.column_stack([8.0 * np.cos(t), 14.0 * np.sin(t)]))
    for turn in (0.2, 0.9, 1.4):
        low, high = 8.0, 20.0
        for _ in range(50):
            middle = (low + high) / 2
            near = shape.distance(shapely.Point(middle * math.cos(turn), middle * math.sin(turn))) < 2.5
            low, high = (middle, high) if near else (low, middle)
        assert ELLIPSE.pitch_mm(np.array([turn]))[0][0] == pytest.approx(low, abs=1e-4)


@settings(max_examples=20, deadline=None)
@given(st.floats(6.0, 15.0), st.floats(1.0, 6.0), st.floats(1.5, 4.0), st.floats(0.5, 1.4))
def test_a_ball_on_the_milled_profile_moves_as_it_should(low, throw, ball, rise):
    """The polyline, within 0.01 mm of the profile, holds a ball at the pitch curve to 0.012 mm."""
    cam = Dwell(low, throw, ball, rise)
    if undercut(cam):
        return
    ring = polyline_mm(cam)
    shape = shapely.Polygon(ring)
    assert shape.is_valid
    turn = np.linspace(0.0, math.pi, 60)
    radius, _ = cam.pitch_mm(turn)
    middles = shapely.points(radius * np.cos(turn), radius * np.sin(turn))
    assert np.abs(shapely.distance(shape, middles) - ball).max() < 0.012
    assert np.abs(shapely.distance(shape.exterior, shapely.points(profile_mm(cam, turn)))).max() < 0.01


def test_a_cutter_no_larger_than_said_reaches_the_whole_profile():
    """Closing the profile by a cutter of that radius fills nothing; by a much larger one, something (shapely)."""
    most = mills_mm(DWELL)
    shape = shapely.Polygon(polyline_mm(DWELL, 0.001))

    def filled(radius):
        return shape.buffer(radius, quad_segs=128).buffer(-radius, quad_segs=128).area - shape.area

    assert filled(0.9 * most) < 0.05
    assert filled(3.0 * most) > 0.5
    assert mills_mm(ELLIPSE) == math.inf


def test_a_ball_too_large_for_its_curve_is_told():
    sharp = Dwell(8.0, 6.0, 2.0, 0.35)
    assert undercut(Dwell(8.0, 6.0, 9.0, 0.35))
    assert not undercut(DWELL)
    assert isinstance(undercut(sharp), bool)


@pytest.mark.parametrize(
    "wrong", [lambda: Dwell(8, 6, 2.5, 2.0), lambda: Ellipse(0, 6, 2.5), lambda: Ellipse(8, 6, 2.5, 3)]
)
def test_impossible_cams_are_refused(wrong):
    with pytest.raises(ValueError, match=r"cam|overlap|lobes"):
        wrong()
