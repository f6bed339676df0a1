"""The made solid: closed whatever is left, as much wood as the columns hold, but for its rim."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.job.errors import Refusal
from witnessmark.proof.made import made_solid, step_for

GRID = Grid(-6.0, -5.0, 0.5, 24, 20)
UP = np.eye(3)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_it_closes_whatever_is_cut_away(seed: int) -> None:
    """Random tops, holes through and corners that only touch: a closed solid within the wood's box."""
    rng = np.random.default_rng(seed)
    columns = Columns.block(GRID, -2.0, 8.0)
    heights = rng.uniform(1.0, 9.0, GRID.shape).astype(np.float32)
    heights[rng.random(GRID.shape) < 0.15] = -np.inf
    columns = columns.lowered(heights, UP)
    solid = made_solid(columns, GRID.pitch_mm)
    low, high = solid.bounds_mm
    assert (low >= [-5.75 - 1e-6, -4.75 - 1e-6, -2.0 - 1e-6]).all()
    assert (high <= [5.75 + 1e-6, 4.75 + 1e-6, 7.0 + 1e-6]).all()
    assert 0.0 < solid.volume_mm3 < columns.volume_mm3()


def test_a_terrace_has_its_own_volume() -> None:
    """Two levels over whole cells: flat parts exact, the step as wide as one cell, half of it to either side."""
    columns = Columns.block(GRID, 0.0, 10.0)
    heights = GRID.full(10.0)
    heights[:, 12:] = 4.0
    solid = made_solid(columns.lowered(heights, UP), GRID.pitch_mm)
    assert solid.volume_mm3 == pytest.approx(9.5 * (5.5 * 10 + 0.5 * 7 + 5.5 * 4), rel=1e-6)
    assert len(solid.faces) < 100  # the flat parts are joined


def test_wood_narrower_than_the_mesh_is_refused() -> None:
    columns = Columns.block(GRID, 0.0, 10.0, np.eye(20, 24, dtype=bool))
    with pytest.raises(Refusal, match="no wood as wide"):
        made_solid(columns, 1.0)


def test_the_step_keeps_the_mesh_small() -> None:
    assert step_for(Columns.block(GRID, 0.0, 1.0)) == 0.5
    assert step_for(Columns.block(GRID, 0.0, 1.0), most_squares=120) == 1.0


def test_an_undercut_is_open_in_the_made_solid() -> None:
    """A T-slot cut into a block: its volume is that of the columns, and a ray through its mouth meets no skin."""
    grid = Grid(0.0, 0.0, 0.25, 160, 120)
    wood = Columns.block(grid, 2.0, 22.0)
    slot, wide = np.abs(grid.y_mm - 15.0) < 4.0, np.abs(grid.y_mm - 15.0) < 8.0
    across = np.broadcast_to(slot[:, None], grid.shape)
    wood = wood.lowered(np.where(across, np.float32(8.0), np.float32(99.0)), np.eye(3))
    under = np.broadcast_to(wide[:, None], grid.shape)
    low, high = np.where(under, 8.0, np.inf), np.where(under, 12.0, -np.inf)
    wood = wood.without(low.astype(np.float32), high.astype(np.float32), np.eye(3))
    solid = made_solid(wood, 0.5)
    assert solid.volume_mm3 == pytest.approx(
        39.5 * (29.5 * 20 - 8 * 12 - 8 * 4), rel=0.005
    )  # half a step less each side
    section = solid.section(2.0 + 10.0)
    assert section.intersection(shapely.LineString([(20.0, 8.0), (20.0, 22.0)])).length < 1e-9
    assert solid.section(2.0 + 15.0).intersection(shapely.LineString([(20.0, 8.0), (20.0, 22.0)])).length > 5.0
