"""The drill guide: it goes in from above, lies on wall and rim, and leads a drill to where the hole is to be."""

import pytest
from manifold3d import Manifold
from test_let_in import DESIGN, STANDS_MM, let_in, lid_and_body

from witnessmark.job.latch import Place
from witnessmark.latch.guide import Unlike, guide_of, guides_of
from witnessmark.latch.inward import BORE_RATIO
from witnessmark.latch.let_in import LetIn

WALL_MM = DESIGN.mouth_mm + DESIGN.open_mm


def opened(made: LetIn) -> Manifold:
    return made.from_body(made.body) - made.parts.opening


def test_it_is_let_down_and_lies_on_wall_and_rim():
    made = let_in(holes="guide")
    guide, body = guide_of(made, (0, 1)), opened(made)
    for up_mm in (0.0, 0.5, 2.0, 10.0, 60.0):
        assert (guide.block.translate((0.0, 0.0, up_mm)) ^ body).volume() < 1e-3
    assert guide.block.translate((0.0, 0.0, -0.02)).min_gap(body, 1.0) == 0.0
    assert (guide.block.translate((0.1, 0.0, 0.0)) ^ body).volume() > 1.0
    assert (guide.block.translate((0.0, 0.0, -0.1)) ^ body).volume() > 1.0


def test_a_drill_in_its_bore_makes_the_bolts_hole():
    """The drill through the bore meets no wood of the guide and, as deep as it should, takes the hole out of the
    body; the bore is two and a half drills long at least."""
    made = let_in(holes="guide")
    guide, body = guide_of(made, (0, 1)), opened(made)
    axis_mm, deep = -made.room.below_mm, DESIGN.hole_deep_mm
    drill = Manifold.cylinder(deep + 60.0, DESIGN.hole_mm / 2 - 0.01, circular_segments=48).rotate((0.0, 90.0, 0.0))
    drill = drill.translate((WALL_MM - 60.0, 0.0, axis_mm))
    assert (drill ^ guide.block).volume() < 1e-6
    hole = drill ^ body
    assert (hole - made.parts.holes[0]).volume() < 0.01 * hole.volume()
    assert (made.parts.holes[0] ^ body - hole).volume() < 0.02 * hole.volume()
    assert guide.bore_long_mm >= BORE_RATIO * DESIGN.hole_mm >= 2.5 * DESIGN.hole_mm
    low, high = (guide.block.bounding_box()[k] for k in (0, 3))
    assert WALL_MM - low >= guide.bore_long_mm
    assert high > WALL_MM  # the shoulder is over the rim
    assert guide.behind_mm == pytest.approx(2 * WALL_MM - (WALL_MM - low), abs=0.2)


def test_as_a_piece_its_bore_is_upright():
    upright = guide_of(let_in(holes="guide"), (0, 1)).upright
    assert upright.bounding_box()[2] == pytest.approx(0.0)
    assert all(upright.slice(z_mm).num_contour() == 2 for z_mm in (2.0, 6.0))  # wood, and the bore through it


def test_walls_too_unlike_for_one_block_get_one_each():
    """The wall before the second bolt 3 mm farther: the block of the first does not reach it, its own lies on it."""
    lid, body = lid_and_body()
    farther = Manifold.cube((9.0, 60.0, 60.0)).translate((-WALL_MM - 3.0, -30.0, 12.0))
    made = LetIn.of(DESIGN, Place(holes="guide"), STANDS_MM, lid, body - farther)
    with pytest.raises(Unlike, match="on the wall at bolt 2"):
        guide_of(made, (0, 1))
    guides = guides_of(made)
    assert [guide.bolts for guide in guides] == [(0,), (1,)]
    for guide in guides:
        wood = opened(made).rotate((0.0, 0.0, -360.0 * guide.bolts[0] / DESIGN.bolts))
        assert (guide.block ^ wood).volume() < 1e-3
        assert (guide.block.translate((0.1, 0.0, 0.0)) ^ wood).volume() > 1.0
        assert (guide.block.translate((0.0, 0.0, -0.1)) ^ wood).volume() > 1.0
    assert "Bolt 2:" in guides[1].words


def test_walls_alike_share_one_block_and_only_the_holes_that_are_drilled_by_one_get_it():
    assert [guide.bolts for guide in guides_of(let_in(holes="guide"))] == [(0, 1)]
    assert [guide.bolts for guide in guides_of(let_in(holes=("bridge", "guide")))] == [(1,)]
    assert guides_of(let_in()) == ()
