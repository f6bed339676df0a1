"""Arcs as chords: within the bound, joined, in the right sense, and no more of them than the bound asks for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.chords import CHORD_MM, chords
from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.field.sweep import remove


def helix(radius, begin, sweep, rise, centre=(40.0, 30.0)):
    """Start and end of a helix about z."""
    places = []
    for share in (0.0, 1.0):
        turn = begin + share * sweep
        places.append([centre[0] + radius * np.cos(turn), centre[1] + radius * np.sin(turn), -1.0 + share * rise])
    return np.array(places[:1]), np.array(places[1:]), np.array([[*centre, 0.0]])


@settings(max_examples=60, deadline=None)
@given(
    radius=st.floats(0.05, 200.0),
    begin=st.floats(0.0, 6.28),
    sweep=st.floats(0.01, 6.2),
    rise=st.floats(-20.0, 20.0),
    left=st.booleans(),
)
def test_every_point_of_the_helix_lies_within_the_bound(radius, begin, sweep, rise, left):
    """Points of the curve lie within 0.002 mm of the chord at the same share of the angle."""
    signed = sweep if left else -sweep
    start, end, centre = helix(radius, begin, signed, rise)
    rows, parent = chords(start, end, centre, np.array([17]), np.array([left]), np.array([0]))
    assert (parent == 0).all()
    assert (rows[0, :3] == start).all()
    assert (rows[-1, 3:6] == end).all()
    assert (rows[1:, :3] == rows[:-1, 3:6]).all()
    inside = np.linspace(0, 1, 7)
    share = (np.arange(len(rows))[:, None] + inside) / len(rows)
    turn = begin + share * signed
    curve = np.stack([40 + radius * np.cos(turn), 30 + radius * np.sin(turn), -1 + share * rise], -1)
    chord = rows[:, None, :3] + inside[:, None] * (rows[:, 3:6] - rows[:, :3])[:, None]
    assert np.linalg.norm(curve - chord, axis=-1).max() <= CHORD_MM + 1e-9
    most = sweep / np.sqrt(8 * CHORD_MM / max(radius, CHORD_MM))
    assert len(rows) <= most + 1


def test_whole_turns_and_full_circles_are_counted():
    """A full circle goes once round, a helix of two turns beyond the first three times; the length tells."""
    start, centre = np.array([[10.0, 0, 0]] * 2), np.zeros((2, 3))
    end = np.array([[10.0, 0, 0], [10.0, 0, -6.0]])
    rows, parent = chords(start, end, centre, np.array([17, 17]), np.array([True, False]), np.array([0, 2]))
    length = np.bincount(parent, np.linalg.norm(rows[:, 3:6] - rows[:, :3], axis=1))
    assert length == pytest.approx([20 * np.pi, np.hypot(60 * np.pi, 6.0)], rel=1e-4)


@pytest.mark.parametrize(
    ("plane", "start", "end", "halfway"),
    [
        (17, [10, 0, 0], [0, 10, 0], [1, 1, 0]),
        (18, [0, 0, 10], [10, 0, 0], [1, 0, 1]),
        (19, [0, 10, 0], [0, 0, 10], [0, 1, 1]),
    ],
)
def test_quarter_circles_go_the_short_way_counter_clockwise_in_each_plane(plane, start, end, halfway):
    """Seen from the positive end of the third axis: x to y, z to x, y to z (NIST IR 6556, from memory)."""
    given = np.array([start], float), np.array([end], float), np.zeros((1, 3)), np.array([plane])
    rows, _ = chords(*given, np.array([True]), np.array([0]))
    wanted = 10 * np.array(halfway) / np.sqrt(2)
    assert np.linalg.norm(rows[:, :3] - wanted, axis=1).min() < 0.5
    far, _ = chords(*given, np.array([False]), np.array([0]))
    assert np.linalg.norm(far[:, :3] + wanted, axis=1).min() < 0.5


def test_a_level_arc_and_its_chords_cut_the_same_within_the_bound():
    """Ball cutter, level arc: heights by the arc and by its chords differ by what 0.002 mm sideways makes."""
    grid = Grid(0.0, 0.0, 0.3, 200, 180)
    ball = profile_vector("ball", 6.0)
    arc = np.array([[45.0, 25.0, -2.0, 15.0, 25.0, -2.0, 30.0, 25.0, 1.0]])
    straight, _ = chords(
        arc[:, :3], arc[:, 3:6], [[30.0, 25.0, 0.0]], np.array([17]), np.array([True]), np.array([0])
    )
    one, two = grid.full(0.0), grid.full(0.0)
    remove(one, grid, arc, ball)
    remove(two, grid, straight, ball)
    cut = one < -0.05  # the ball rises there by at most 2.68 in 1: 0.002 sideways is 0.0054 in height
    assert cut.sum() > 2000
    assert np.abs(one - two)[cut].max() < 0.0054


@pytest.mark.parametrize("plane", [16, 20, 0])
def test_a_plane_that_is_none_is_refused(plane):
    """Only 17, 18 and 19 are planes."""
    with pytest.raises(ValueError, match="17, 18 or 19"):
        chords(np.zeros((1, 3)), np.ones((1, 3)), np.ones((1, 3)), np.array([plane]), np.array([True]), np.array([0]))
