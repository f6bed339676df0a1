"""A corrected program goes where the planned one does, as the work lies now; what cannot be corrected is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.errors import Refusal
from witnessmark.program.correct import Pose, corrected
from witnessmark.program.motion import ARC_CCW, ARC_CW
from witnessmark.program.read import read

SHIFT = (120.0, 80.0)
TEXT = """(placement: 2)
(fingerprint: )
G17 G21 G40 G49 G54 G80 G90 G94
G0 Z30
S18000 M3
G4 P3
X100 Y50
Z12.5 (down)
G1 Z2 F600
X140.123 F2400
Y90
G3 X130 Y100 I-10 J0
G2 X110 I-10 J4.5
N20 G1 X100.5 Z1.25
G3 X100.5 I-5 J0
G0 Z30
M5
M2
"""


def turned(places: np.ndarray, pose: Pose) -> np.ndarray:
    c, s = math.cos(pose.turn_rad), math.sin(pose.turn_rad)
    xy = places[:, :2] - SHIFT
    out = places.copy()
    out[:, :2] = xy @ np.array([[c, s], [-s, c]]) + SHIFT + [pose.dx_mm, pose.dy_mm]
    return out


@settings(max_examples=60, deadline=None)
@given(st.floats(-20, 20), st.floats(-20, 20), st.floats(-0.2, 0.2), st.sampled_from([3, 4]))
def test_every_motion_is_turned_and_shifted_to_within_the_decimals(
    dx: float, dy: float, turn: float, decimals: int
) -> None:
    pose = Pose(dx, dy, turn)
    before, after = read(TEXT), read(corrected(TEXT, SHIFT, pose, decimals))
    assert not [r for r in after.remarks if r.harm == "error"]
    assert after.kind.tolist() == before.kind.tolist()
    assert after.line.tolist() == before.line.tolist()
    half = 0.5 * 10.0**-decimals
    known = np.isfinite(before.start_mm).all(axis=1) & (np.hypot(*before.start_mm[:, :2].T) > 0)
    for mine, theirs in ((after.start_mm, before.start_mm), (after.end_mm, before.end_mm)):
        wanted = turned(theirs, pose)
        moved = known & (before.line > 7)
        assert np.abs(mine - wanted)[moved].max() <= half + 1e-9
        assert np.abs(mine[moved, 2] - theirs[moved, 2]).max() == 0.0
    arcs = (before.kind == ARC_CW) | (before.kind == ARC_CCW)
    assert np.abs(after.centre_mm[arcs, :2] - turned(before.centre_mm[arcs], pose)[:, :2]).max() <= 3.1 * half
    assert np.array_equal(after.feed_mm_min, before.feed_mm_min, equal_nan=True)
    assert np.array_equal(after.spindle_rpm, before.spindle_rpm)


def test_no_pose_changes_no_motion() -> None:
    before, after = read(TEXT), read(corrected(TEXT, SHIFT, Pose(0.0, 0.0, 0.0), 3))
    assert np.array_equal(before.end_mm, after.end_mm)


def test_what_is_not_motion_stays_as_it_was() -> None:
    lines = corrected(TEXT, SHIFT, Pose(1.0, 2.0, 0.1), 3).splitlines()
    for k in (0, 1, 2, 3, 4, 5, 8, 15, 16, 17):
        assert lines[k] == TEXT.splitlines()[k]
    assert lines[7].endswith("(down)")
    assert lines[13].startswith("N20 G1 X")


def test_inches_and_drilling_cycles() -> None:
    text = "G17 G20 G54 G90 G94\nG0 X1 Y1 Z2\nS9000 M3\nG99 G81 X2 Y1.5 Z0.1 R1 F20\nX3\nG80\nM2\n"
    pose = Pose(2.54, 0.0, 0.05)
    before, after = read(text), read(corrected(text, SHIFT, pose, 4))
    assert after.kind.tolist() == before.kind.tolist()
    wanted = turned(before.end_mm, pose)
    assert np.abs(after.end_mm - wanted)[3:].max() <= 0.5e-4 * 25.4 + 1e-9


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("G91 X1", "G91"),
        ("G18", "G18"),
        ("#3=1", "parameters"),
        ("X[1+1] Y2", "parameters"),
        ("/X1 Y2", "switch"),
        ("G92 X0 Y0", "G92"),
        ("G38.2 Z-5 F50", "G38.2"),
        ("G41 D1", "G41"),
        ("G20", "unit"),
        ("G3 I-5 J0", "names no place"),
        ("Q$", "cannot be corrected"),
    ],
)
def test_what_is_not_understood_is_refused_with_its_line(line: str, what: str) -> None:
    text = f"G17 G21 G90\nX1 Y1\n{line}\n"
    with pytest.raises(Refusal) as refused:
        corrected(text, SHIFT, Pose(1.0, 0.0, 0.0), 3, "part.nc")
    assert "part.nc:3" in str(refused.value)
    assert what in str(refused.value)


def test_a_move_along_one_axis_before_the_other_is_known_is_refused() -> None:
    with pytest.raises(Refusal, match="before the place on the other is known"):
        corrected("G17 G21 G90\nG0 X5\n", SHIFT, Pose(0.0, 0.0, 0.1), 3)
