"""Room for what turns above the cutter: what is allowed is clear of wood everywhere, between cell centres too."""

import numpy as np
from benchwork import FLAT_6
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.grid import Grid
from witnessmark.job.assembly import Assembly, Step
from witnessmark.path.room import Room
from witnessmark.path.wood import Wood

HIGH_MM, NUT_MM, STICKOUT_MM = 30.0, 8.0, 12.0
AROUND_MM = (0.0, 0.0, 60.0, 40.0)
SHORT = Assembly(
    FLAT_6,
    (
        Step(3.0, 0.0, STICKOUT_MM, "cut"),
        Step(NUT_MM, STICKOUT_MM, 90.0, "nut"),
        Step(NUT_MM, 90.0, 120.0, "nose"),
    ),
)


def stood(seed, pitch_mm):
    """The same random cuts in a block, on the grid asked for and on one nine times finer."""
    rng = np.random.default_rng(seed)
    chain = rng.uniform([-5.0, -5.0, 8.0], [65.0, 45.0, 28.0], (25, 3))
    coarse = Grid.over(*AROUND_MM, pitch_mm)
    fine = Grid(coarse.x0_mm, coarse.y0_mm, pitch_mm / 9, coarse.nx * 9, coarse.ny * 9)
    woods = [Wood(grid, grid.full(HIGH_MM), FLAT_6) for grid in (coarse, fine)]
    for wood in woods:
        wood.cut(chain)
    tips = rng.uniform([0.0, 0.0, 4.0], [60.0, 40.0, 30.0], (120, 3))
    return woods, tips


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([0.5, 1.0]))
def test_no_wood_stands_within_the_nut_of_a_tip_that_is_allowed(seed, pitch_mm):
    """Looked at on the finer grid, wherever the room says clear the nut is over no wood higher than itself."""
    (coarse, fine), tips = stood(seed, pitch_mm)
    room = Room(coarse, SHORT, AROUND_MM, 100.0)
    clear = room.clear(tips)
    x, y = np.meshgrid(fine.grid.x_mm, fine.grid.y_mm)
    for tip in tips[clear]:
        under = np.hypot(x - tip[0], y - tip[1]) <= NUT_MM
        assert fine.top[under].max(initial=-np.inf) <= tip[2] + STICKOUT_MM + 2e-3


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([0.5, 1.0]))
def test_what_is_far_from_all_wood_is_allowed(seed, pitch_mm):
    """The room forbids no tip that keeps three of the grid's reaches from all wood that it could meet."""
    (coarse, _), tips = stood(seed, pitch_mm)
    room = Room(coarse, SHORT, AROUND_MM, 100.0)
    clear = room.clear(tips)
    x, y = np.meshgrid(coarse.grid.x_mm, coarse.grid.y_mm)
    for tip in tips[~clear]:
        near = np.hypot(x - tip[0], y - tip[1]) <= NUT_MM + 3 * coarse.grid.reach_mm
        assert coarse.most[near].max() > tip[2] + STICKOUT_MM


def test_the_answer_by_cells_allows_no_more_than_the_one_by_places():
    """Cells said to be clear are clear at their centres and at their corners."""
    (coarse, _), _ = stood(7, 1.0)
    room = Room(coarse, SHORT, AROUND_MM, 100.0)
    cells = room.clear_cells(16.5)
    assert cells.any()
    assert not cells.all()
    rows, columns = np.nonzero(cells)
    grid = coarse.grid
    for dx, dy in ((0.0, 0.0), (-0.5, -0.5), (0.5, 0.5)):
        x, y = grid.x_mm[columns] + dx * grid.pitch_mm, grid.y_mm[rows] + dy * grid.pitch_mm
        assert room.clear(np.column_stack([x, y, np.full(len(x), 16.5)])).all()
