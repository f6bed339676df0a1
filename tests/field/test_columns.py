"""Columns of wood: tops, cuts, turning over, loose wood."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.field.parts import regions
from witnessmark.field.turns import turned, turned_back, turned_grid
from witnessmark.job.frames import side_rotation, standing

UP, OVER = side_rotation("+z"), side_rotation("-z")
STANDINGS = [(side, turn) for side in ("+z", "-z") for turn in range(4)]


@pytest.mark.parametrize(("side", "turn"), STANDINGS)
def test_turned_fields_lie_where_the_standing_move_puts_them(side: str, turn: int) -> None:
    """A cell's value is found again at the place to which the standing move takes the cell's centre."""
    grid = Grid(-3.0, 1.0, 0.5, 7, 5)
    field = np.arange(35.0, dtype=np.float32).reshape(grid.shape)
    stand = standing(side, np.array([-3.0, 1.0, -2.0]), np.array([0.5, 3.5, 9.0]), turn)
    there, seen = turned_grid(grid, stand.rotation), turned(field, stand.rotation)
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    moved = stand.apply(np.stack([x, y, 0 * x], axis=-1))
    i = np.rint((moved[..., 0] - there.x0_mm) / there.pitch_mm - 0.5).astype(int)
    j = np.rint((moved[..., 1] - there.y0_mm) / there.pitch_mm - 0.5).astype(int)
    np.testing.assert_allclose(moved[..., 0], there.x_mm[i], atol=1e-9)
    np.testing.assert_allclose(moved[..., 1], there.y_mm[j], atol=1e-9)
    assert np.array_equal(seen[j, i], field)
    assert np.array_equal(turned_back(seen, stand.rotation), field)


def test_rotation_that_lays_the_blank_on_its_side_is_refused() -> None:
    """Columns run along z, so a field cannot be turned to another upright axis."""
    with pytest.raises(ValueError, match="quarter turns"):
        turned(np.zeros((2, 2)), side_rotation("+x"))


@pytest.mark.parametrize(("side", "turn"), STANDINGS)
def test_block_stands_on_its_lower_face(side: str, turn: int) -> None:
    """A blank from z -2 to 60 has its top at 62 and its underside at 0 whichever way it stands."""
    columns = Columns.block(Grid.over(-10, -8, 10, 8, 1.0), -2.0, 60.0)
    top, grid = columns.top(side_rotation(side, turn))
    bottom, _ = columns.bottom(side_rotation(side, turn))
    assert top.shape == grid.shape == ((20, 16) if turn % 2 else (16, 20))
    assert (top == 62.0).all()
    assert (bottom == 0.0).all()
    assert columns.volume_mm3() == pytest.approx(20 * 16 * 62)


def test_cutting_from_both_sides_leaves_the_web_between() -> None:
    """Cut 20 deep from above and 30 from below, seen as it stands: a web of 12 of 62 is left."""
    columns = Columns.block(Grid.over(0, 0, 6, 4, 1.0), 0.0, 62.0)
    columns = columns.lowered(np.full((4, 6), 42.0, dtype=np.float32), UP)
    columns = columns.lowered(np.full((4, 6), 32.0, dtype=np.float32), OVER)
    assert (columns.top(UP)[0] == 42.0).all()
    assert (columns.bottom(UP)[0] == 30.0).all()
    assert (columns.top(OVER)[0] == 32.0).all()
    assert (columns.bottom(OVER)[0] == 20.0).all()
    assert columns.volume_mm3() == pytest.approx(24 * 12)


def test_cut_down_to_the_support_or_to_nothing_leaves_no_wood() -> None:
    """A top of 0, or none at all, empties the column; a top of +inf or above the wood leaves it untouched."""
    columns = Columns.block(Grid.over(0, 0, 4, 1, 1.0), 3.0, 40.0)
    left = columns.lowered(np.array([[0.0, -np.inf, np.inf, 37.0]], dtype=np.float32), UP)
    assert left.first.tolist() == [0, 0, 0, 1, 2]
    assert left.top(UP)[0].tolist() == [[-np.inf, -np.inf, 37.0, 37.0]]
    assert left.bottom(UP)[0].tolist() == [[np.inf, np.inf, 0.0, 0.0]]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**31), st.sampled_from(STANDINGS))
def test_cuts_agree_with_a_dense_stack_of_layers(seed: int, standing_as: tuple[str, int]) -> None:
    """Random undercuts and tops give, layer by layer, what a dense boolean block gives."""
    rng = np.random.default_rng(seed)
    grid, height = Grid.over(0, 0, 5, 4, 1.0), 12
    dense = np.ones((4, 5, height), dtype=bool)
    columns = Columns.block(grid, 1.0, 1.0 + height)
    rotation = side_rotation(*standing_as)
    layer = np.arange(height)
    for _ in range(4):
        shape = turned_grid(grid, rotation).shape
        a, b = rng.integers(-1, height + 2, (2, *shape)).astype(np.float32)
        columns = columns.without(a, b, rotation)
        low, high = (turned_back(v, rotation)[..., None] for v in (a, b))
        z = height - 1 - layer if standing_as[0] == "-z" else layer
        dense &= ~((z >= low) & (z < high))
    assert columns.volume_mm3() == pytest.approx(dense.sum())
    assert (
        np.diff(columns.first) == ((np.diff(dense.astype(int), axis=2) == 1).sum(2) + dense[..., 0]).ravel()
    ).all()
    expected, count = ndimage.label(dense)
    labels, found = columns.pieces()
    assert found == count
    sizes = np.bincount(labels, columns.high - columns.low, minlength=count)
    assert sorted(sizes.tolist()) == pytest.approx(sorted(np.bincount(expected[dense])[1:].tolist()))


def test_ring_cut_free_is_loose_unless_it_is_held() -> None:
    """An island cut round right through is named with volume, box and a place inside; held wood is not."""
    grid = Grid.over(-10, -10, 10, 10, 0.5)
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    moat = np.maximum(abs(x - 2), abs(y)) < 5.0
    island = np.maximum(abs(x - 2), abs(y)) < 3.0
    top = np.where(moat & ~island, -np.inf, np.inf).astype(np.float32)
    columns = Columns.block(grid, 0.0, 20.0).lowered(top, UP)
    loose = columns.loose(~moat, UP)
    assert len(loose) == 1
    assert loose[0].volume_mm3 == pytest.approx(36 * 20)
    assert loose[0].box_mm == pytest.approx((-1, -3, 0, 5, 3, 20))
    place = loose[0].place_mm
    assert abs(place[0] - 2) < 3
    assert abs(place[1]) < 3
    assert place[2] == pytest.approx(10)
    assert columns.loose(np.ones(grid.shape, dtype=bool), UP) == ()


def test_waste_on_a_web_comes_loose_only_when_the_web_is_cut() -> None:
    """A scrap hanging on a web is held through it; once the web is cut from above nothing holds the scrap."""
    columns = Columns.block(Grid.over(0, 0, 12, 4, 1.0), 0.0, 30.0)
    groove = np.full((4, 12), np.inf, dtype=np.float32)
    groove[:, 6] = 4.0
    held = np.zeros((4, 12), dtype=bool)
    held[:, :4] = True
    columns = columns.lowered(groove, UP)
    assert columns.loose(held, UP) == ()
    groove[:, 6] = 0.0
    (scrap,) = columns.lowered(groove, UP).loose(held, UP)
    assert scrap.volume_mm3 == pytest.approx(5 * 4 * 30)
    assert scrap.box_mm == pytest.approx((7, 0, 0, 12, 4, 30))


def test_wood_a_hair_above_the_support_rests_on_it() -> None:
    """A face cut by rounding a hundredth too deep still lies on the tape; a tenth too deep it does not."""
    block = Columns.block(Grid.over(0, 0, 4, 4, 1.0), 0.0, 30.0)
    everywhere = np.ones((4, 4), dtype=bool)
    for deep_mm, count in ((0.0127, 0), (0.1, 1)):
        faced = block.lowered(np.full((4, 4), 30.0 - deep_mm, dtype=np.float32), UP)
        assert len(faced.loose(everywhere, OVER)) == count


def test_wood_above_a_held_cell_that_does_not_rest_on_the_support_is_loose() -> None:
    """A lid floating over a gap is not held by what lies under it; turned over, its place is seen from there."""
    columns = Columns.block(Grid.over(0, 0, 4, 4, 1.0), 0.0, 30.0)
    gap = columns.without(np.full((4, 4), 10, np.float32), np.full((4, 4), 12, np.float32), UP)
    everywhere = np.ones((4, 4), dtype=bool)
    (lid,) = gap.loose(everywhere, UP)
    assert (lid.box_mm[2], lid.box_mm[5]) == pytest.approx((12, 30))
    (base,) = gap.loose(everywhere, OVER)
    assert (base.box_mm[2], base.box_mm[5]) == pytest.approx((20, 30))


def test_blank_of_another_outline_has_wood_only_inside() -> None:
    """A blank that is not a full rectangle has no wood outside its outline."""
    inside = np.array([[True, False], [True, True]])
    columns = Columns.block(Grid.over(0, 0, 2, 2, 1.0), 0.0, 5.0, inside)
    assert np.array_equal(np.isfinite(columns.top(UP)[0]), inside)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**31), st.booleans(), st.floats(0.2, 0.9))
def test_regions_agree_with_scipy(seed: int, corners: bool, share: float) -> None:
    """Regions of random masks are those of scipy.ndimage.label, in order of their first cell."""
    mask = np.random.default_rng(seed).uniform(size=(13, 17)) < share
    labels, count = regions(mask, corners)
    expected, expected_count = ndimage.label(mask, np.ones((3, 3)) if corners else None)
    assert count == expected_count
    pairs = set(zip(labels.ravel().tolist(), expected.ravel().tolist()))
    assert len(pairs) == count + (not mask.all())
