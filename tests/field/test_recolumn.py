"""Columns along another axis: closed forms, brute force at the cells' middles, and there and back again."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.field.recolumn import along_another, shared
from witnessmark.job.frames import axis_rotation, side_rotation

PITCH = 0.5
GRID = Grid(-10.0, -6.0, PITCH, 40, 24)
TURNS = [
    axis_rotation("+x"),
    axis_rotation("+y"),
    side_rotation("-x"),
    side_rotation("-y", 1),
    side_rotation("+x", 3),
]
FROM, TO = 2.0, 10.0


def block():
    return Columns.block(GRID, FROM, TO)


def wood_at(columns, places):
    """Whether there is wood at places (n, 3) of the columns' frame."""
    grid = columns.grid
    i = np.floor((places[:, 0] - grid.x0_mm) / grid.pitch_mm).astype(int)
    j = np.floor((places[:, 1] - grid.y0_mm) / grid.pitch_mm).astype(int)
    found = np.zeros(len(places), dtype=bool)
    for k, (row, column, z) in enumerate(zip(j, i, places[:, 2])):
        cell = row * grid.nx + column
        mine = slice(columns.first[cell], columns.first[cell + 1])
        found[k] = ((columns.low[mine] < z) & (z < columns.high[mine])).any()
    return found


def random_wood(seed):
    """A block with steps cut from above and stretches taken out."""
    rng = np.random.default_rng(seed)
    wood = block()
    heights = rng.uniform(0, 9, (6, 10)).repeat(4, axis=0).repeat(4, axis=1).astype(np.float32)
    wood = wood.lowered(np.ascontiguousarray(heights), np.eye(3))
    low = rng.uniform(0, 8, (6, 10)).repeat(4, axis=0).repeat(4, axis=1).astype(np.float32)
    return wood.without(np.ascontiguousarray(low), np.ascontiguousarray(low + 1.5), np.eye(3))


@pytest.mark.parametrize("turn", TURNS)
def test_a_whole_block_stays_whole(turn):
    turned = along_another(block(), turn)
    assert turned.volume_mm3() == pytest.approx(20 * 12 * 8)
    corners = np.array([[-10.0, -6.0, FROM], [10.0, 6.0, TO]]) @ turn.T
    low, high = corners.min(axis=0), corners.max(axis=0)
    assert (turned.z_from_mm, turned.z_to_mm) == pytest.approx((low[2], high[2]))
    assert turned.ends_mm == pytest.approx((low[0], low[1], high[0], high[1]))
    assert turned.low.min() == pytest.approx(low[2])
    assert turned.high.max() == pytest.approx(high[2])


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(range(len(TURNS))))
def test_the_middles_of_all_cells_keep_their_wood(seed, which):
    """Where an old cell's middle and a new one's meet, both say the same (heights lie off the middles)."""
    wood, turn = random_wood(seed), TURNS[which]
    turned = along_another(wood, turn)
    x, y = GRID.x_mm, GRID.y_mm
    z = FROM + PITCH * (np.arange(16) + 0.5)
    places = np.stack(np.meshgrid(x, y, z, indexing="ij"), -1).reshape(-1, 3)
    assert np.array_equal(wood_at(wood, places), wood_at(turned, places @ turn.T))


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(["+x", "+y"]))
def test_there_and_back_is_off_by_no_more_than_half_a_cell_in_height(seed, side):
    wood, turn = random_wood(seed), axis_rotation(side)
    back = along_another(along_another(wood, turn), turn.T)
    top, again = wood.top(np.eye(3))[0], back.top(np.eye(3))[0]
    last = wood.first[1:] - 1
    thick = np.where(np.diff(wood.first) > 0, wood.high[last] - wood.low[last], 0.0).reshape(GRID.shape)
    thick_enough = thick >= PITCH  # a thinner rest may be lost
    assert thick_enough.mean() > 0.5
    assert np.abs(top - again)[thick_enough].max() <= PITCH / 2 + 1e-4


def test_a_bore_along_x():
    """A hole of radius 3 through the block, put there as columns along x: what is gone is a cylinder."""
    turn = axis_rotation("+x")
    lying = along_another(block(), turn)
    y, depth = lying.grid.y_mm[:, None], lying.grid.x_mm[None, :]
    hole = np.hypot(y, depth + 6.0) < 3.0
    low = np.where(hole, lying.z_from_mm - 1, np.inf).astype(np.float32)
    lifted = low - np.float32(lying.z_from_mm)
    bored = lying.without(lifted, np.where(hole, 1e3, -np.inf).astype(np.float32), np.eye(3))
    upright = along_another(bored, turn.T)
    assert upright.grid == GRID
    assert 20 * 12 * 8 - upright.volume_mm3() == pytest.approx(math.pi * 9 * 20, rel=0.03)
    middle = 12 * 40 + 20
    assert upright.first[middle + 1] - upright.first[middle] == 2  # wood under the hole and over it


def test_what_is_shared_with_the_whole_block_is_the_wood_itself():
    wood = random_wood(3)
    both = shared(wood, block())
    assert np.array_equal(both.first, wood.first)
    assert np.array_equal(both.low, wood.low)
    assert np.array_equal(both.high, wood.high)
    nothing = shared(wood, block().lowered(GRID.full(-1.0), side_rotation("+z")))
    assert nothing.low.size == 0


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1000), st.integers(0, 1000))
def test_shared_wood_is_in_both(a, b):
    one, other = random_wood(a), random_wood(b)
    both = shared(one, other)
    rng = np.random.default_rng(a + b)
    places = np.column_stack([rng.choice(GRID.x_mm, 500), rng.choice(GRID.y_mm, 500), rng.uniform(FROM, TO, 500)])
    assert np.array_equal(wood_at(both, places), wood_at(one, places) & wood_at(other, places))


def test_refusals():
    with pytest.raises(ValueError, match="another axis"):
        along_another(block(), np.diag([1.0, -1.0, -1.0]))
    with pytest.raises(ValueError, match="not over the same cells"):
        shared(block(), Columns.block(Grid(0.0, 0.0, PITCH, 3, 3), FROM, TO))
