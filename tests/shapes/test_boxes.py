"""Fitted boxes: the mates keep the gap asked for, volumes are those of shapely's areas, corners are a cutter's."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.box import Box, BoxOutline, Scoop, Tray
from witnessmark.job.errors import Refusal
from witnessmark.job.frames import Rigid, side_rotation
from witnessmark.shapes.boxes.parallels import corners_eased, eased, inset, opened, thickest
from witnessmark.shapes.boxes.parts import fitted
from witnessmark.shapes.boxes.solids import domed_prism, notch, rounded_prism

STAR = shapely.Polygon(
    [(r * math.cos(a), r * math.sin(a)) for a, r in zip(np.linspace(0, 2 * math.pi, 15)[:-1], [80, 50] * 7)]
)
PLAIN = {"outline": BoxOutline(rectangle={"x_mm": 100, "y_mm": 100}), "inside_height_mm": 30.0}


def box(**sizes) -> Box:
    return Box.model_validate({**PLAIN, **sizes})


def gap_mm(one: shapely.Geometry, other: shapely.Geometry, step_mm=0.3) -> tuple[float, float]:
    """Least and greatest distance of places along one line from the other: both ways, so that no corner is missed."""
    found = []
    for line, beside in ((one, other), (other, one)):
        places = shapely.get_coordinates(shapely.segmentize(shapely.boundary(line), step_mm))
        found.append(shapely.distance(shapely.points(places), shapely.boundary(beside)))
    return min(part.min() for part in found), max(part.max() for part in found)


@pytest.mark.parametrize("closing", ["rebate", "lip"])
@pytest.mark.parametrize("asked_mm", [0.1, 0.3, 1.2])
def test_the_mates_keep_the_gap_everywhere(closing, asked_mm):
    """Both ways along both lines, within 0.01 mm, on an outline of sharp corners inward and outward."""
    made = fitted(box(closing=closing, gap_mm=asked_mm, wall_mm=12, rebate_mm=6), STAR)
    low, high = gap_mm(made.regions.female, made.regions.male)
    assert abs(low - asked_mm) < 0.01
    assert abs(high - asked_mm) < 0.01


def test_the_solids_keep_the_gap_that_their_areas_keep():
    """manifold3d's least distance of lid and body, the lid lifted until only the walls of the closing are near."""
    made = fitted(box(gap_mm=0.3, rebate_mm=8, wall_mm=12), STAR)
    body, lid = made.part("body"), made.part("lid")
    lifted = lid.solid.manifold.translate((0.0, 0.0, lid.stands_mm + 3.0))
    assert body.solid.manifold.min_gap(lifted, 1.0) == pytest.approx(0.3, abs=0.01)


@pytest.mark.parametrize("closing", ["rebate", "lip", "flat"])
def test_the_closed_box_fits_together(closing):
    """No two parts share wood; the lid's edge lies on the body, and trays lie on their ledge under the lid."""
    tray = Tray(height_mm=10, dividers_x_mm=(0.0,))
    made = fitted(box(closing=closing, trays=(tray, tray), inside_height_mm=40), shapely.box(-70, -50, 70, 50))
    stand = {part.name: part.solid.manifold.translate((0, 0, part.stands_mm)) for part in made.parts}
    assert list(stand) == ["body", "lid", "tray 1", "tray 2"]
    for one in stand:
        for other in stand:
            if one < other:
                assert abs((stand[one] ^ stand[other]).volume()) < 1e-6
    assert stand["body"].min_gap(stand["lid"], 1.0) == pytest.approx(0.0, abs=1e-6)
    assert stand["body"].min_gap(stand["tray 1"], 1.0) == pytest.approx(0.0, abs=1e-6)
    assert stand["tray 2"].min_gap(stand["lid"], 2.0) == pytest.approx(
        0.5 + (0.3 if closing != "flat" else 0), abs=0.01
    )


def test_volumes_are_areas_times_heights():
    made = fitted(box(floor_mm=7, inside_height_mm=33, rebate_mm=5), STAR)
    areas, body, lid = made.regions, made.part("body").solid, made.part("lid").solid
    wood = areas.outside.area * 45 - areas.compartments.area * 33 - areas.female.area * 5
    assert body.volume_mm3 == pytest.approx(wood, rel=1e-6)
    assert lid.volume_mm3 == pytest.approx(areas.outside.area * 12 + areas.male.area * 4.7, rel=1e-6)


