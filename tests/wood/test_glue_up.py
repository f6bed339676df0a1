"""Blanks from boards: layers that fill the blank, staggered joints, rings whose hollow is the piece's own inside."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from witnessmark.job.boards import Board, Glueing, Sawing
from witnessmark.job.errors import Refusal
from witnessmark.shapes.upright import upright
from witnessmark.wood.glue_up import (
    Need,
    glued,
    largest_rectangle_mm,
    layer_counts,
    ringed,
    stacked,
    strip_counts,
    surely_hollow,
)

NEED = Need("body", 400.0, 300.0, 62.0, "cherry, black", "x")
INCH = Board(name="a", length_mm=2000, width_mm=180, thickness_mm=25)
SAWING = Sawing()


def test_layers_are_as_many_as_planed_boards_make():
    """25 mm planed on both faces leaves 22: three make 62, of 20.67 each."""
    assert layer_counts(NEED, [INCH], SAWING) == [3]
    made = stacked(NEED, 3, 3)
    assert made.lines_z_mm == pytest.approx((20.667, 41.333))
    assert all(part.thickness_mm == pytest.approx(62 / 3 + 3.0, abs=1e-3) for part in made.parts(SAWING))


def test_strips_cover_the_width_and_joints_are_staggered():
    made = stacked(NEED, 2, 3)
    even, odd = made.layers[0].edges_mm, made.layers[1].edges_mm
    assert (even[0], even[-1], odd[0], odd[-1]) == (0, 300, 0, 300)
    inner = [abs(a - b) for a in even[1:-1] for b in odd[1:-1]]
    assert min(inner) >= 49.9  # half a strip
    widths = [part.width_mm for part in made.parts(SAWING)]
    assert sum(widths[:3]) == pytest.approx(300 + 3 * 2 * SAWING.joint_mm)
    assert all(part.length_mm == 410.0 for part in made.parts(SAWING))


def test_grain_along_y_turns_the_strips():
    made = stacked(Need("lid", 400.0, 300.0, 20.0, "cherry, black", "y"), 1, 4)
    assert made.parts(SAWING)[0].length_mm == 310.0
    assert made.layers[0].edges_mm[-1] == 400.0


@pytest.mark.parametrize(
    ("need", "boards", "words"),
    [
        (Need("a", 100, 100, 20, "cherry, black", "z"), [INCH], "runs upright"),
        (Need("a", 100, 100, 20, "walnut, black", "x"), [INCH], "no board on hand is of walnut"),
        (Need("a", 100, 100, 900, "cherry, black", "x"), [INCH], "would take 41 layers"),
        (Need("a", 100, 100, 20, "cherry, black", "x"), [INCH.model_copy(update={"thickness_mm": 2.0})], "gone when"),
    ],
)
def test_blanks_that_cannot_be_are_refused(need, boards, words):
    with pytest.raises(Refusal, match=words):
        layer_counts(need, boards, SAWING)


def test_strips_are_no_wider_than_boards_or_what_stays_flat():
    assert strip_counts(NEED, [INCH], SAWING)[0] == 3  # 150 at most, less jointing: 148
    assert strip_counts(NEED, [INCH.model_copy(update={"width_mm": 80.0})], SAWING)[0] == 5  # 74 each


def cup(floor_mm: float) -> tuple:
    """A cup of 200 x 150 x 60 with upright walls of 10, and its section at a height."""
    outer = upright(shapely.box(-100, -75, 100, 75), 60.0)
    inner = upright(shapely.box(-90, -65, 90, 65), 60.0, floor_mm)
    solid = type(outer)(outer.manifold - inner.manifold)
    return solid, solid.section


def test_layers_above_the_floor_become_rings():
    _, section = cup(12.0)
    made = ringed(stacked(Need("cup", 240, 190, 60, "cherry, black", "x"), 3, 2), section, SAWING)
    assert [layer.hollow is not None for layer in made.layers] == [False, True, True]
    hollow = made.layers[1].hollow
    assert shapely.box(-85.01, -60.01, 85.01, 60.01).covers(hollow)  # 5 mm of the wall's own inside is left
    assert hollow.area == pytest.approx(170 * 120, rel=0.02)


def test_a_ring_is_never_closed_in():
    """A hollow below a solid layer would be shut: that layer stays whole."""
    closed = upright(shapely.box(-100, -75, 100, 75), 60.0)
    inner = upright(shapely.box(-90, -65, 90, 65), 30.0, 12.0)
    solid = type(closed)(closed.manifold - inner.manifold)
    made = ringed(stacked(Need("jar", 240, 190, 60, "cherry, black", "x"), 5, 2), solid.section, SAWING)
    assert all(layer.hollow is None for layer in made.layers)


def test_what_is_surely_hollow_lies_within_the_core():
    core = shapely.Point(0, 0).buffer(60.0)
    corners = surely_hollow(core)
    assert shapely.buffer(core, -1.4).covers(shapely.Polygon(corners))
    assert shapely.Polygon(corners).area > 0.9 * core.area


def test_the_largest_board_in_a_core():
    assert largest_rectangle_mm(shapely.box(0, 0, 200, 100), 3.0) == pytest.approx((194, 94), abs=4.0)
    # the largest rectangle in a circle is the square of its diameter over root two
    round_mm = largest_rectangle_mm(shapely.Point(0, 0).buffer(100.0), 0.0)
    assert np.prod(round_mm) == pytest.approx(2 * 100**2, rel=0.06)


def test_glue_clamps_and_goes():
    numbers = glued(stacked(NEED, 3, 3), Glueing(spread_m2_min=0.02, open_minutes=8, glue_g_m2=200, clamp_n=5000))
    faces_m2, edges_m2 = 2 * 0.4 * 0.3, (2 + 3 + 2) * 0.0206667 * 0.4
    assert numbers.area_m2 == pytest.approx(faces_m2 + edges_m2, rel=1e-3)
    assert numbers.glue_g == pytest.approx(200 * numbers.area_m2)
    assert numbers.goes == 2  # 15 minutes to spread, 8 open
    assert numbers.clamps == 24  # 0.12 m2 at 1 MPa: 120 kN
