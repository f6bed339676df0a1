"""Solids: volumes, sections and shadows against closed forms and against manifold3d's own cutting."""

from __future__ import annotations

import itertools
import math
import pickle
import time

import manifold3d
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.errors import Refusal
from witnessmark.job.frames import Rigid, standing
from witnessmark.shapes.edges import edges_of
from witnessmark.shapes.raw import joined_exactly
from witnessmark.shapes.rings import area_of_section
from witnessmark.shapes.solid import Solid

SIZE_MM = st.floats(1.0, 400.0)


def box(x: float, y: float, z: float, at=(0.0, 0.0, 0.0)) -> Solid:
    return Solid(manifold3d.Manifold.cube((x, y, z)).translate(at))


def stepped() -> Solid:
    """A 100 x 60 block 20 high with a 40 x 30 boss from 20 to 35 and a 10 x 10 pocket 5 deep in the boss."""
    block = manifold3d.Manifold.cube((100, 60, 20))
    boss = manifold3d.Manifold.cube((40, 30, 15)).translate((10, 10, 20))
    pocket = manifold3d.Manifold.cube((10, 10, 5)).translate((20, 20, 30))
    return Solid(block + boss - pocket)


@given(SIZE_MM, SIZE_MM, SIZE_MM, st.tuples(*[st.floats(-500, 500)] * 3))
@settings(max_examples=40, deadline=None)
def test_a_box_has_the_volume_bounds_and_sections_of_its_edges(x, y, z, at):
    """A box anywhere has volume x y z, section x y inside it and none above it."""
    solid = box(x, y, z, at)
    low, high = solid.bounds_mm
    assert solid.volume_mm3 == pytest.approx(x * y * z, rel=1e-9)
    np.testing.assert_allclose(low, at, atol=1e-9)
    np.testing.assert_allclose(high, np.add(at, (x, y, z)), atol=1e-9)
    assert solid.section(low[2] + z / 2).area == pytest.approx(x * y, rel=1e-7)
    assert solid.section(low[2]).area == pytest.approx(x * y, rel=1e-7)
    assert solid.section(high[2]).is_empty
    assert solid.shadow_above(high[2]).is_empty


@given(st.floats(2.0, 80.0), st.floats(2.0, 80.0), st.integers(3, 200))
@settings(max_examples=30, deadline=None)
def test_a_cylinder_is_the_prism_of_its_polygon(radius, height, sides):
    """A cylinder of n sides has the regular polygon's area n r^2 sin(2 pi / n) / 2 in every section."""
    solid = Solid(manifold3d.Manifold.cylinder(height, radius, radius, sides))
    polygon_mm2 = sides * radius**2 * math.sin(2 * math.pi / sides) / 2
    assert solid.volume_mm3 == pytest.approx(polygon_mm2 * height, rel=1e-9)
    assert solid.section(height * 0.3).area == pytest.approx(polygon_mm2, rel=1e-7)
    assert solid.silhouette().area == pytest.approx(polygon_mm2, rel=1e-7)


@pytest.mark.parametrize("z", [-35.0, -10.0, 0.0, 20.0, 39.0])
def test_sections_of_a_sphere_are_discs(z):
    """A section at z of a sphere of radius 40 has the area pi (r^2 - z^2)."""
    solid = Solid(manifold3d.Manifold.sphere(40, 512))
    assert solid.section(z).area == pytest.approx(math.pi * (40**2 - z**2), rel=2e-3)


@pytest.mark.parametrize("z", [0.0, 7.0, 19.0])
def test_sections_and_shadows_of_a_cone_are_discs(z):
    """A cone of base radius 30 and height 20 is as wide at z, and above z, as 30 (1 - z / 20)."""
    solid = Solid(manifold3d.Manifold.cylinder(20, 30, 0, 720))
    expected = math.pi * (30 * (1 - z / 20)) ** 2
    assert solid.section(z).area == pytest.approx(expected, rel=5e-5)
    assert solid.shadow_above(z).area == pytest.approx(expected, rel=5e-5)


def test_a_section_at_a_flat_face_is_the_limit_from_above():
    """At the height of a floor the section shows what stands higher; at a foot, the wood that begins there."""
    solid = stepped()
    assert solid.section(0.0).area == pytest.approx(6000)
    assert solid.section(19.999).area == pytest.approx(6000)
    assert solid.section(20.0).area == pytest.approx(1200)
    assert solid.section(30.0).area == pytest.approx(1100)
    assert solid.section(35.0).is_empty