def test_every_inside_corner_lets_the_cutter_in():
    """A disc of the cutter's radius reaches all of the hollow, of the rebate, and round the lid's tongue."""
    made = fitted(box(cutter_mm=6.0, dividers_x_mm=(-20.0, 20.0), wall_mm=12), STAR)
    for area in (made.regions.compartments, made.regions.female):
        assert area.area - opened(area, 3.0).area < 1e-3 * area.area
    around = inset(made.regions.male, -60).difference(made.regions.male)
    assert around.area - opened(around, 3.0).area < 1e-4 * around.area
    assert len(made.regions.compartments.geoms) == 3
    assert any("eased for a cutter of 6 mm" in note for note in made.notes)


def test_a_neck_that_parts_the_inside_is_named_with_the_wall_that_would_not():
    dumbbell = shapely.union_all(
        [shapely.box(-90, -40, -20, 40), shapely.box(-25, -14, 25, 14), shapely.box(20, -40, 90, 40)]
    )
    made = fitted(box(wall_mm=12.0), dumbbell)
    (note,) = [note for note in made.notes if "the inside falls into 2 parts" in note]
    wall_mm = float(note.split("a wall of ")[-1].split(" mm")[0])
    # the neck is 28 mm wide: a cutter of 6 mm, with its room of 0.2, needs 6.2 of it; the rest is two walls
    assert wall_mm == pytest.approx((28 - 6.2) / 2, abs=0.11)
    assert not any("falls into 2 parts" in n and "inside" in n for n in fitted(box(wall_mm=wall_mm), dumbbell).notes)


def test_a_wall_that_leaves_nothing_is_refused_with_the_thickest():
    with pytest.raises(Refusal, match="leaves no inside") as told:
        fitted(box(wall_mm=60.0), shapely.box(-50, -40, 50, 40))
    most_mm = float(str(told.value).split("at most ")[1].split(" mm")[0])
    assert fitted(box(wall_mm=most_mm, lip_mm=3), shapely.box(-50, -40, 50, 40))
    with pytest.raises(Refusal):
        fitted(box(wall_mm=most_mm + 0.2), shapely.box(-50, -40, 50, 40))


def test_islands_and_holes_are_told():
    ring = shapely.difference(shapely.Point(0, 0).buffer(90), shapely.Point(20, 0).buffer(25))
    drawn = shapely.union_all([ring, shapely.box(120, 0, 150, 30)]).difference(shapely.Point(-40, 0).buffer(1.0))
    made = fitted(box(), drawn)
    assert any("an island at x 135" in note for note in made.notes)
    assert any("a hole at x -40" in note and "filled" in note for note in made.notes)
    assert made.part("body").solid.manifold.genus() == 1
    assert made.part("lid").solid.manifold.genus() == 1


def test_faces_are_named_with_their_roles_and_areas():
    made = fitted(box(floor_mm=8, inside_height_mm=30, rebate_mm=5), shapely.box(-60, -40, 60, 40))
    faces, number = made.part("body").solid.faces_named
    areas = {face.name: made.part("body").solid.areas_mm2[number == k].sum() for k, face in enumerate(faces)}
    assert {face.name: face.role for face in faces} == {
        "outside wall": "show", "inside walls": "show", "floor": "show", "foot": "hidden",
        "rim": "mating", "closing": "mating",
    }  # fmt: skip
    assert areas["outside wall"] == pytest.approx(400 * 43)
    assert areas["foot"] == pytest.approx(120 * 80)
    assert areas["floor"] == pytest.approx(made.regions.compartments.area)
    assert (number >= 0).all()


def test_names_survive_a_move_and_another_process():
    solid = fitted(box(), STAR).part("lid").solid
    turned = solid.moved(Rigid(side_rotation("-z"), np.array([1.0, 2.0, 3.0])))
    again = pickle.loads(pickle.dumps(turned))
    for other in (turned, again):
        before, after = _areas(solid), _areas(other)
        assert before.keys() == after.keys()
        for name in before:
            assert after[name] == pytest.approx(before[name], rel=1e-9)


def _areas(solid) -> dict[str, float]:
    faces, number = solid.faces_named
    return {face.name: float(solid.areas_mm2[number == k].sum()) for k, face in enumerate(faces)}


def test_rounded_edges_have_the_volume_of_their_slices():
    """Against shapely's parallels, slice by slice; the facets leave out less than 0.01 mm of the round."""
    area = eased(STAR, 3.1)
    solid = rounded_prism(area, 0.0, 20.0, foot_mm=3.0, top_mm=5.0)
    z = (np.arange(400) + 0.5) * 0.05
    in_mm = np.where(z < 3, 3 - np.sqrt(9 - np.clip(3 - z, 0, 3) ** 2), 0.0)
    in_mm = np.where(z > 15, 5 - np.sqrt(25 - np.maximum(z - 15, 0) ** 2), in_mm)
    slices = sum(area.buffer(-by, quad_segs=32).area for by in in_mm) * 0.05
    assert solid.volume() == pytest.approx(slices, rel=1e-3)
    assert solid.volume() < slices + 1.0


