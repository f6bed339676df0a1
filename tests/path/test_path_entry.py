"""Going down into wood along a track."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.path.entry import TooShort, ramped
from witnessmark.path.track import Track

STEEPEST = np.tan(np.radians(5.0)) + 1e-9


def slopes_down(chain):
    """Fall per way of each step of a chain."""
    steps = np.diff(chain, axis=0)
    run = np.hypot(steps[:, 0], steps[:, 1])
    return -steps[run > 1e-12, 2] / run[run > 1e-12]


def ring(count, radius, z=2.0):
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return Track(np.column_stack([radius * np.cos(turn), radius * np.sin(turn), np.full(count, z)]), True)


@given(st.integers(3, 40), st.floats(1.0, 60.0), st.floats(0.05, 6.0))
def test_a_closed_track_is_entered_round_it_and_then_run_wholly(count, radius, lift):
    """The way down is no steeper than 5 degrees, stays over the ring, and the whole ring follows at its height."""
    track = ring(count, radius)
    down, chain = ramped(track, lift)
    assert down[0] == pytest.approx([*track.points_mm[0, :2], 2.0 + lift])
    assert down[-1] == pytest.approx(chain[0])
    assert (slopes_down(down) <= STEEPEST).all()
    assert chain[:, 2] == pytest.approx(2.0)
    assert chain[0] == pytest.approx(chain[-1])
    length = np.linalg.norm(np.diff(chain, axis=0), axis=1).sum()
    assert length == pytest.approx(track.length_mm)


@given(st.floats(3.0, 60.0), st.floats(0.05, 4.0))
def test_an_open_track_is_entered_to_and_fro_and_ends_at_its_start(length, lift):
    """The zigzag is no steeper than 5 degrees, never leaves the track, and ends at its first point."""
    track = Track(np.array([[0, 0, 1.0], [length / 3, 0, 1.0], [length, 0, 1.0]]), False)
    down, chain = ramped(track, lift)
    assert down[0, 2] == pytest.approx(1.0 + lift)
    assert down[-1] == pytest.approx([0, 0, 1.0])
    assert (slopes_down(down) <= STEEPEST).all()
    assert (np.diff(down[:, 2]) <= 1e-12).all()
    assert down[:, 0].min() >= -1e-12
    assert down[:, 0].max() <= length + 1e-12
    assert chain == pytest.approx(track.points_mm)


@given(st.integers(0, 39), st.floats(0.05, 6.0), st.floats(0.2, 3.0))
def test_a_ring_over_a_bridge_is_entered_beside_it_with_no_step(first, lift, high):
    """Wherever it would have begun, it begins low, sinks evenly, and goes on from where the way down ends."""
    points = ring(40, 20.0).points_mm
    points[10:14, 2] += high
    track = Track(np.roll(points, -first, axis=0), True).started_low()
    assert track.points_mm[0, 2] == 2.0
    down, chain = ramped(track, lift)
    assert down[0] == pytest.approx([*track.points_mm[0, :2], 2.0 + lift])
    assert down[-1] == pytest.approx(chain[0])
    whole = np.vstack([down, chain])
    flank = high / (2 * 20.0 * np.sin(np.pi / 40))
    assert (slopes_down(whole) <= max(STEEPEST, flank + 1e-9)).all()
    assert chain[:, 2].min() == 2.0
    assert chain[:, 2].max() == pytest.approx(2.0 + high)


def test_a_track_shorter_than_its_entry_can_use_is_refused():
    """A tenth of a millimetre is no track to sink 3 mm along."""
    with pytest.raises(TooShort):
        ramped(Track(np.array([[0, 0, 0.0], [0.1, 0, 0.0]]), False), 3.0)


def test_no_lift_needs_no_way_down():
    """Where no wood is met the track is simply run."""
    track = ring(12, 5.0)
    down, chain = ramped(track, 0.0)
    assert len(down) == 1
    assert len(chain) == 13
