"""What a T-slot cutter's disc takes: closed forms, mesh booleans of the swept solids; splitting changes nothing."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold, OpType

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.field.undercut import stretches, swept

PITCH = 0.1
GRID = Grid(0.0, 0.0, PITCH, 400, 300)
HIGH = 20.0
UPRIGHT = np.eye(3)
RADIUS, THICK = 5.0, 3.0


def line(*points):
    """Rows of joined straight moves through the points."""
    rows = np.zeros((len(points) - 1, 9))
    rows[:, :3], rows[:, 3:6] = points[:-1], points[1:]
    return rows


def cut(moves, radius=RADIUS, thick=THICK, grid=GRID):
    """The block after the moves."""
    wood = Columns.block(grid, 0.0, HIGH)
    for part in stretches(moves, thick):
        low, high = swept(grid, np.ascontiguousarray(moves[part]), radius, thick)
        wood = wood.without(low, high, UPRIGHT)
    return wood


def gone_mm3(wood):
    return wood.grid.nx * wood.grid.ny * PITCH**2 * HIGH - wood.volume_mm3()


def test_a_straight_slot_through_the_block():
    gone = gone_mm3(cut(line((-10, 15, 8), (50, 15, 8))))
    assert gone == pytest.approx(2 * RADIUS * THICK * 40, rel=0.011)  # plane geometry; a row of cells at each side


def test_what_stays_above_and_below_is_whole():
    wood = cut(line((-10, 15, 8), (50, 15, 8)))
    middle = 150 * 400 + 200
    assert wood.first[middle + 1] - wood.first[middle] == 2
    assert wood.low[wood.first[middle] : wood.first[middle + 1]].tolist() == [0.0, 11.0]
    assert wood.high[wood.first[middle] : wood.first[middle + 1]].tolist() == [8.0, 20.0]
    assert wood.top(UPRIGHT)[0].min() == HIGH


def test_a_slot_whose_ends_are_round():
    gone = gone_mm3(cut(line((12, 15, 8), (28, 15, 8))))
    assert gone == pytest.approx(THICK * (16 * 2 * RADIUS + math.pi * RADIUS**2), rel=0.003)


def test_a_full_circle():
    moves = np.array([[28.0, 15.0, 8.0, 28.0, 15.0, 8.0, 20.0, 15.0, 1.0]])
    gone = gone_mm3(cut(moves, radius=3.0))
    assert gone == pytest.approx(THICK * math.pi * (11.0**2 - 5.0**2), rel=0.003)


def test_an_upright_move_takes_a_cylinder():
    gone = gone_mm3(cut(line((20, 15, 4), (20, 15, 10))))
    assert gone == pytest.approx(math.pi * RADIUS**2 * (6 + THICK), rel=0.003)


def test_a_disc_that_comes_out_at_the_top_lowers_it():
    top, _ = cut(line((-10, 15, 18), (50, 15, 18))).top(UPRIGHT)
    assert top[150].max() == 18.0
    assert top[20].min() == HIGH


def disc(radius=RADIUS, thick=THICK):
    return Manifold.cylinder(thick, radius, radius, 256)


def as_solid(moves, radius, thick):
    """The swept solid of straight moves: a disc is convex, so the hull of both its places is what a move sweeps."""
    parts = [
        Manifold.batch_hull([disc(radius, thick).translate(move[:3]), disc(radius, thick).translate(move[3:6])])
        for move in moves
    ]
    return Manifold.batch_boolean(parts, OpType.Add)


@pytest.mark.parametrize("seed", range(6))
def test_random_moves_against_mesh_booleans(seed):
    rng = np.random.default_rng(seed)
    points = np.column_stack([rng.uniform(6, 34, 6), rng.uniform(6, 24, 6), rng.uniform(1, 15, 6)])
    radius, thick = rng.uniform(2, 5), rng.uniform(1, 4)
    moves = line(*points)
    block = Manifold.cube((40, 30, HIGH))
    left = (block - as_solid(moves, radius, thick)).volume()
    ours = cut(moves, radius, thick).volume_mm3()
    assert ours == pytest.approx(left, abs=0.02 * (block.volume() - left))


@pytest.mark.parametrize("seed", range(3))
def test_random_places_are_gone_where_the_swept_solid_is(seed):
    rng = np.random.default_rng(100 + seed)
    points = np.column_stack([rng.uniform(6, 34, 5), rng.uniform(6, 24, 5), rng.uniform(1, 15, 5)])
    moves = line(*points)
    wood = cut(moves)
    i, j, z = rng.integers(0, 400, 3000), rng.integers(0, 300, 3000), rng.uniform(0.01, HIGH - 0.01, 3000)
    x, y = GRID.x_mm[i], GRID.y_mm[j]
    gone = np.ones(len(x), dtype=bool)
    for k, cell in enumerate(j * GRID.nx + i):
        mine = slice(wood.first[cell], wood.first[cell + 1])
        gone[k] = not ((wood.low[mine] < z[k]) & (z[k] < wood.high[mine])).any()
    inside, near = np.zeros(len(x), dtype=bool), np.zeros(len(x), dtype=bool)
    for move in moves:
        for slack, found in ((0.0, inside), (1e-3, near)):
            found |= swept_over(move, x, y, z, RADIUS + slack, slack)
    assert np.array_equal(gone[near == inside], inside[near == inside])
    assert inside.sum() > 100


def swept_over(move, x, y, z, radius, slack):
    """Whether the disc passes over places, by 4001 instants of the move."""
    found = np.zeros(len(x), dtype=bool)
    for share in np.linspace(0, 1, 4001):
        at = move[:3] + share * (move[3:6] - move[:3])
        found |= (np.hypot(x - at[0], y - at[1]) <= radius) & (z >= at[2] - slack) & (z <= at[2] + THICK + slack)
    return found


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 7))
def test_splitting_moves_changes_nothing(seed, parts):
    rng = np.random.default_rng(seed)
    grid = Grid(0.0, 0.0, 0.5, 80, 60)
    points = np.column_stack([rng.uniform(0, 40, 4), rng.uniform(0, 30, 4), rng.uniform(1, 15, 4)])
    whole = cut(line(*points), grid=grid)
    shares = np.linspace(0, 1, parts + 1)
    fine = [a + s * (b - a) for a, b in itertools.pairwise(points) for s in shares[:-1]] + [points[-1]]
    split = cut(line(*fine), grid=grid)
    assert split.volume_mm3() == pytest.approx(whole.volume_mm3(), rel=1e-4)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 10), min_size=2, max_size=30), st.floats(0.2, 5))
def test_the_tips_of_a_stretch_lie_within_the_thickness_or_it_is_one_move(heights, thick):
    moves = line(*[(float(k), 0.0, z) for k, z in enumerate(heights)])
    seen = []
    for part in stretches(moves, thick):
        seen += list(range(part.start, part.stop))
        tips = moves[part][:, [2, 5]]
        assert np.ptp(tips) <= thick or part.stop - part.start == 1
    assert seen == list(range(len(moves)))


def test_wood_within_a_stretch_is_what_is_taken():
    moves = line((-10, 15, 8), (50, 15, 8))
    low, high = swept(GRID, moves, RADIUS, THICK)
    wood = Columns.block(GRID, 0.0, HIGH)
    much = wood.within(low, high, UPRIGHT)
    assert much.sum() * PITCH**2 == pytest.approx(gone_mm3(cut(moves)), rel=1e-5)
    over = np.diag([1.0, -1.0, -1.0])
    turned_low, turned_high = (np.ascontiguousarray(HIGH - h[::-1]) for h in (high, low))
    turned_low[np.isneginf(turned_low)], turned_high[np.isposinf(turned_high)] = np.inf, -np.inf
    assert np.allclose(wood.within(turned_low, turned_high, over), much[::-1], atol=1e-5)
