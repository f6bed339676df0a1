"""A program in two parts goes where the whole one goes, from whatever line it is taken up."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.errors import Refusal
from witnessmark.program.motion import MotionTable
from witnessmark.program.part import head, parts_of, tail
from witnessmark.program.read import read

TEXT = """(job: chest)
(placement: 2)
(fingerprint: AAAA)
(proof: BBBB)
G17 G21 G40 G49 G54 G80 G90 G94
T2 M6
G0 Z30
S18000 M3
G4 P3.00
G0 X100 Y50
G1 Z12.5 F600.0
X140 F2400.0
Y90
M8
G3 X130 Y100 I-10 J0
G2 X110 Y100 I-10 J4
G0 Z25
X60 Y40
G1 Z2 F600.0
X70 F2400.0
G99 G83 X80 Y40 Z-4 R25 Q2 F600.0
G80
M9
G0 Z25
X90 Y40
G1 Z2
X100 F2400.0
G0 Z30
M5
M2
"""
NUMBERED = "\n".join(line if line.startswith("(") else f"N{k} {line}" for k, line in enumerate(TEXT.splitlines()))


def _errors(table: MotionTable) -> list[str]:
    return [remark.what for remark in table.remarks if remark.harm == "error"]


def _cuts_alike(whole: MotionTable, part: MotionTable, at: slice, rows: slice, feeds: bool = True) -> None:
    for name in ("kind", "start_mm", "end_mm", "centre_mm", "spindle_rpm", "cutter"):
        np.testing.assert_array_equal(getattr(part, name)[rows], getattr(whole, name)[at], err_msg=name)
    if feeds:
        np.testing.assert_array_equal(part.feed_mm_min[rows], whole.feed_mm_min[at])


def _lines(text: str) -> list[int]:
    parts = parts_of(text)
    return [one.number for one in parts.lines if one.moves and parts.first <= one.number <= parts.last]


@pytest.mark.parametrize("text", [TEXT, NUMBERED])
@pytest.mark.parametrize("slow", [False, True])
def test_both_parts_together_make_every_motion_of_the_whole(text: str, slow: bool) -> None:
    whole = read(text)
    lines = _lines(text)
    assert len(lines) > 10
    for line in lines:
        before, after = read(head(text, line)), read(tail(text, line, ("goes on",), slow))
        assert not _errors(before)
        assert not _errors(after)
        first = int(np.searchsorted(whole.line, line))
        _cuts_alike(whole, before, slice(0, first), slice(0, first))
        count = len(whole) - first
        _cuts_alike(whole, after, slice(first, None), slice(len(after) - count, None), feeds=False)
        feeds, wanted = after.feed_mm_min[-count:], whole.feed_mm_min[first:]
        mine = whole.line[first:] == line
        np.testing.assert_array_equal(feeds[~mine], wanted[~mine])
        assert np.nan_to_num(feeds[mine], nan=600.0).max(initial=0.0) <= (600.0 if slow else 2400.0)
        if not slow:
            np.testing.assert_array_equal(feeds, wanted)


def test_the_rest_comes_down_from_the_safe_height_over_the_place_and_says_coolant_and_feed_again() -> None:
    text = tail(TEXT, 15, ("from line 15",))
    assert "G0 Z30\nS18000 M3\nG4 P3.00\nG0 X140 Y90\nG1 Z12.5 F600.0\nM8\nG3 X130 Y100 I-10 J0 F600.0\n" in text
    assert "G2 X110 Y100 I-10 J4 F2400.0" in text
    assert "(note: from line 15)\n(fingerprint: )\n(proof: )" in text
    assert head(TEXT, 15).endswith("M8\nG0 Z30\nM5\nM2\n")


def test_lifts_are_lines_before_which_a_rapid_brought_the_tip_there() -> None:
    assert [TEXT.splitlines()[line - 1] for line in parts_of(TEXT).lifts()] == [
        "X60 Y40",
        "G1 Z2 F600.0",
        "X90 Y40",
        "G1 Z2",
    ]


def test_a_line_that_nothing_can_be_taken_up_at_is_refused() -> None:
    for line in (0, 1, 6, 10, 14, 22, 28, 30, 999):
        with pytest.raises(Refusal, match="from 11 to 27"):
            tail(TEXT, line)
        with pytest.raises(Refusal, match="from 11 to 27"):
            head(TEXT, line)


@pytest.mark.parametrize(
    ("line", "with_", "says"),
    [
        ("X60 Y40", "X60Y40", "do not stand apart"),
        ("X60 Y40", "G91 X60 Y40", "G91"),
        ("X60 Y40", "X[50+10] Y40", "parameters"),
        ("X60 Y40", "/X60 Y40", "switch"),
        ("X60 Y40", "M98", "M98"),
        ("X60 Y40", "X60 Y40 (oh", "not closed"),
    ],
)
def test_what_is_not_as_this_project_writes_it_is_refused_with_its_line(line: str, with_: str, says: str) -> None:
    with pytest.raises(Refusal, match=says) as caught:
        tail(TEXT.replace(line, with_, 1), 12, file="a.nc")
    assert "a.nc:18" in str(caught.value)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["G0", "G1"]),
            st.sets(st.sampled_from("XYZ"), min_size=1),
            st.tuples(*[st.integers(-90, 90)] * 3),
            st.booleans(),
        ),
        min_size=1,
        max_size=25,
    )
)
def test_random_programs_taken_up_anywhere(moves: list) -> None:
    body, motion = [], "G1"
    for word, axes, at, fed in moves:
        words = [word] if word != motion else []
        motion = word
        words += [f"{axis}{value}" for axis, value in zip("XYZ", at) if axis in axes]
        body.append(" ".join([*words, *(["F900"] if fed and word == "G1" else [])]))
    text = "\n".join(
        ["G17 G21 G90 G94", "G0 Z50", "S9000 M3", "G0 X0 Y0", "G1 Z1 F300", *body, "G0 Z50", "M5", "M2", ""]
    )
    whole = read(text)
    for line in _lines(text):
        first = int(np.searchsorted(whole.line, line))
        after = read(tail(text, line, (), False))
        count = len(whole) - first
        _cuts_alike(whole, after, slice(first, None), slice(len(after) - count, None))
