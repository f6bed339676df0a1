"""No text may crash the reader or keep it for ever, and nothing is passed over in silence."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.errors import Refusal
from witnessmark.job.models import Machine
from witnessmark.program import read as reader
from witnessmark.program import record
from witnessmark.program.fingerprint import fingerprint, stamped_of
from witnessmark.program.minutes import minutes
from witnessmark.program.motion import MotionTable
from witnessmark.program.moves import carried_back
from witnessmark.program.read import read
from witnessmark.program.state import Given

MACHINE = Machine(
    travel_x_mm=300,
    travel_y_mm=400,
    travel_z_mm=90,
    nose_above_bed_mm=155,
    gantry_above_bed_mm=95,
    clear_width_mm=500,
)
FROM_0 = Given(start_mm=(0.0, 0.0, 0.0))

PARTS = (
    "G0 G1 G2 G3 G4 G10 G17 G18 G19 G20 G21 G28 G30 G38.2 G40 G41 G43 G49 G53 G54 G55 G59.3 G61 G80 G81 G82 G83 G85 "
    "G89 G90 G91 G92 G92.1 G92.2 G92.3 G93 G94 G98 G99 M0 M2 M3 M5 M6 M8 M30 M99 X Y Z I J K R Q P L F S T H D A E "
    "O # = [ ] ** / * + - AND MOD SIN ATAN SQRT LN EXP % ( ) ; N"
)
FRAGMENTS = st.sampled_from([*PARTS.split(), *3 * "\n"])
NUMBERS = st.one_of(
    st.integers(-5, 400).map(str), st.floats(-500, 500).map(lambda v: f"{v:.3f}"), st.just("9" * 200), st.just("-.0")
)


def sound(table: MotionTable) -> None:
    """Rows that the kernels can take: finite places, centres where there are arcs, one line after another."""
    assert np.isfinite(table.start_mm).all()
    assert np.isfinite(table.end_mm).all()
    assert np.isfinite(table.spindle_rpm).all()
    assert np.isfinite(table.dwell_s).all()
    arc = (table.kind == 2) | (table.kind == 3)
    assert np.array_equal(np.isfinite(table.centre_mm).all(axis=1), arc)
    assert np.array_equal(np.isnan(table.feed_mm_min), (table.kind == 0) | (table.kind == 4))
    assert np.all(np.diff(table.line) >= 0)
    moves = table.kind != 4
    assert np.array_equal(table.start_mm[moves][1:], table.end_mm[moves][:-1]) or any(
        remark.harm == "error" for remark in table.remarks
    )
    assert np.isfinite(minutes(table, MACHINE).total_min)
    assert np.isfinite(carried_back(table, 3.0, 4.0, 0.1).rows).all()


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=400), st.booleans())
def test_any_text_is_read(text: str, placed: bool) -> None:
    """Any characters at all come to a table and remarks."""
    sound(read(text, FROM_0 if placed else None))
    fingerprint(text)
    stamped_of(text)


@settings(max_examples=600, deadline=None)
@given(st.lists(st.one_of(FRAGMENTS, NUMBERS), max_size=60), st.booleans())
def test_fragments_of_programs_are_read(parts: list[str], placed: bool) -> None:
    """Words of RS-274 thrown together come to a sound table and remarks."""
    given_ = Given(start_mm=(0.0, 0.0, 5.0), origins_mm={1: (0.0, 0.0, 0.0)}, homes_mm={28: (0.0, 0.0, 80.0)})
    sound(read("".join(parts), given_ if placed else None))


SIDES = ["G41", "G42D1"]
CONTOUR_WORDS = st.sampled_from(
    [
        "G0",
        "G1",
        "G2",
        "G3",
        "G40",
        "G41",
        "G42D1",
        "G90",
        "G91",
        "G93F3",
        "G94F90",
        "G4P1",
        "M3",
        "M5",
        "S900",
        "G20",
        "G21",
        "G53",
        "M6",
        "G28",
        "G55",
        "G17",
        "G18",
        "R2",
        "R-3",
        "I5",
        "J-5",
        "I0J0",
        "Z1",
        "Z-1",
        "X0",
        "X5",
        "X-20",
        "X3.333",
        "Y0",
        "Y10",
        "Y-5",
        "Y1000",
        "X.0001",
    ]
)


@settings(max_examples=600, deadline=None)
@given(st.lists(st.lists(CONTOUR_WORDS, max_size=5), max_size=12), st.sampled_from(SIDES))
def test_contours_thrown_together_are_read(lines: list[list[str]], side: str) -> None:
    """Whatever stands between G41 or G42 and G40 comes to a sound table and remarks."""
    text = "\n".join(["G21F90S900M3", f"{side}G1X20Y3", *("".join(words) for words in lines), "G40", "M2"])
    sound(read(text, Given(start_mm=(0.0, 0.0, 5.0), diameters_mm={1: 4.0}, diameter_mm=6.0)))


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_an_unknown_word_is_never_passed_over(data: st.DataObject) -> None:
    """A word that the reader does not carry out leaves an error with its line."""
    word = data.draw(
        st.sampled_from(
            ["G5", "G41 D1", "G84 R1", "M98 P2", "A30", "E1", "O100", "U1", "V3", "G1.5", "M3.5", "Q2", "P1"]
        )
    )
    before = data.draw(st.integers(0, 5))
    text = "G21\n" + "G0 X1\n" * before + f"X2 {word}\nM2"
    errors = [remark for remark in read(text, FROM_0).remarks if remark.harm == "error"]
    assert [remark.line for remark in errors] == [before + 2]


@pytest.mark.parametrize(
    "line",
    [
        "G0 X" + "[" * 200,
        "G0 X" + "#" * 200 + "1",
        "G0 X" + "ABS" * 80,
        "G0 X[1/0]",
        "G0 X[0-1]**0.5",
        "G0 X[[0-1]**0.5]",
        "G0 X EXP[1000]",
        "G0 X SQRT[-1]",
        "G0 X LN[0]",
        "G0 X ACOS[2]",
        "G0 X" + "9" * 200,
        "#0=1",
        "#5400=1",
        "#5221=3",
        "#[1/3]=2",
        "G0 X#7",
        "G81 X1 Z-1 R1 L99999999",
        "G83 X1 Z-100 R1 Q0.0000001",
        "G10 L2 P1 X5",
        "G53 G0 Z0",
        "G4",
        "G4 P-1",
        "S-5",
        "F-5",
        "T1.5",
        "(not closed",
        "(a (nested) one)",
        "G0 X١",
        "G0 X1 \x00",
        "G0 X1 X2",
        "M3 M4",
        "M0 M3 M6 M8 M48",
        "G43 Z5",
        "G80 X5",
        "G53",
    ],
)
def test_what_cannot_be_carried_out_is_an_error(line: str) -> None:
    """Each of these is an error on its own line, and reading goes on after it."""
    table = read(f"G21\n{line}\nG0 X7\nM2", FROM_0)
    assert [remark.line for remark in table.remarks if remark.harm == "error"] == [2]
    assert table.end_mm[-1, 0] == 7.0


def test_cutting_before_the_place_is_known_is_an_error() -> None:
    """Where a cut starts must be known; rapids before it only teach the place."""
    table = read("G21\nG1 X5 F100\nM2")
    assert "has not been given yet" in table.remarks[0].what
    assert len(table) == 0
    assert len(read("G21\nG0 Z5\nG0 X1 Y1\nG1 Z0 F100\nM2")) == 1


def test_after_going_home_the_place_is_not_known() -> None:
    """Where home is was not given: an error, and motions are recorded again from the next known place on."""
    table = read("G21\nG0 X1\nG28 Z9\nG0 Z5\nG0 X2 Y2\nG1 X3 F100\nM2", FROM_0)
    assert [remark.line for remark in table.remarks if remark.harm == "error"] == [3]
    assert table.line.tolist() == [2, 3, 6]


def test_crossing_before_raising_is_noted() -> None:
    """A program that moves X and Y first may drag a cutter that is down."""
    table = read("G21\nG0 X1 Y1\nG0 Z5\nG1 Z0 F100\nM2")
    assert [remark.harm for remark in table.remarks] == ["note"]
    assert "raised" in table.remarks[0].what


def test_a_dwell_before_the_place_is_known_gets_it() -> None:
    """Waiting for the spindle before the first place: the row takes the first known place."""
    table = read("G21\nS9000 M3\nG4 P2\nG0 Z5\nG0 X1 Y1\nG1 Z0 F100\nM2")
    assert table.kind.tolist() == [4, 1]
    assert table.start_mm[0].tolist() == [1.0, 1.0, 5.0]


def test_too_large_a_text_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A text beyond the limit is refused in words, before anything is done with it."""
    monkeypatch.setattr(reader, "LARGEST_TEXT", 1000)
    with pytest.raises(Refusal, match="1000 are allowed"):
        read("G0 X1\n" * 200)


