"""The demonstration shapes against shapely's offsets (GEOS buffer, round joins) and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.demonstration import box_job, demonstration_job, dish_job
from witnessmark.shapes.ginkgo import leaf_outline, tea_chest_body, tea_chest_lid
from witnessmark.shapes.offsets import rounded_rectangle
from witnessmark.shapes.simple import shallow_dish, straight_box
from witnessmark.shapes.solid import Solid

LEAN = math.tan(math.radians(12.0))
SECTION_MM = 0.01  # what the demonstration asks of every section


@pytest.fixture(scope="module")
def body() -> Solid:
    return tea_chest_body()


@pytest.fixture(scope="module")
def lid() -> Solid:
    return tea_chest_lid()


@pytest.fixture(scope="module")
def rim() -> shapely.Polygon:
    return leaf_outline().polygon()


def inside(rim: shapely.Polygon, inward_mm: float) -> shapely.Polygon:
    """GEOS' parallel: negative buffer, round joins (90 chords a quarter circle)."""
    return rim.buffer(-inward_mm, quad_segs=90) if inward_mm > 0 else rim


def apart_mm(one: shapely.Geometry, other: shapely.Geometry) -> float:
    """The greatest distance of either border's places, a tenth of a mm apart, from the other border."""
    return max(_off_mm(one.boundary, other.boundary), _off_mm(other.boundary, one.boundary))


def _off_mm(lines: shapely.Geometry, others: shapely.Geometry) -> float:
    places = shapely.points(shapely.get_coordinates(shapely.segmentize(lines, 0.1)))
    rings = [shapely.get_coordinates(part) for part in shapely.get_parts(others)]
    chords = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings])
    _, apart = shapely.STRtree(shapely.linestrings(chords)).query_nearest(places, return_distance=True)
    return float(apart.max())


def hulls(section: shapely.Geometry) -> shapely.Geometry:
    """The section with its holes filled."""
    return shapely.union_all([shapely.Polygon(part.exterior) for part in shapely.get_parts(section)])


def hollows(section: shapely.Polygon) -> shapely.MultiPolygon:
    return shapely.MultiPolygon([shapely.Polygon(ring) for ring in section.interiors])


@pytest.mark.parametrize("z_mm", [0.0, 4.0, 10.0, 21.0, 37.5, 52.0, 53.0, 57.9])
def test_the_chest_is_everywhere_the_parallel_of_its_rim(body: Solid, rim: shapely.Polygon, z_mm: float) -> None:
    """The outside at each height is GEOS' parallel of the rim, (53 - z) tan 12 degrees inside, within 0.01 mm."""
    assert apart_mm(hulls(body.section(z_mm)), inside(rim, max(53.0 - z_mm, 0.0) * LEAN)) < SECTION_MM


@pytest.mark.parametrize("z_mm", [10.0, 25.0, 44.0, 53.5])
def test_the_wall_is_even_and_the_divider_drafted(body: Solid, rim: shapely.Polygon, z_mm: float) -> None:
    """The compartments are the parallel 13 mm in, less a divider drafted 12 degrees, corners rounded 4 mm and up."""
    up_mm = min(z_mm, 53.0) - 10.0
    divider_half_mm = 5.0 + (43.0 - up_mm) * LEAN
    room = inside(rim, 13.0 + (43.0 - up_mm) * LEAN)
    halves = room - shapely.box(-divider_half_mm, -200.0, divider_half_mm, 200.0)
    radius_mm = 4.0 + up_mm * LEAN
    expected = halves.buffer(-radius_mm, quad_segs=90).buffer(radius_mm, quad_segs=90)
    found = hollows(body.section(z_mm))
    assert len(found.geoms) == 2
    assert apart_mm(found, expected) < SECTION_MM


def test_the_rebate_leaves_a_six_mm_lip(body: Solid, rim: shapely.Polygon) -> None:
    """Above the ledge at z = 54 one opening, 6 mm inside the rim."""
    assert apart_mm(hollows(body.section(55.0)), inside(rim, 6.0)) < SECTION_MM


