"""A piece parted into layers: nothing is lost but the pins' holes, and pins stand in wood."""

from __future__ import annotations

import itertools
import math

import manifold3d
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.errors import Refusal
from witnessmark.shapes.layers import BESIDE_PIN_MM, Pin, layer_of, pin_places
from witnessmark.shapes.simple import straight_box
from witnessmark.shapes.solid import Solid

HOLE_MM = 6.1


@pytest.fixture(scope="module")
def box() -> Solid:
    return straight_box()


@given(st.lists(st.floats(2.0, 66.0), min_size=1, max_size=4, unique=True))
@settings(max_examples=15, deadline=None)
def test_layers_put_on_each_other_are_the_piece(cuts):
    box = straight_box()
    low, high = box.bounds_mm
    ends = [0.0, *sorted(cuts), float(high[2] - low[2])]
    spans = [(a, b) for a, b in itertools.pairwise(ends) if b - a > 1e-3]
    layers = [layer_of(box, a, b, (), 0.0, "box") for a, b in spans]
    assert sum(layer.volume_mm3 for layer in layers) == pytest.approx(box.volume_mm3, rel=1e-3)
    whole = manifold3d.Manifold.batch_boolean([layer.manifold for layer in layers], manifold3d.OpType.Add)
    assert (box.manifold - whole).volume() == pytest.approx(0.0, abs=box.volume_mm3 * 1e-3)
    for layer, (a, b) in zip(layers, spans):
        z0, z1 = (float(corner[2] - low[2]) for corner in layer.bounds_mm)
        assert a - 1e-6 <= z0 < z1 <= b + 1e-6


def test_a_pin_takes_its_cylinder_and_no_more(box):
    whole = layer_of(box, 0.0, 20.0, (), HOLE_MM, "box")
    (x, y), *_ = pin_places(box, 8.0, 30.0, HOLE_MM)
    holed = layer_of(box, 0.0, 20.0, [Pin(x, y, 8.0, 20.0)], HOLE_MM, "box")
    cylinder_mm3 = math.pi * HOLE_MM**2 / 4 * 12.0
    assert whole.volume_mm3 - holed.volume_mm3 == pytest.approx(cylinder_mm3, rel=5e-3)
    assert float(holed.bounds_mm[0][2]) == pytest.approx(float(whole.bounds_mm[0][2]))


def test_pins_have_wood_round_them_and_tell_which_way_round_a_layer_lies(box):
    low_mm = float(box.bounds_mm[0][2])
    places = pin_places(box, 10.0, 60.0, HOLE_MM)
    assert len(places) == 3
    for z in (10.5, 35.0, 59.5):
        wood = box.section(low_mm + z)
        for place in places:
            assert wood.contains(shapely.Point(place).buffer(HOLE_MM / 2 + 0.9 * BESIDE_PIN_MM))
    x, y = (sum(p[k] for p in places) / 3 for k in (0, 1))
    turned = [(2 * x - px, 2 * y - py) for px, py in places]
    assert max(min(math.dist(a, b) for b in places) for a in turned) > 10.0


def test_no_place_for_a_pin_thicker_than_the_wall(box):
    assert pin_places(box, 10.0, 60.0, 14.0) == []


def test_a_layer_beyond_the_piece_is_refused(box):
    with pytest.raises(Refusal, match="beyond the piece"):
        layer_of(box, 500.0, 510.0, (), 0.0, "box")


def test_faces_of_a_layer_keep_their_names():
    from witnessmark.job.demonstration import keepsake_box
    from witnessmark.shapes.boxes.outlines import area_of
    from witnessmark.shapes.boxes.parts import fitted

    box = keepsake_box()
    drawn, _ = area_of(box.outline, None, "box")
    body = fitted(box, drawn).part("body").solid
    layer = layer_of(body, 10.0, 25.0, (), 0.0, "body")
    faces, number = layer.faces_named
    assert {face.role for face in faces} >= {"show"}
    assert (number >= 0).any()
    assert (number < 0).any()  # the two cuts have no name
