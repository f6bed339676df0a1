"""The health report and mending: each illness made on purpose is named, placed, and mended or refused."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest

from witnessmark.job.errors import Refusal
from witnessmark.shapes.crossing import crossings
from witnessmark.shapes.health import examine, size_complaints
from witnessmark.shapes.mend import mend
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.winding import winding_number


def mesh(manifold: manifold3d.Manifold):
    solid = Solid(manifold)
    return solid.vertices.copy(), solid.faces.copy()


def cube(size=20.0, at=(0.0, 0.0, 0.0)) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube((size, size, size)).translate(at)


def together(*meshes):
    starts = np.cumsum([0, *(len(v) for v, _ in meshes)])
    return np.concatenate([v for v, _ in meshes]), np.concatenate([f + s for (_, f), s in zip(meshes, starts)])


def test_a_sound_solid_has_no_complaint():
    """A cube of 60 mm is sound, one body, with its size."""
    health = examine(*mesh(cube(60)))
    assert health.sound
    assert health.complaints == ()
    assert health.bodies == 1
    assert health.size_mm == pytest.approx((60, 60, 60))


def test_open_edges_are_counted_and_placed():
    """A missing triangle leaves three open edges, with places on it."""
    vertices, faces = mesh(cube())
    health = examine(vertices, faces[1:])
    found = next(c for c in health.complaints if c.kind == "open edges")
    assert not health.sound
    assert found.what.startswith("3 edges")
    centre = vertices[faces[0]].mean(axis=0)
    assert all(np.linalg.norm(np.subtract(place, centre)) < 20 for place in found.places_mm)
    assert any("mended" in remedy for remedy in found.remedies)


def test_a_missing_triangle_is_closed_flat():
    """Mending puts the triangle back and says where."""
    vertices, faces = mesh(cube())
    done = mend(vertices, faces[1:])
    assert done.solid.volume_mm3 == pytest.approx(8000)
    assert any("closed a flat hole" in line for line in done.did)


def test_a_hole_too_large_to_close_is_refused_with_places():
    """A 200 mm box without its lid is not guessed at."""
    vertices, faces = mesh(manifold3d.Manifold.cube((200, 200, 20)))
    lid = np.all(vertices[faces][:, :, 2] == 20, axis=1)
    with pytest.raises(Refusal, match=r"edges are open.* at x"):
        mend(vertices, faces[~lid], "box.stl")


def test_a_bent_hole_is_not_closed_flat():
    """A hole whose rim leaves the plane is refused, not patched with a false face."""
    vertices, faces = mesh(manifold3d.Manifold.sphere(10, 16))
    at = vertices[faces].mean(axis=1)
    with pytest.raises(Refusal, match="edges are open"):
        mend(vertices, faces[~((at[:, 0] > 2) & (np.abs(at[:, 2]) < 5))])


def test_faces_turned_round_are_found_and_turned_back():
    """Some faces of a cube turned round: reported as inverted, and mended to the same solid."""
    vertices, faces = mesh(cube())
    faces[2:5] = faces[2:5, ::-1]
    assert examine(vertices, faces).has("inverted")
    done = mend(vertices, faces)
    assert done.solid.volume_mm3 == pytest.approx(8000)
    assert any("turned round" in line for line in done.did)


def test_an_inside_out_solid_is_found_and_turned():
    """A cube turned inside out is reported, and mended by turning it."""
    vertices, faces = mesh(cube())
    health = examine(vertices, faces[:, ::-1])
    assert health.has("inverted")
    assert not health.sound
    assert mend(vertices, faces[:, ::-1]).solid.volume_mm3 == pytest.approx(8000)


def test_a_hollow_is_no_inverted_body():
    """A cube with a hollow inside is sound, and keeps its hollow when mended."""
    vertices, faces = mesh(cube(40) - cube(10, (15, 15, 15)))
    assert examine(vertices, faces).sound
    assert mend(vertices, faces).solid.volume_mm3 == pytest.approx(64000 - 1000)


def test_faces_given_twice_are_found_and_dropped():
    """A face given twice, and one lying back to back with its twin, are named and mended."""
    vertices, faces = mesh(cube())
    twice = np.concatenate([faces, faces[:1], faces[:1]])
    assert examine(vertices, twice).has("duplicate faces")
    assert mend(vertices, twice).solid.volume_mm3 == pytest.approx(8000)
    flap = np.array([[0, 0, 0], [-5, 0, 0], [0, -5, 0]], dtype=float)
    with_flap = together((vertices, faces), (flap, np.array([[0, 1, 2], [0, 2, 1]])))
    assert examine(*with_flap).has("zero thickness")
    assert mend(*with_flap).solid.volume_mm3 == pytest.approx(8000)


def test_a_sheet_is_no_solid():
    """A plate a thousandth of a mm thick is zero thickness, and mending refuses it."""
    vertices, faces = mesh(manifold3d.Manifold.cube((100, 100, 0.02)))
    assert examine(vertices, faces).has("zero thickness")
    with pytest.raises(Refusal, match="without thickness"):
        mend(vertices, faces)


def test_bodies_that_pass_through_each_other_are_found_and_joined():
    """Two crossing cubes: places where they cross, and one body after mending, as manifold3d joins them."""
    vertices, faces = together(mesh(cube()), mesh(cube(20, (7, 8, 9))))
    health = examine(vertices, faces)
    assert health.sound
    assert health.bodies == 2
    assert health.has("self-intersecting")
    done = mend(vertices, faces)
    assert done.solid.volume_mm3 == pytest.approx((cube() + cube(20, (7, 8, 9))).volume())
    assert not examine(done.solid.vertices, done.solid.faces).has("self-intersecting")


def test_crossing_places_lie_on_both_surfaces():
    """A thin rod through a plate crosses its two faces, at the rod."""
    plate, rod = cube(40).scale((1, 1, 0.1)), manifold3d.Manifold.cube((2, 2, 30)).translate((19, 19, -10))
    places = crossings(*together(mesh(plate), mesh(rod)))
    assert places is not None
    assert set(places[:, 2].round(6)) == {0.0, 4.0}
    assert np.all(np.abs(places[:, :2] - 20) <= 1.0 + 1e-9)


def test_a_folded_surface_without_crossings_has_none():
    """A ball with a bore does not pass through itself."""
    places = crossings(*mesh(manifold3d.Manifold.sphere(20, 48) - manifold3d.Manifold.cylinder(60, 5, 5, 24, True)))
    assert places is not None
    assert len(places) == 0


def test_nearly_meeting_corners_are_joined():
    """A cube whose triangles each have their own corners, a few thousandths apart, becomes one solid."""
    vertices, faces = mesh(cube())
    loose = vertices[faces].reshape(-1, 3) + np.random.default_rng(5).uniform(-0.002, 0.002, (36, 3))
    done = mend(loose, np.arange(36).reshape(-1, 3))
    assert done.solid.volume_mm3 == pytest.approx(8000, rel=1e-3)
    assert any("joined 28 corners" in line for line in done.did)


@pytest.mark.parametrize(
    ("largest_mm", "stated", "harm"),
    [
        (2.0, True, "warning"),
        (6000.0, True, "warning"),
        (16.0, False, "note"),
        (16.0, True, None),
        (410.0, False, None),
    ],
)
def test_sizes_no_piece_has_are_suspect(largest_mm, stated, harm):
    """Under 3 mm or over 5 m is suspect; small and without a unit is worth a word; the rest is not."""
    found = size_complaints(largest_mm, stated)
    assert [complaint.harm for complaint in found] == ([harm] if harm else [])


def test_the_winding_number_tells_inside_from_outside():
    """1 inside a cube, 0 outside, 0 in a hollow."""
    solid = Solid(cube(40) - cube(10, (15, 15, 15)))
    assert winding_number(np.array([5.0, 5.0, 5.0]), solid.triangles) == pytest.approx(1.0)
    assert winding_number(np.array([20.0, 20.0, 20.0]), solid.triangles) == pytest.approx(0.0, abs=1e-9)
    assert winding_number(np.array([50.0, 5.0, 5.0]), solid.triangles) == pytest.approx(0.0, abs=1e-9)