def test_the_lid_drops_into_the_rebate_with_its_gap(body: Solid, lid: Solid, rim: shapely.Polygon) -> None:
    """Resting on the rim the lid shares no wood with the body, with 0.4 mm all round and below the lip."""
    assert apart_mm(lid.section(1.0), inside(rim, 6.4)) < SECTION_MM
    seated = lid.manifold.translate([0.0, 0.0, 58.0 - 3.6])
    assert (seated ^ body.manifold).volume() == pytest.approx(0.0, abs=1e-3)
    assert body.manifold.min_gap(seated.translate([0.0, 0.0, 1e-3]), 5.0) < 0.01
    lip_only = seated.trim_by_plane([0.0, 0.0, -1.0], -57.99)
    assert body.manifold.min_gap(lip_only, 5.0) == pytest.approx(0.4, abs=0.01)


def test_the_dome_is_the_formula_within_a_hundredth(lid: Solid) -> None:
    """Corners and middles of the dome's triangles lie on or at most 0.01 mm beneath the formula."""
    high = lid.triangles[lid.normals[:, 2] > 0.5]
    spots = np.concatenate([high.reshape(-1, 3), high.mean(axis=1), high[:, [0, 1]].mean(axis=1)])
    formula = 24.0 - 10.0 * ((spots[:, 0] / 205.0) ** 2 + (spots[:, 1] / 155.0) ** 2)
    short_mm = formula - spots[:, 2]
    assert short_mm.max() < 0.01
    assert short_mm.min() > -1e-6


def test_solids_are_sound_and_small_enough(body: Solid, lid: Solid) -> None:
    """One body each, no handles, under 60,000 triangles, of the size that the demonstration names."""
    for solid, size in ((body, (410.0, 310.0, 58.0)), (lid, (410.0, 310.0, 24.0))):
        low, high = solid.bounds_mm
        assert np.allclose(high - low, size, atol=0.001)
        assert low[2] == 0.0
        assert len(solid.faces) < 60_000
        assert solid.manifold.genus() == 0
        assert len(solid.manifold.decompose()) == 1


def test_the_chest_weighs_what_its_sections_say(body: Solid) -> None:
    """The volume is the integral of the section areas (Gauss-Legendre between the flat levels)."""
    nodes, weights = np.polynomial.legendre.leggauss(4)
    total = 0.0
    for low, high in ((0.0, 10.0), (10.0, 53.0), (53.0, 54.0), (54.0, 58.0)):
        heights = (high - low) / 2 * nodes + (high + low) / 2
        total += (high - low) / 2 * sum(w * body.section(z).area for w, z in zip(weights, heights))
    assert total == pytest.approx(body.volume_mm3, rel=1e-6)


def test_no_lobe_is_narrow_and_no_neck_vanishes(rim: shapely.Polygon) -> None:
    """A disc of 45 mm reaches all of the leaf (opening leaves it whole), and at the foot one of 22 mm still does."""
    for area, width_mm in ((rim, 45.0), (inside(rim, 53.0 * LEAN), 22.0)):
        core = area.buffer(-width_mm / 2, quad_segs=64)
        assert core.geom_type == "Polygon"
        lost = area - core.buffer(width_mm / 2 + 0.02, quad_segs=64)
        assert lost.area < 0.1


def test_cleft_and_stem_notch_are_sharper_than_any_cutter(rim: shapely.Polygon) -> None:
    """Closing the outside by 1.5 mm leaves wood only in the cleft and the stem notch, both on the axis x = 0."""
    eased = rim.buffer(1.5, quad_segs=90).buffer(-1.5, quad_segs=90) - rim
    parts = [part for part in shapely.get_parts(eased) if part.area > 0.05]
    assert len(parts) == 2
    assert all(abs(part.centroid.x) < 0.01 for part in parts)
    assert sorted(round(part.centroid.y / 10) for part in parts) == [-14, 10]


