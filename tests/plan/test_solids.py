"""Wood to leave and clearance wood as solids."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from witnessmark.field.grid import Grid
from witnessmark.job.demonstration import box_job
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.solids import SIMPLER_MM, field_solid, solids_of
from witnessmark.shapes.simple import straight_box

GRID = Grid(0.0, 0.0, 1.0, 8, 6)


@given(hnp.arrays(np.float32, (6, 8), elements=st.floats(0.5, 30, width=32)))
@settings(max_examples=30, deadline=None)
def test_field_solid_passes_through_the_heights(heights: np.ndarray) -> None:
    """The solid is closed and as high as the field at every cell centre, within the merging."""
    solid = field_solid(heights, GRID, (0.0, 0.0, 8.0, 6.0))
    assert solid.status().name == "NoError"
    rays = [(x, y) for y in GRID.y_mm[1:-1] for x in GRID.x_mm[1:-1]]
    for x, y in rays[::5]:
        column = solid.slice  # a slice just below the height holds the place, one just above does not
        j, i = int(y), int(x)
        below = column(float(heights[j, i]) - 2 * SIMPLER_MM - 1e-3)
        inside = any(_holds(ring, x, y) for ring in below.to_polygons())
        assert inside


def _holds(ring: np.ndarray, x: float, y: float) -> bool:
    """Even-odd, good enough for one ring; outer and inner rings are both looked at by the caller's any."""
    x0, y0 = ring[:, 0], ring[:, 1]
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    cross = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = x0 + (y - y0) * (x1 - x0) / (y1 - y0)
    return bool(np.count_nonzero(cross & (x < at)) % 2)


def test_blank_less_what_is_removed_is_what_is_left() -> None:
    """The volume of wood to leave falls by what the fields say is removed, placement by placement."""
    job = box_job()
    plan = plan_piece(job, job.pieces[0], straight_box())
    before_mm3 = 400.0 * 180.0 * 74.0
    for found, step in zip(solids_of(plan), plan.placements):
        removed_mm3 = before_mm3 - found.leave.volume_mm3
        assert removed_mm3 == pytest.approx(step.removed_mm3, rel=0.02)
        before_mm3 = found.leave.volume_mm3
