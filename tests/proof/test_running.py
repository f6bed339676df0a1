"""Programs as rows for the kernels: helices, upright arcs, order; hostile text; both sides of one blank."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from workpiece import (
    BLANK_MAX,
    BLANK_MIN,
    FLAT,
    MACHINE,
    SETTINGS,
    Script,
    block_with_pocket,
    good_text,
    kinds,
    outside,
    placement,
    pocket,
    proven,
)

from witnessmark.program.read import read
from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.running import rows_of
from witnessmark.proof.verdict import ProgramText

HEAD = "G21 G17 G90\nS1000 M3\nG0 Z5\nG0 X10 Y0\nG1 Z0 F300\n"


def test_a_helix_keeps_its_radius_and_climbs_evenly() -> None:
    """Every row of a helix ends on the circle and on the even slope."""
    table = read(HEAD + "G3 X-10 Y0 Z-4 I-10 J0 F500\nM2\n")
    rows, parent = rows_of(table, (0.0, 0.0), 0.0)
    ends = rows[parent == len(table) - 1, 3:6]
    assert np.hypot(ends[:, 0], ends[:, 1]) == pytest.approx(10.0)
    angle = np.arctan2(ends[:, 1], ends[:, 0]) % (2 * math.pi)
    assert ends[:, 2] == pytest.approx(-4 * angle / math.pi, abs=1e-9)


def test_an_upright_arc_stays_in_its_plane() -> None:
    """In G18 the arc turns in x and z; its y does not change, and it reaches centre less radius."""
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


@pytest.mark.parametrize(
    "line", ["G0 X1e9", "G0 X1000000000", "G3 X100 Y75 I1000000000 J0 F500", "G3 X80 Y80 I1 J1 P9000000"]
)
def test_absurd_moves_are_told_and_not_followed(line: str) -> None:
    """A move of a thousand kilometres, or a million turns, stops the proof without filling the memory."""
    verdict = proven(good_text().replace("M5\n", line + "\nM5\n"))
    assert not verdict.passed
    assert kinds(verdict) & {"outside travel", "cannot be read"}


@given(st.lists(st.sampled_from("GXYZFSIJRPMT0123456789.- ()\n%#[]/"), max_size=120).map("".join))
@settings(max_examples=6, deadline=None)
def test_rubbish_is_judged_and_never_passes_for_a_piece(text: str) -> None:
    """Whatever the text, there is a verdict, and the piece is not said to be made."""
    verdict = proven(text, settings=SETTINGS.model_copy(update={"proof_pitch_mm": 1.0}))
    assert not verdict.passed


def test_a_piece_cut_from_both_sides_passes_and_names_the_side_at_fault() -> None:
    """The block is cut half from above, half from below; a fault is laid to its program, a thin web is found."""
    up = outside(pocket(Script()), levels=(16.0, 12.0, 9.8)).text()
    over = outside(Script(), levels=(16.0, 12.0, 9.8)).text()

    def judged(second: str):
        wood = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
        programs = [ProgramText("up.nc", "1", "flat 6", up), ProgramText("over.nc", "2", "flat 6", second)]
        places = {"1": placement("1"), "2": placement("2", up="-z")}
        return prove(programs, wood, block_with_pocket(), MACHINE, [FLAT], places, SETTINGS)

    assert judged(over).passed
    faulty = judged(outside(Script(), levels=(16.0, 12.0, 9.8), out=2.7).text())
    gouges = [finding for finding in faulty.findings if finding.kind == "gouge"]
    assert {finding.file for finding in gouges} == {"over.nc"}
    assert max(finding.by_mm for finding in gouges) == pytest.approx(0.3, abs=0.01)
    assert "leftover" in kinds(judged(outside(Script(), levels=(16.0, 12.0, 10.5)).text()))