def test_a_section_at_a_face_turned_by_a_rigid_move_is_the_same_limit():
    """Rounding of a turned solid does not let the floor itself into the section at its height."""
    low, high = stepped().bounds_mm
    turned = stepped().moved(standing("+x", low, high))
    faces_at = turned.bounds_mm[1][2]
    assert turned.section(faces_at).is_empty
    assert turned.section(faces_at - 0.01).area > 0


def test_a_shadow_covers_what_overhangs():
    """Under a bridge the shadow above z is solid though the section at z is open."""
    legs = manifold3d.Manifold.cube((100, 20, 40)) - manifold3d.Manifold.cube((60, 30, 30)).translate((20, -5, -1))
    solid = Solid(legs)
    assert solid.section(10.0).area == pytest.approx(800)
    assert solid.shadow_above(10.0).area == pytest.approx(2000)


def test_a_shadow_leaves_open_what_is_open_from_above():
    """A pocket's floor below z is no part of the shadow above z; above its floor's level it is."""
    solid = stepped()
    assert solid.shadow_above(30.0).area == pytest.approx(1100)
    assert solid.shadow_above(29.9).area == pytest.approx(1200)
    assert solid.shadow_above(-5.0).area == pytest.approx(6000)


@given(st.integers(0, 2**31), st.floats(0.02, 0.98))
@settings(max_examples=25, deadline=None)
def test_shadows_agree_with_cutting_and_projecting_by_manifold3d(seed, share):
    """The shadow of random heaps of boxes, balls and tilted cylinders is that of manifold3d's trim and project."""
    random = np.random.default_rng(seed)
    heap = manifold3d.Manifold()
    for _ in range(4):
        kind = random.integers(3)
        part = manifold3d.Manifold.cube(tuple(random.uniform(5, 40, 3)))
        if kind == 1:
            part = manifold3d.Manifold.sphere(random.uniform(5, 20), 24)
        elif kind == 2:
            part = manifold3d.Manifold.cylinder(random.uniform(5, 40), random.uniform(3, 12), circular_segments=20)
        part = part.rotate(tuple(random.uniform(0, 180, 3))).translate(tuple(random.uniform(-20, 20, 3)))
        heap = heap - part if random.random() < 0.3 else heap + part
    if heap.is_empty() or heap.volume() < 1.0:
        return
    solid = Solid(heap)
    low, high = solid.bounds_mm
    z = float(low[2] + share * (high[2] - low[2]))
    cut = area_of_section(heap.trim_by_plane((0, 0, 1), z + 1e-5).project())
    assert solid.shadow_above(z).symmetric_difference(cut).area < 1e-4
    assert solid.section(z).difference(solid.shadow_above(z)).area < 1e-2


def test_shadows_shrink_as_z_rises():
    """What lies above a higher plane lies above a lower one too."""
    solid = Solid(manifold3d.Manifold.sphere(30, 64) - manifold3d.Manifold.cylinder(80, 10, 10, 32, True))
    levels = np.linspace(-30, 30, 13)
    for lower, upper in itertools.pairwise(levels):
        assert solid.shadow_above(upper).difference(solid.shadow_above(lower)).area < 1e-6


def test_flat_levels_are_the_faces_that_face_up():
    """A stepped block has its ledge, pocket floor and top, each with its area; a foot is none."""
    levels = stepped().flat_levels()
    assert [z for z, _ in levels] == pytest.approx([20.0, 30.0, 35.0])
    assert [area.area for _, area in levels] == pytest.approx([4800, 100, 1100])
    assert [z for z, _ in stepped().flat_levels(least_area_mm2=500)] == pytest.approx([20.0, 35.0])


def test_a_round_top_has_no_flat_level():
    """A ball has no horizontal faces worth the name."""
    assert Solid(manifold3d.Manifold.sphere(40, 128)).flat_levels() == []