def test_too_many_motions_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """More motions than any program has are refused in words instead of filling the memory."""
    monkeypatch.setattr(record, "MOST_MOTIONS", 4096)
    for text in ("G21\nG1 F100\n" + "X1\nX2\n" * 3000, "G21 G91\n" + "G81 X1 Z-1 R1 L900 F100\n" * 5):
        with pytest.raises(Refusal, match="more than 4096 motions"):
            read(text, FROM_0)


def test_many_wrong_lines_are_cut_short() -> None:
    """A file that is no program does not bury the maker; one last error says that there is more."""
    table = read("rubbish\n" * 5000)
    assert len(table.remarks) == 1001
    assert "more than 1000" in table.remarks[-1].what


def test_notes_do_not_crowd_out_errors() -> None:
    """A note that every line would earn is kept once."""
    table = read("G21\n" + "G0 X1 ; here\nG0 X2 ; there\n" * 3000 + "M2", FROM_0)
    assert len(table.remarks) == 1
    assert len(table) == 6000


def test_a_header_without_end_is_cut_short() -> None:
    """Endless header comments cost no more than their reading."""
    begin = time.perf_counter()
    table = read(
        "(a: " + "b" * 200 + ")\n" * 1 + "(a: bbbb)\n" * 100_000 + "".join(f"(k{i}: v)\n" for i in range(5000))
    )
    assert len(table.header) <= 200
    assert len(table.header["a"]) < 5000
    assert time.perf_counter() - begin < 10