@settings(max_examples=40, deadline=None)
@given(inward_mm=st.floats(0.01, 27.0))
def test_parallels_of_the_leaf_never_cross_themselves(inward_mm: float) -> None:
    """Every parallel that the chest uses, and some beyond, is a plain ring with GEOS' area."""
    leaf = leaf_outline()
    own = leaf.polygon(inward_mm)
    assert own.is_valid
    assert own.area == pytest.approx(leaf.polygon().buffer(-inward_mm, quad_segs=90).area, rel=2e-5)


@settings(max_examples=40, deadline=None)
@given(inward_mm=st.floats(-30.0, 30.0))
def test_parallels_of_a_rounded_rectangle_obey_steiner(inward_mm: float) -> None:
    """Area A - P d + pi d^2 and nothing else, inward to the corner radius and outward (chords take 2e-5)."""
    area = 300 * 200 - (4 - math.pi) * 30**2
    perimeter = 2 * (300 + 200) - (8 - 2 * math.pi) * 30
    expected = area - perimeter * inward_mm + math.pi * inward_mm**2
    assert rounded_rectangle(300.0, 200.0, 30.0).polygon(inward_mm).area == pytest.approx(expected, rel=5e-5)


def test_the_dish_by_closed_form() -> None:
    """The dish's volume is the outside frustum less the hollow's, by Steiner's formula for parallels.

    Area inside by d of a rounded rectangle: A - P d + pi d^2 (Steiner 1840, from memory), exact up to the corner
    radius; integrated over height. The chords of the round corners take less than 2e-4 of it.
    """
    lean = math.tan(math.radians(38.0))
    area = 360 * 260 - (4 - math.pi) * 60**2
    perimeter = 2 * (360 + 260) - (8 - 2 * math.pi) * 60

    def swept(near_mm: float, far_mm: float) -> float:
        def whole(d: float) -> float:
            return area * d - perimeter * d**2 / 2 + math.pi * d**3 / 3

        return (whole(far_mm) - whole(near_mm)) / lean

    wall_mm = 10.0 / math.cos(math.radians(38.0))
    expected = swept(0.0, 40 * lean) - swept(wall_mm, wall_mm + 30 * lean)
    dish = shallow_dish()
    assert dish.volume_mm3 == pytest.approx(expected, rel=2e-4)
    assert len(dish.manifold.decompose()) == 1


def test_the_box_by_closed_form() -> None:
    """The box's volume is block less hollow, rounded corners counted."""
    round_off = 4 - math.pi
    expected = (340 * 120 - round_off * 8**2) * 70 - (320 * 100 - round_off * 4**2) * 40
    assert straight_box().volume_mm3 == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("job", [demonstration_job(), dish_job(), box_job()], ids=lambda job: job.name)
def test_every_blank_holds_its_piece_and_fits_under_the_gantry(job) -> None:
    """30 mm of waste all round, and the blank on its board passes below the gantry with room to lift over it."""
    solids = {"body": tea_chest_body, "lid": tea_chest_lid, "dish": shallow_dish, "box": straight_box}
    machine = job.machine
    for spec in job.pieces:
        low, high = solids[spec.name]().bounds_mm
        size = high - low
        assert spec.blank.size_x_mm - size[0] >= 60.0 - 0.01
        assert spec.blank.size_y_mm - size[1] >= 60.0 - 0.01
        assert spec.blank.size_z_mm >= size[2] + spec.blank.below_mm
        top_mm = machine.support_z_bed_mm + spec.blank.size_z_mm
        assert top_mm < machine.gantry_above_bed_mm
        longest_mm = max(cutter.stickout_mm for cutter in job.cutters) + machine.nut_length_mm
        assert machine.nose_above_bed_mm - longest_mm >= top_mm + job.settings.safe_above_wood_mm