@given(st.floats(-math.pi, math.pi), st.tuples(*[st.floats(-100, 100)] * 3))
@settings(max_examples=20, deadline=None)
def test_a_rigid_move_keeps_volume_and_goes_back(turn, shift):
    """Moved and moved back a solid is where it was; its volume never changes."""
    rigid = Rigid.shift(*shift) @ Rigid.turn_about_z(turn)
    solid = stepped()
    moved = solid.moved(rigid)
    assert moved.volume_mm3 == pytest.approx(solid.volume_mm3, rel=1e-9)
    np.testing.assert_allclose(moved.moved(rigid.inverse()).bounds_mm, solid.bounds_mm, atol=1e-9)
    np.testing.assert_allclose(moved.bounds_mm[1], rigid.apply(solid.vertices).max(axis=0), atol=1e-9)


def test_normals_point_outward_and_areas_add_up():
    """On a box the normals are the six axes and the areas its faces'."""
    solid = box(10, 20, 30)
    assert solid.areas_mm2.sum() == pytest.approx(2 * (200 + 300 + 600))
    centre = solid.triangles.mean(axis=1) - np.array([5, 10, 15])
    assert np.all(np.einsum("ij,ij->i", centre, solid.normals) > 0)


def test_an_open_mesh_is_refused():
    """A box with a triangle missing is no solid, and the refusal says what to do."""
    solid = box(1, 2, 3)
    with pytest.raises(Refusal, match="no closed solid") as caught:
        Solid.from_mesh(solid.vertices, solid.faces[1:], "lid.stl")
    assert caught.value.troubles[0].remedies


def test_an_inside_out_mesh_is_refused():
    """A box with all faces turned round encloses no wood."""
    solid = box(1, 2, 3)
    with pytest.raises(Refusal, match="inside out"):
        Solid.from_mesh(solid.vertices, solid.faces[:, ::-1])


@given(st.permutations(list(range(24))), st.sampled_from([(0, 0, 20), (20, 20, 0), (20, 0, 0), (20, 20, 20)]))
@settings(max_examples=60, deadline=None)
def test_cubes_that_touch_are_both_there(order, shift):
    """Two cubes sharing a face, an edge or a corner, their triangles in any order: both volumes, no more, no less."""
    one = box(20, 20, 20)
    both = np.concatenate([one.triangles, one.triangles + np.array(shift, dtype=float)])[list(order)]
    vertices, faces = joined_exactly(both.reshape(-1, 3), np.arange(72).reshape(-1, 3))
    solid = Solid.from_mesh(vertices, faces)
    assert solid.volume_mm3 == pytest.approx(16000)
    assert sum(part.volume() for part in solid.manifold.decompose()) == pytest.approx(16000)


@given(st.integers(0, 2**31))
@settings(max_examples=30, deadline=None)
def test_a_body_that_touches_itself_is_whole(seed):
    """A frame whose two arms meet along an edge is taken whole, whatever the order of its triangles."""
    cells = [(0, 0), (1, 0), (2, 0), (0, 1), (0, 2), (1, 2), (2, 1)]  # (1, 2) and (2, 1) meet along one edge
    cubes = [manifold3d.Manifold.cube((10, 10, 5)).translate((10 * i, 10 * j, 0)) for i, j in cells]
    whole = Solid(manifold3d.Manifold.batch_boolean(cubes, manifold3d.OpType.Add))
    order = np.random.default_rng(seed).permutation(len(whole.faces))
    vertices, faces = joined_exactly(whole.triangles[order].reshape(-1, 3), np.arange(3 * len(order)).reshape(-1, 3))
    assert np.any(edges_of(faces).crowded)
    assert Solid.from_mesh(vertices, faces).volume_mm3 == pytest.approx(7 * 500)


def test_a_solid_survives_pickling():
    """A solid sent to another process is the same solid."""
    solid = stepped()
    other = pickle.loads(pickle.dumps(solid))
    assert other.volume_mm3 == pytest.approx(solid.volume_mm3)
    assert shapely.equals(other.section(25.0), solid.section(25.0))


def test_shadows_of_a_fine_solid_are_fast():
    """Fifty thousand triangles and more: the median shadow takes less than 15 ms."""
    ball = manifold3d.Manifold.sphere(60, 320)
    solid = Solid(ball.scale((3, 2, 0.5)) - ball.translate((20, 0, 40)))
    assert len(solid.faces) > 50_000
    low, high = solid.bounds_mm
    solid.silhouette()
    times = []
    for z in np.linspace(low[2], high[2], 20)[1:-1]:
        start = time.perf_counter()
        solid.shadow_above(float(z))
        times.append(time.perf_counter() - start)
    assert np.median(times) < 0.015
