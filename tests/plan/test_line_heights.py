"""Lines between layers: on a floor where one is near, never a wafer above or below one, layers about alike."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.plan.layers import MOVED_RATIO, NEAR_FLOOR_MM, line_heights
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.upright import upright

OUTSIDE = shapely.box(0, 0, 110, 80)


def cup(high_mm: float, floor_mm: float) -> Solid:
    hollow = upright(OUTSIDE.buffer(-12), high_mm).manifold.translate((0.0, 0.0, floor_mm))
    return Solid(upright(OUTSIDE, high_mm).manifold - hollow)


def test_a_line_moves_onto_a_floor_that_is_near():
    assert line_heights(cup(54.0, 9.0), 5)[0] == pytest.approx(9.0)
    assert line_heights(cup(54.0, 20.0), 3)[0] == pytest.approx(20.0)


def test_without_a_floor_near_the_layers_are_alike():
    assert line_heights(cup(60.0, 5.0), 2) == pytest.approx([30.0])


@given(st.floats(40.0, 80.0), st.floats(4.0, 30.0), st.integers(2, 5))
@settings(max_examples=40, deadline=None)
def test_no_line_leaves_a_wafer_and_none_moves_far(high_mm, floor_mm, count):
    lines = line_heights(cup(high_mm, floor_mm), count)
    thick_mm = high_mm / count
    for k, line in enumerate(lines, 1):
        assert abs(line - k * thick_mm) <= MOVED_RATIO * thick_mm + 1e-3
        off_mm = abs(line - floor_mm)
        near = abs(floor_mm - k * thick_mm) <= MOVED_RATIO * thick_mm
        assert (
            off_mm < 2e-3 or off_mm >= NEAR_FLOOR_MM - 1e-3 or (not near and MOVED_RATIO * thick_mm < NEAR_FLOOR_MM)
        )
    assert lines == sorted(lines)
