"""Helices and arcs in upright planes, as chords."""

from __future__ import annotations

import math

import numpy as np
import pytest

from witnessmark.program.read import read
from witnessmark.proof.climbing import climbing_chords
from witnessmark.proof.passes import CHORD_MM
from witnessmark.proof.running import rows_of

HEAD = "G21 G17 G90\nS1000 M3\nG0 Z5\nG0 X10 Y0\nG1 Z0 F300\n"


def test_a_helix_keeps_its_radius_and_climbs_evenly() -> None:
    """Every chord end of a helix lies on the circle and on the even slope; chords bulge by at most CHORD_MM."""
    table = read(HEAD + "G3 X-10 Y0 Z-4 I-10 J0 F500\nM2\n")
    chords, owner = climbing_chords(table, np.flatnonzero(table.kind == 3))
    assert set(owner) == {len(table) - 1}
    ends = np.vstack([chords[:, :3], chords[-1:, 3:]])
    assert np.hypot(ends[:, 0], ends[:, 1]) == pytest.approx(10.0)
    angle = np.arctan2(ends[:, 1], ends[:, 0]) % (2 * math.pi)
    assert ends[:, 2] == pytest.approx(-4 * angle / math.pi, abs=1e-9)
    middle = (chords[:, :2] + chords[:, 3:5]) / 2
    assert np.all(10.0 - np.hypot(middle[:, 0], middle[:, 1]) <= CHORD_MM + 1e-12)


def test_an_upright_arc_stays_in_its_plane() -> None:
    """In G18 the arc turns in x and z; its y does not change, and its lowest place is centre less radius."""
    table = read(HEAD + "G18\nG3 X-10 Z0 I-10 K0 F500\nM2\n")
    rows, parent = rows_of(table, (0.0, 0.0), 0.0)
    arc = parent == len(table) - 1
    assert np.all(rows[arc, 1] == 0.0)
    assert np.hypot(rows[arc, 3], rows[arc, 5]) == pytest.approx(10.0)
    assert max(abs(rows[arc, 5])) == pytest.approx(10.0, abs=0.01)


def test_rows_stay_in_the_order_of_the_program() -> None:
    """Chords take the place of their arc: every row begins where the one before it ended."""
    table = read(HEAD + "G3 X-10 Y0 Z-2 I-10 J0 F500\nG1 X0\nG2 X10 Y0 Z0 I5 J0\nG1 Y5\nM2\n")
    rows, parent = rows_of(table, (3.0, -2.0), 0.1)
    assert np.all(np.diff(parent) >= 0)
    assert rows[1:, :3] == pytest.approx(rows[:-1, 3:6], abs=1e-9)
