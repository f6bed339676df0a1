"""The quick way through plain lines and the general way must be one reader."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.program.motion import MotionTable
from witnessmark.program.read import read
from witnessmark.program.state import Given

GIVEN = Given(start_mm=(1.0, 2.0, 3.0), origins_mm={1: (10.0, 20.0, 30.0), 2: (11.5, 20.25, 30.0)})

NUMBERS = st.one_of(
    st.decimals(-400, 400, places=3).map(str),
    st.integers(-99, 99).map(str),
    st.sampled_from(["+7.", "-.5", "007", "-0", "0.1234567890123456789", "12345678901234567", "1e3", "", "1.2.3"]),
)
WORDS = st.one_of(
    st.tuples(st.sampled_from("XYZIJFxyzijf"), st.sampled_from(["", "", "", " ", "\t"]), NUMBERS).map("".join),
    st.sampled_from(["G0", "G1", "G2", "G3", "g01", "G00", "G 1", "N10", "N123456", "n5", "(c)", "S9000", "M3"]),
    st.sampled_from(
        ["G90", "G91", "G20", "G21", "G17", "G18", "G54", "G55", "G93", "G94", "R5", "K1", "/", ";c", "#1=2"]
    ),
)
LINES = st.lists(WORDS, max_size=5).map(" ".join)
PLAIN = st.tuples(
    st.sampled_from(["", "", "G0 ", "G1 ", "N7 G1"]),
    st.sampled_from(["X", "Y", "Z"]),
    st.decimals(-40, 40, places=3).map(str),
    st.sampled_from(["", " F300", " Y2.5", "Z-1"]),
).map("".join)


@st.composite
def true_arcs(draw: st.DrawFn) -> str:
    """An incremental half circle, so that its radii agree wherever it starts."""
    i = draw(st.integers(1, 50))
    way = draw(st.sampled_from(["G2", "G3"]))
    return f"G91 {way} X{2 * i} Y0 I{i} J0 F100\nG90"


def same(one: MotionTable, other: MotionTable) -> None:
    for name in ("kind", "plane", "turns", "cutter", "line"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name
    for name in ("start_mm", "end_mm", "centre_mm", "feed_mm_min", "spindle_rpm", "dwell_s"):
        assert np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True), name
    assert one.remarks == other.remarks
    assert one.header == other.header


@settings(max_examples=300, deadline=None)
@given(st.lists(st.one_of(LINES, PLAIN, PLAIN, true_arcs()), max_size=25), st.sampled_from(["\n", "\r\n", "\r"]))
def test_both_ways_give_one_table(lines: list[str], end: str) -> None:
    """Any mixture of lines, right or wrong: the same rows to the last bit, the same remarks on the same lines."""
    text = end.join(["G21 G90 G94 G1 F500", *lines])
    same(read(text, GIVEN), read(text, GIVEN, fast=False))


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="GXYZIJFgxN0123456789.+- \t\n()", max_size=200))
def test_both_ways_agree_on_rubbish(text: str) -> None:
    """Text of a program's letters in any order is read alike."""
    start = "G21 G1 F100\n"
    same(read(start + text, GIVEN), read(start + text, GIVEN, fast=False))


def arcs_program(count: int) -> str:
    """Quarter circles round one centre, by centre words, absolute."""
    corner = [(10, 0), (0, 10), (-10, 0), (0, -10)]
    lines = ["G21 G90 G0 Z5", "G0 X10 Y0", "G1 Z0 F100"]
    for k in range(count):
        (x0, y0), (x1, y1) = corner[k % 4], corner[(k + 1) % 4]
        lines.append(f"G3 X{x1} Y{y1} I{-x0} J{-y0}" + (f" Z-{k * 0.01:.2f}" if k % 3 == 0 else ""))
    return "\n".join([*lines, "M2"])


def test_both_ways_agree_on_arcs_and_helices() -> None:
    """Level and climbing arcs in absolute places, enough of them for the table to grow."""
    text = arcs_program(3000)
    quick = read(text)
    assert quick.remarks == ()
    assert len(quick) == 3001
    same(quick, read(text, fast=False))
