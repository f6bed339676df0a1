"""Upright straight holes that a cutter does not fit."""

import manifold3d
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.shapes.narrow import narrow_holes
from witnessmark.shapes.solid import Solid


def block(*less):
    body = manifold3d.Manifold.cube((80.0, 40.0, 14.0)).translate((-40.0, -20.0, 0.0))
    for tool in less:
        body -= tool
    return Solid(body)


def round_hole(diameter, x=0.0, y=0.0, bottom=-1.0, top=20.0, narrower_at_top=0.0):
    upper = diameter / 2 - narrower_at_top
    return manifold3d.Manifold.cylinder(top - bottom, diameter / 2, upper, 96).translate((x, y, bottom))


@settings(max_examples=25, deadline=None)
@given(st.floats(1.0, 9.0), st.floats(1.0, 9.0), st.floats(0.0, 8.0))
def test_a_round_hole_is_narrow_when_it_is_narrower(diameter, cutter, bottom):
    if abs(diameter - cutter) < 0.02:
        return
    found = narrow_holes(block(round_hole(diameter, 7.0, -3.0, bottom)), cutter)
    assert len(found) == (1 if diameter < cutter else 0)
    for hole in found:
        assert (hole.x_mm, hole.y_mm) == pytest.approx((7.0, -3.0), abs=1e-6)
        assert hole.width_mm == pytest.approx(diameter, abs=0.02 + 0.001 * diameter)
        assert hole.low_mm == pytest.approx(bottom, abs=1.0)
        assert hole.high_mm == pytest.approx(14.0)


def test_only_the_narrow_part_of_a_stepped_hole_counts():
    stepped = block(round_hole(4.0), round_hole(10.0, bottom=8.0))
    (hole,) = narrow_holes(stepped, 6.0)
    assert (hole.low_mm, hole.high_mm) == pytest.approx((0.0, 8.0), abs=1.0)


def test_a_slot_closed_all_round_is_as_wide_as_it_is_narrow():
    slot = manifold3d.Manifold.cube((30.0, 3.0, 20.0)).translate((-15.0, -1.5, 4.0))
    (hole,) = narrow_holes(block(slot), 6.0)
    assert hole.width_mm == pytest.approx(3.0, abs=0.02)


def test_bowls_and_slots_open_at_a_side_are_no_narrow_holes():
    bowl = manifold3d.Manifold.sphere(12.0, 96).translate((0.0, 0.0, 14.0))
    assert narrow_holes(block(bowl), 8.0) == []
    assert narrow_holes(block(round_hole(2.0, narrower_at_top=-3.0, bottom=2.0, top=14.5)), 6.0) == []
    notch = manifold3d.Manifold.cube((20.0, 3.0, 20.0)).translate((25.0, -1.5, 4.0))
    assert narrow_holes(block(notch), 6.0) == []