def test_a_dome_is_as_high_as_asked():
    lid = domed_prism(shapely.box(-50, -30, 50, 30), 0.0, 10.0, 6.0)
    assert lid.bounding_box()[5] == pytest.approx(16.0, abs=0.011)
    # over the rectangle 6 (1 - u^2)(1 - v^2) has the mean 6 (2/3)^2
    assert lid.volume() == pytest.approx(100 * 60 * (10 + 6 * 4 / 9), rel=2e-3)
    assert domed_prism(shapely.box(-50, -30, 50, 30), 0.0, 10.0, 6.0, 3.0).volume() < lid.volume()


def test_a_notch_is_as_wide_and_deep_as_asked():
    cut = notch(20.0, 6.0, 5.0)
    low = cut.bounding_box()
    assert (low[0], low[3]) == pytest.approx((0.0, 5.0))
    assert low[2] == pytest.approx(-6.0, abs=0.02)
    assert low[4] == pytest.approx(10.0, abs=0.02)


def test_a_scoop_bites_as_deep_as_asked_and_never_through_the_rim():
    plain = fitted(box(lip_mm=5, wall_mm=10), shapely.box(-60, -40, 60, 40)).part("body").solid
    made = fitted(
        box(lip_mm=5, wall_mm=10, scoops=(Scoop(at_deg=0, width_mm=20, depth_mm=3),)), shapely.box(-60, -40, 60, 40)
    )
    bitten = plain.manifold - made.part("body").solid.manifold
    box_mm = bitten.bounding_box()
    assert box_mm[0] == pytest.approx(57.0, abs=0.02)  # 3 mm into a wall that ends at 60
    assert box_mm[4] - box_mm[1] == pytest.approx(20.0, abs=0.1)
    with pytest.raises(Refusal, match="behind it"):  # in an inward corner both flanks come nearer than the middle
        fitted(box(lip_mm=5, wall_mm=10, scoops=(Scoop(at_deg=180 / 7, width_mm=20, depth_mm=4),)), STAR)


@given(st.lists(st.floats(25.0, 90.0), min_size=5, max_size=12), st.sampled_from([3.0, 6.0]))
@settings(max_examples=15, deadline=None)
def test_any_outline_gives_a_box_that_fits_or_says_why_not(radii, cutter_mm):
    angles = np.linspace(0, 2 * math.pi, len(radii) + 1)[:-1]
    outline = shapely.Polygon([(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, angles)])
    try:
        made = fitted(box(cutter_mm=cutter_mm), outline)
    except Refusal as refusal:
        if not refusal.troubles[0].remedies:
            raise
        return
    body, lid = made.part("body"), made.part("lid")
    lifted = lid.solid.manifold.translate((0, 0, lid.stands_mm))
    assert abs((body.solid.manifold ^ lifted).volume()) < 1e-6
    if not made.regions.male.is_empty:
        low, _ = gap_mm(made.regions.female, made.regions.male, 2.0)
        assert low == pytest.approx(0.3, abs=0.01)


def test_corners_eased_are_told_where_they_are():
    square = shapely.box(0, 0, 100, 60)
    places = corners_eased(square, opened(square, 3.0))
    assert len(places) == 4
    # a square corner rounded by r ends r (sqrt 2 - 1) before its point
    assert all(place.by_mm == pytest.approx(3 * (math.sqrt(2) - 1), abs=0.01) for place in places)


def test_the_thickest_that_holds_is_found_from_below():
    assert thickest(10.0, lambda w: w <= 7.33) == pytest.approx(7.3, abs=0.051)
    assert thickest(10.0, lambda w: w <= 7.33) <= 7.33
    assert thickest(10.0, lambda w: True) == 10.0
    assert thickest(10.0, lambda w: False) == 0.0


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ({"lip_mm": 8.5}, "lip_mm 8.5 in a wall of 9 mm"),
        ({"rebate_mm": 0.2}, "nothing would hold the lid"),
        ({"closing": "lip", "lid_mm": 6}, "too thin over a lip"),
        ({"trays": [{"height_mm": 40}]}, "the trays are 40 mm high together"),
        ({"floor_mm": 1.0}, "thinner than 1.5 mm"),
        ({"scoops": [{"at_deg": 0, "depth_mm": 3.5}]}, "break through the rim"),
        ({"lid_edge_mm": 12}, "rounded by more"),
        ({"outline": {"r": "3", "file": "a.svg"}}, "give one of"),
        ({"outline": {"x": "3*cos(t)"}}, "needs one for y"),
    ],
)
def test_sizes_that_cannot_be_are_refused_in_words(sizes, words):
    with pytest.raises(ValueError, match=words):
        box(**sizes)
