"""Minutes against closed forms (plane geometry and uniform acceleration), worked out in each test."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.models import Machine
from witnessmark.program.minutes import minutes
from witnessmark.program.motion import MotionTable
from witnessmark.program.read import read
from witnessmark.program.speeds import motion_seconds
from witnessmark.program.state import Given

FROM_0 = Given(start_mm=(0.0, 0.0, 0.0))


def machine(**more: float) -> Machine:
    sizes = {
        "travel_x_mm": 300,
        "travel_y_mm": 400,
        "travel_z_mm": 90,
        "nose_above_bed_mm": 155,
        "gantry_above_bed_mm": 95,
        "clear_width_mm": 500,
        "acceleration_x_mm_s2": 500,
        "acceleration_y_mm_s2": 500,
        "acceleration_z_mm_s2": 100,
        "rapid_x_mm_min": 6000,
        "rapid_y_mm_min": 6000,
        "rapid_z_mm_min": 1200,
        "feed_max_mm_min": 4000,
        "corner_deviation_mm": 0.02,
    }
    return Machine(**{**sizes, **more})


def table_of(body: str) -> MotionTable:
    return read(f"G21\n{body}\nM2", FROM_0)


def test_straight_on_costs_nothing() -> None:
    """A line in ten pieces takes as long as the line in one."""
    one = minutes(table_of("G1 X100 F3000"), machine())
    ten = minutes(table_of("G1 F3000 X10\n" + "\n".join(f"X{10 * k}" for k in range(2, 11))), machine())
    assert ten.total_min == pytest.approx(one.total_min, rel=1e-12)
    assert ten.cutting_m == pytest.approx(0.1)


def test_a_short_move_never_reaches_its_feed() -> None:
    """Rest to rest over s below v^2/a: a triangle, 2 sqrt(s/a)."""
    assert minutes(table_of("G1 X1 F3000"), machine()).seconds[0] == pytest.approx(2 * math.sqrt(1 / 500))


def test_turning_back_stops() -> None:
    """There and back is two moves from rest to rest."""
    took = minutes(table_of("G1 X100 F3000\nX0"), machine()).total_min * 60
    assert took == pytest.approx(2 * (100 / 50 + 50 / 500))


def test_a_square_corner_is_taken_at_its_speed() -> None:
    """theta 90 deg: v^2 = a delta sin45/(1 - sin45); each leg from rest to v by way of the feed."""
    v = math.sqrt(500 * 0.02 * math.sin(math.pi / 4) / (1 - math.sin(math.pi / 4)))
    leg_s = 50 / 500 + (50 - v) / 500 + (100 - 50**2 / 1000 - (50**2 - v**2) / 1000) / 50
    took = minutes(table_of("G1 X100 F3000\nY100"), machine()).seconds
    assert took == pytest.approx([leg_s, leg_s])


def test_upright_moves_get_what_z_can() -> None:
    """z has its own speed and acceleration: 20 mm/s and 100 mm/s2 over 40 mm."""
    assert minutes(table_of("G0 Z40"), machine()).seconds[0] == pytest.approx(40 / 20 + 20 / 100)


def test_a_rapid_on_the_diagonal_uses_both_axes() -> None:
    """At 45 deg each axis at its 100 mm/s and 500 mm/s2 makes sqrt(2) times that along the way."""
    took = minutes(table_of("G0 X200 Y200"), machine()).seconds[0]
    assert took == pytest.approx(200 / 100 + 100 / 500)


def test_x_and_y_each_have_their_own_limits() -> None:
    """A y of 40 mm/s and 200 mm/s2 beside an x of 100 and 500: along y it is v/a and s/v of y; at the direction
    (3, 4)/5 speed is min(100/0.6, 40/0.8) = 50 mm/s, acceleration min(500/0.6, 200/0.8) = 250 mm/s2."""
    slow_y = machine(rapid_y_mm_min=2400, acceleration_y_mm_s2=200)
    assert minutes(table_of("G0 X100"), slow_y).seconds[0] == pytest.approx(100 / 100 + 100 / 500)
    assert minutes(table_of("G0 Y100"), slow_y).seconds[0] == pytest.approx(100 / 40 + 40 / 200)
    assert minutes(table_of("G0 X60 Y80"), slow_y).seconds[0] == pytest.approx(100 / 50 + 50 / 250)


def test_an_arc_is_held_by_the_weaker_axis_of_its_plane() -> None:
    """v^2 = a r with the lesser acceleration: G17 by y (200), G18 (x and z) by z (100)."""
    slow_y = machine(acceleration_y_mm_s2=200)
    way = 2 * math.pi
    for body, a in (("G2 X0 Y0 I1 F3000", 200), ("G18 G2 X0 Z0 I1 F3000", 100)):
        v = min(math.sqrt(a * 1), 20 if a == 100 else 50)
        assert minutes(table_of(body), slow_y).seconds[0] == pytest.approx(way / v + v / a)


def test_a_tight_arc_is_held_to_its_radius() -> None:
    """v^2 = a r: a full circle of 1 mm at 500 mm/s2 is not run at 50 mm/s."""
    v, way = math.sqrt(500 * 1), 2 * math.pi
    took = minutes(table_of("G2 X0 Y0 I1 F3000"), machine()).seconds[0]
    assert took == pytest.approx(way / v + v / 500)


def test_a_helix_is_as_long_as_its_way() -> None:
    """Length of a helix: hypot(r times angle, rise)."""
    assert minutes(table_of("G3 X0 Y0 I10 Z5 F300"), machine()).cutting_m * 1000 == pytest.approx(
        math.hypot(20 * math.pi, 5)
    )


def test_dwells_and_spindle_changes_stop_the_machine() -> None:
    """A wait counts as its seconds, and the move before it ends at rest; so with the spindle."""
    leg_s = 50 / 50 + 50 / 500
    waits = minutes(table_of("G1 X50 F3000\nG4 P3\nX100"), machine())
    assert waits.seconds == pytest.approx([leg_s, 3.0, leg_s])
    assert waits.total_min == pytest.approx((2 * leg_s + 3) / 60)
    assert waits.cutting_min == pytest.approx(2 * leg_s / 60)
    starts = minutes(table_of("G1 X50 F3000\nS9000 M3\nX100"), machine())
    assert starts.seconds == pytest.approx([leg_s, leg_s])


def test_feeds_above_the_limit_are_counted_at_the_limit() -> None:
    """A feed of 9000 on a machine that cuts at 4000 at most takes the time of 4000."""
    assert (
        minutes(table_of("G1 X100 F9000"), machine()).total_min
        == minutes(table_of("G1 X100 F4000"), machine()).total_min
    )


def test_an_empty_program_takes_no_time() -> None:
    """No motions, no minutes."""
    assert minutes(table_of(""), machine()).total_min == 0.0


def test_a_start_on_the_run_is_slow_enough_to_stop() -> None:
    """A chain may begin at speed, but no faster than lets it end at rest: v = sqrt(2 a s), t = v/a."""
    took = motion_seconds(np.array([5.0]), np.array([100.0]), np.array([10.0]), np.array([100.0, 0.0]))
    assert took[0] == pytest.approx(math.sqrt(2 * 10 * 5) / 10)


chains = st.lists(
    st.tuples(st.floats(0.001, 50), st.floats(0.1, 100), st.floats(1, 2000), st.floats(0, 100)),
    min_size=1,
    max_size=25,
)


@settings(max_examples=150, deadline=None)
@given(chains)
def test_no_motion_beats_its_limits(chain: list[tuple[float, float, float, float]]) -> None:
    """Each motion takes at least its length at its cruising speed, at most rest to rest; more speed at a corner
    never takes longer in all.
    """
    length, cruise, acceleration, wish = (np.array(column) for column in zip(*chain))
    corner = np.zeros(len(chain) + 1)
    corner[1:-1] = np.minimum(wish[:-1], np.minimum(cruise[:-1], cruise[1:]))
    took = motion_seconds(length, cruise, acceleration, corner)
    peak = np.minimum(cruise, np.sqrt(acceleration * length))
    assert np.all(took >= length / cruise * (1 - 1e-9))
    assert np.all(took <= (length / peak + peak / acceleration) * (1 + 1e-9))
    assert motion_seconds(length, cruise, acceleration, corner * 0.5).sum() >= took.sum() * (1 - 1e-9)


@settings(max_examples=60, deadline=None)
@given(chains)
def test_time_is_the_same_backwards(chain: list[tuple[float, float, float, float]]) -> None:
    """A chain run backwards takes as long: speeding up and slowing down are alike."""
    length, cruise, acceleration, wish = (np.array(column) for column in zip(*chain))
    corner = np.zeros(len(chain) + 1)
    corner[1:-1] = np.minimum(wish[:-1], np.minimum(cruise[:-1], cruise[1:]))
    forth = motion_seconds(length, cruise, acceleration, corner)
    back = motion_seconds(length[::-1].copy(), cruise[::-1].copy(), acceleration[::-1].copy(), corner[::-1].copy())
    assert back[::-1] == pytest.approx(forth, rel=1e-9)
