"""Outlines of boxes: by formula, from traced points, scaled and turned; each mistake named with its place."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.box import BoxOutline
from witnessmark.job.errors import Refusal
from witnessmark.shapes.boxes.formula import values
from witnessmark.shapes.boxes.outlines import area_of

HERE = Path()


def test_an_ellipse_by_formula_has_the_area_pi_a_b():
    area, notes = area_of(BoxOutline(x="60*cos(t)", y="40*sin(t)"), HERE, "box.toml")
    assert area.area == pytest.approx(math.pi * 60 * 40, rel=1e-4)
    assert not notes


def test_a_polar_formula_is_centred_scaled_and_turned():
    area, _ = area_of(BoxOutline(r="30 + 5*cos(2*t)", size_x_mm=140, turn_deg=90), HERE, "box.toml")
    x0, y0, x1, y1 = area.bounds
    assert (x1 - x0, x0 + x1, y0 + y1) == pytest.approx((140, 0, 0), abs=1e-3)
    assert (y1 - y0) / (x1 - x0) > 1.2  # the longer way lies across after a quarter turn


def test_a_rectangle_with_rounded_corners():
    area, _ = area_of(BoxOutline(rectangle={"x_mm": 100, "y_mm": 60}, corner_radius_mm=10), HERE, "box.toml")
    assert area.area == pytest.approx(100 * 60 - (4 - math.pi) * 100, rel=1e-4)


@pytest.mark.parametrize(
    ("formula", "words"),
    [
        ("80 +", "cannot be read"),
        ("q + 1", "not q"),
        ("sinh(t)", "not sinh"),
        ("__import__('os')", "not __import__"),
        ("t.real", "more than numbers"),
        ("1/(t-t)", "gives no number"),
        ("9**9**9**9**9", "gives no number"),
        ("max(t)", "wants 2 values"),
        ("(" * 900 + "t" + ")" * 900, "nested too deep|cannot be read"),
        ("1" * 3000, "longer than"),
        ("True", "more than numbers"),
        ("lambda: 1", "more than numbers"),
    ],
)
def test_a_formula_that_is_none_is_told_why(formula, words):
    with pytest.raises(ValueError, match=words):
        values(formula, np.linspace(0, 1, 5))


@given(st.floats(-5, 5), st.floats(-5, 5))
def test_arithmetic_is_that_of_python(a, b):
    found = values(f"({a!r}) + ({b!r})*t - t/2 + t^2", np.array([0.0, 2.0]))
    assert found == pytest.approx([a, a + 2 * b - 1 + 4], abs=1e-9)


def test_an_open_formula_is_refused():
    with pytest.raises(Refusal, match="does not close"):
        area_of(BoxOutline(x="t*20", y="50*sin(t)"), HERE, "box.toml")


def test_traced_points_with_a_heading_a_comment_and_a_unit(tmp_path):
    (tmp_path / "trace.csv").write_text("x; y\n0; 0\n10; 0 # corner\n10; 6\n0; 6\n0; 0\n")
    area, _ = area_of(BoxOutline(file="trace.csv", unit="cm"), tmp_path, "box.toml")
    assert area.equals(shapely.box(-50, -30, 50, 30))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0,0\n10,0\n", "holds 2 points"),
        ("0,0\n10,0\n10,x\n0,10\n", "line 3: is no pair"),
        ("0,0\n100,100\n100,0\n0,100\n", "crosses itself"),
        ("0,0\n1,0\n1,1\n", "no box of wood is so small"),
    ],
)
def test_traced_points_that_are_no_outline_are_refused_with_the_line(tmp_path, text, words):
    (tmp_path / "trace.csv").write_text(text)
    with pytest.raises(Refusal, match=words):
        area_of(BoxOutline(file="trace.csv"), tmp_path, "box.toml")


def test_small_loops_of_a_traced_line_are_cut_off_and_told(tmp_path):
    (tmp_path / "trace.csv").write_text("0,0\n50,0\n50.3,-0.2\n50.3,0.2\n50,-0.2\n100,0\n100,60\n0,60\n")
    area, notes = area_of(BoxOutline(file="trace.csv"), tmp_path, "box.toml")
    assert area.is_valid
    assert area.area == pytest.approx(6000, abs=15)
    assert "crosses itself" in notes[0]
