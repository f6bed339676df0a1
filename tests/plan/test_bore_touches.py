"""Round holes of the piece are touched at their middles: found, reached, and as good as faces."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.frames import Rigid
from witnessmark.job.placement import Placement
from witnessmark.locate.pose import located
from witnessmark.locate.typed import axis_of, expected_mm, readings_of, rows_read
from witnessmark.plan.touches import choose_touches, walls_cut
from witnessmark.shapes.solid import Solid

SIZE = (400.0, 120.0, 20.0)
HOLES = [(40.0, 30.0, 12.0), (40.0, 90.0, 12.0), (180.0, 60.0, 16.0), (360.0, 60.0, 6.0)]
WINDOW = (-50.0, -50.0, 450.0, 170.0)


def plate() -> Solid:
    body = manifold3d.Manifold.cube(SIZE)
    for x, y, diameter in HOLES:
        body -= manifold3d.Manifold.cylinder(40.0, diameter / 2, -1.0, 96).translate((x, y, -10.0))
    return Solid(body)


def place(name: str) -> Placement:
    return Placement(
        name, "+z", Rigid(np.eye(3), np.zeros(3)), (60.0, 30.0), 18.0, (-10.0, -10.0, 410.0, 130.0), ("e",)
    )


def test_holes_that_a_finder_goes_into_are_touches_along_x_and_y() -> None:
    bores = [touch for touch in walls_cut(place("1"), plate()) if touch.kind == "bore"]
    assert len(bores) == 6  # the one of 6 mm is too narrow
    for x, y, _ in HOLES[:3]:
        own = [touch for touch in bores if math.dist(touch.point_mm[:2], (x, y)) < 0.01]
        assert sorted(touch.normal for touch in own) == [(0.0, 1.0, 0.0), (1.0, 0.0, 0.0)]
        assert all(touch.known_from == "cut in placement 1" for touch in own)


def test_with_nothing_else_to_touch_the_bores_are_taken() -> None:
    piece = plate()
    bores = [touch for touch in walls_cut(place("1"), piece) if touch.kind == "bore"]
    chosen = choose_touches(place("2"), WINDOW, bores, piece)
    assert len(chosen) == 6
    beyond = choose_touches(place("2"), (100.0, -50.0, 450.0, 170.0), bores, piece)
    assert [touch.point_mm[0] for touch in beyond] == pytest.approx([180.0] * 2, abs=0.01)  # what the axis reaches


@given(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0), st.floats(-0.03, 0.03))
def test_middles_read_along_both_axes_give_the_place_exactly(dx: float, dy: float, turn: float) -> None:
    lies = place("2")
    bores = choose_touches(lies, WINDOW, [t for t in walls_cut(place("1"), PLATE) if t.kind == "bore"], PLATE)
    lies = Placement(**{**vars(lies), "touches": bores})
    c, s = math.cos(turn), math.sin(turn)
    typed = {}
    for number, touch in enumerate(bores, 1):
        x, y, _ = touch.point_mm
        at = (c * x - s * y + lies.shift_mm[0] + dx, s * x + c * y + lies.shift_mm[1] + dy)
        typed[number] = at[axis_of(lies, touch)]
        planned = expected_mm(lies, touch, 2.0)
        assert planned[:2] == pytest.approx((x + lies.shift_mm[0], y + lies.shift_mm[1]))  # no stylus beside it
    rows, centres = rows_read(readings_of(lies, typed, 2.0))
    found = located(rows, centres, lies.shift_mm)
    assert found.pose.tolist() == pytest.approx([dx, dy, turn], abs=1e-9)


PLATE = plate()
