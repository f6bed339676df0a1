"""Motions carried back to the standing frame."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.program.moves import back_to_standing, carried_back
from witnessmark.program.read import read
from witnessmark.program.state import Given

FROM_0 = Given(start_mm=(0.0, 0.0, 0.0))
BODY = "G21\nG0 Z5\nG1 X10 F100\nG3 X20 Y10 I0 J10\nG2 X20 Y10 I5\nG4 P1\nG2 X30 Y0 I10 Z2\nG18 G3 X50 I10\nG0 Z9\nM2"


@given(st.floats(-100, 100), st.floats(-100, 100), st.floats(-math.pi, math.pi))
def test_there_and_back(dx: float, dy: float, turn: float) -> None:
    """Turned and shifted into the program frame by a rotation matrix, a place comes back to where it was."""
    place = np.array([12.5, -7.25, 3.0])
    matrix = np.array([[math.cos(turn), -math.sin(turn), 0], [math.sin(turn), math.cos(turn), 0], [0, 0, 1]])
    assert back_to_standing(matrix @ place + [dx, dy, 0], dx, dy, turn) == pytest.approx(place, abs=1e-9)


def test_rows_keep_their_order_and_parents() -> None:
    """Lines and level arcs in order; a full circle in two; dwells none; climbing and upright arcs named apart."""
    table = read(BODY, FROM_0)
    carried = carried_back(table, 0.0, 0.0)
    assert table.kind.tolist() == [0, 1, 3, 2, 4, 2, 3, 0]
    assert carried.parent.tolist() == [0, 1, 2, 3, 3, 7]
    assert carried.chorded.tolist() == [5, 6]
    assert carried.rows[:, 8].tolist() == [0, 0, 1, 2, 2, 0]
    assert carried.rows[2].tolist() == [10, 0, 5, 20, 10, 5, 10, 10, 1]
    assert carried.rows[3].tolist() == [20, 10, 5, 30, 10, 5, 25, 10, 2]
    assert carried.rows[4].tolist() == [30, 10, 5, 20, 10, 5, 25, 10, 2]


@given(st.floats(-50, 50), st.floats(-50, 50), st.floats(-math.pi, math.pi))
def test_arcs_stay_arcs(dx: float, dy: float, turn: float) -> None:
    """Turned and shifted, the ends of an arc stay at its radius, and it turns the same way."""
    carried = carried_back(read(BODY, FROM_0), dx, dy, turn)
    arcs = carried.rows[carried.rows[:, 8] > 0]
    for row in arcs:
        assert math.dist(row[0:2], row[6:8]) == pytest.approx(math.dist(row[3:5], row[6:8]), abs=1e-9)
    begin, end = arcs[0, 0:2] - arcs[0, 6:8], arcs[0, 3:5] - arcs[0, 6:8]
    assert begin[0] * end[1] - begin[1] * end[0] > 0


def test_an_empty_table_makes_no_rows() -> None:
    """Nothing in, nothing out."""
    assert carried_back(read("G21\nM2"), 1.0, 2.0).rows.shape == (0, 9)
