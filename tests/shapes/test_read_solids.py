"""Reading and writing solids: round trips, units said, bores of STEP files."""

from __future__ import annotations

import io
import math
import subprocess
import zipfile

import manifold3d
import numpy as np
import pytest
import trimesh
from step_text import block_with_hole

from witnessmark.job.errors import Refusal
from witnessmark.shapes import read_step as step_module
from witnessmark.shapes.bores import CylinderFace, bores
from witnessmark.shapes.read import read_solid
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_3mf, write_stl


def piece() -> Solid:
    """A 120 x 80 x 30 plate with a round pocket: flat and curved faces, coordinates that are not whole."""
    plate = manifold3d.Manifold.cube((120, 80, 30)).translate((-0.37, 1.25, 0))
    return Solid(plate - manifold3d.Manifold.cylinder(40, 22.2, 22.2, 90).translate((60, 40, 11)))


@pytest.mark.parametrize("ending", [".stl", ".3mf"])
def test_what_is_written_is_read_back(tmp_path, ending):
    """A solid written and read keeps its volume, bounds and closedness, to a file's rounding."""
    path = tmp_path / f"piece{ending}"
    (write_stl if ending == ".stl" else write_3mf)(piece(), path)
    reading = read_solid(path)
    assert reading.health.sound
    assert reading.needed().volume_mm3 == pytest.approx(piece().volume_mm3, rel=1e-5)
    np.testing.assert_allclose(reading.needed().bounds_mm, piece().bounds_mm, atol=2e-4)
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("ending", [".stl", ".3mf", ".obj"])
def test_files_of_another_library_read_the_same(tmp_path, ending):
    """STL, 3MF and OBJ written by trimesh give trimesh's own volume."""
    mesh = trimesh.creation.annulus(r_min=20, r_max=45, height=18, sections=64)
    path = tmp_path / f"ring{ending}"
    mesh.export(path)
    assert read_solid(path).needed().volume_mm3 == pytest.approx(mesh.volume, rel=1e-5)


@pytest.mark.parametrize("ending", [".stl", ".3mf"])
def test_trimesh_reads_what_we_write(tmp_path, ending):
    """Another library finds our files closed, with the same volume."""
    path = tmp_path / f"piece{ending}"
    (write_stl if ending == ".stl" else write_3mf)(piece(), path)
    mesh = trimesh.load_mesh(path)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(piece().volume_mm3, rel=1e-5)


def test_text_stl_reads_like_binary(tmp_path):
    """The text form of the same solid gives the same volume."""
    path = tmp_path / "piece.stl"
    path.write_text(trimesh.Trimesh(piece().vertices, piece().faces).export(file_type="stl_ascii"))
    assert read_solid(path).needed().volume_mm3 == pytest.approx(piece().volume_mm3, rel=1e-5)


def test_a_binary_stl_that_begins_with_solid_is_still_binary(tmp_path):
    """A header that happens to say "solid" does not make a binary file text."""
    path = write_stl(piece(), tmp_path / "piece.stl")
    content = path.read_bytes()
    path.write_bytes(b"solid facet".ljust(80) + content[80:])
    assert read_solid(path).needed().volume_mm3 == pytest.approx(piece().volume_mm3, rel=1e-5)


def test_a_file_without_unit_is_taken_as_mm_and_says_so(tmp_path):
    """STL has no unit: mm assumed, said; an asked unit overrides it, exactly."""
    path = write_stl(Solid(manifold3d.Manifold.cube((4, 2, 1))), tmp_path / "lid.stl")
    plain, inches = read_solid(path), read_solid(path, unit="inch")
    assert plain.unit == "mm"
    assert any("mm assumed" in note for note in plain.notes)
    assert plain.health.has("unit suspect")
    assert inches.health.size_mm == pytest.approx((101.6, 50.8, 25.4))
    assert not any("assumed" in note for note in inches.notes)
    assert not inches.health.has("unit suspect")


def test_an_unknown_unit_is_refused_with_those_known(tmp_path):
    """A unit nobody knows is answered with the list."""
    path = write_stl(piece(), tmp_path / "piece.stl")
    with pytest.raises(Refusal, match="mm, cm, m, inch"):
        read_solid(path, unit="ell")


@pytest.mark.parametrize(
    ("unit", "factor"), [("inch", 25.4), ("micron", 1e-3), ("foot", 304.8), ("centimeter", 10.0)]
)
def test_the_unit_of_a_3mf_is_honoured(tmp_path, unit, factor):
    """A 3MF of a 60 x 40 x 20 block in another unit comes out in mm (units of the 3MF Core Specification)."""
    path = write_3mf(Solid(manifold3d.Manifold.cube((60, 40, 20))), tmp_path / "block.3mf")
    content = io.BytesIO()
    with zipfile.ZipFile(path) as given, zipfile.ZipFile(content, "w") as made:
        for name in given.namelist():
            made.writestr(name, given.read(name).replace(b'unit="millimeter"', f'unit="{unit}"'.encode()))
    path.write_bytes(content.getvalue())
    assert read_solid(path).health.size_mm == pytest.approx((60 * factor, 40 * factor, 20 * factor), abs=1e-4)


def test_an_obj_with_hollow_faces_stays_true(tmp_path):
    """An L-shaped prism given as two six-sided faces and six four-sided ones covers nothing outside the L."""
    ring = [(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)]
    corners = [f"v {x} {y} {z}" for z in (0, 12) for x, y in ring]
    walls = [f"f {i + 1} {(i + 1) % 6 + 1} {(i + 1) % 6 + 7} {i + 7}" for i in range(6)]
    path = tmp_path / "ell.obj"
    path.write_text("\n".join([*corners, "f 6 5 4 3 2 1", "f 7 8 9 10 11 12", *walls]))
    solid = read_solid(path).needed()
    assert solid.volume_mm3 == pytest.approx(500 * 12)
    ((_, top),) = solid.flat_levels()
    assert top.area == pytest.approx(500)
    assert solid.silhouette().area == pytest.approx(500)


def test_obj_corners_may_be_counted_back_and_carry_textures(tmp_path):
    """Negative corner numbers and "corner/texture/normal" triples are read."""
    mesh = trimesh.creation.box((10, 20, 30))
    corners = [f"v {x} {y} {z}" for x, y, z in mesh.vertices]
    faces = [f"f {a - 8}/1/1 {b - 8}//2 {c - 8}/3" for a, b, c in mesh.faces]
    path = tmp_path / "box.obj"
    path.write_text("\n".join([*corners, *faces]))
    assert read_solid(path).needed().volume_mm3 == pytest.approx(6000)


def test_an_open_file_comes_with_its_health_and_can_be_mended(tmp_path):
    """A cube without one triangle: no solid, a reason when one is needed, and mended on request."""
    solid = Solid(manifold3d.Manifold.cube((20, 20, 20)))
    path = tmp_path / "open.stl"
    trimesh.Trimesh(solid.vertices, solid.faces[1:], process=False).export(path)
    reading = read_solid(path)
    assert reading.solid is None
    with pytest.raises(Refusal, match=r"open\.stl: 3 edges are open"):
        reading.needed()
    mended = reading.mended()
    assert mended.needed().volume_mm3 == pytest.approx(8000)
    assert any(note.startswith("mended: closed") for note in mended.notes)


@pytest.mark.parametrize(("inches", "factor"), [(False, 1.0), (True, 25.4)])
def test_a_step_file_carries_its_unit_and_its_bore(tmp_path, inches, factor):
    """A block with a blind hole in mm or inches: size, volume and the hole's mouth, way, diameter and depth."""
    size, radius, depth = (4.0, 2.4, 1.2), 0.25, 0.7
    path = tmp_path / "block.step"
    path.write_text(block_with_hole(size, (1.6, 1.0), radius, depth, inches))
    reading = read_solid(path)
    volume = (math.prod(size) - math.pi * radius**2 * depth) * factor**3
    assert reading.health.size_mm == pytest.approx([s * factor for s in size], abs=1e-4)
    assert reading.needed().volume_mm3 == pytest.approx(volume, rel=1e-3)
    (bore,) = reading.features
    assert bore.axis == "z"
    assert bore.point_mm == pytest.approx((1.6 * factor, 1.0 * factor, 1.2 * factor), abs=1e-3)
    assert bore.direction == pytest.approx((0, 0, -1))
    assert (bore.diameter_mm, bore.depth_mm) == pytest.approx((2 * radius * factor, depth * factor), abs=1e-3)


def test_a_step_file_that_takes_too_long_is_refused(tmp_path, monkeypatch):
    """The child process is ended at the time limit, and the maker told what to do."""

    def hangs(command, **options):
        raise subprocess.TimeoutExpired(command, options["timeout"])

    monkeypatch.setattr(step_module.subprocess, "run", hangs)
    path = tmp_path / "block.step"
    path.write_text(block_with_hole((4.0, 2.0, 1.0), (1.0, 1.0), 0.2, 0.5))
    with pytest.raises(Refusal, match="within 120 s"):
        read_solid(path)


def cylinder_face(radius, low, high, hollow=True, turn=(0.0, 2 * math.pi), at=(0.0, 0.0)):
    """The wall of a cylinder about z as triangles, normals inward for a hole."""
    angles = np.linspace(*turn, 65)
    ring = np.column_stack([at[0] + radius * np.cos(angles), at[1] + radius * np.sin(angles)])
    a, b = ring[:-1], ring[1:]

    def corners(places, z):
        return np.column_stack([places, np.full(len(places), z)])

    one = np.stack([corners(a, low), corners(b, low), corners(b, high)], axis=1)
    other = np.stack([corners(a, low), corners(b, high), corners(a, high)], axis=1)
    triangles = np.concatenate([one, other])
    if hollow:
        triangles = triangles[:, ::-1]
    return CylinderFace(np.array([*at, 0.0]), np.array([0.0, 0.0, 1.0]), radius, triangles)


def drilled(through=False) -> np.ndarray:
    bit = manifold3d.Manifold.cylinder(40, 5, 5, 64).translate((0, 0, -5 if through else 12))
    return Solid(manifold3d.Manifold.cube((60, 60, 30), True).translate((0, 0, 15)) - bit).triangles


def test_a_blind_bore_starts_at_its_open_end():
    """Open above, floored below: mouth on top, way down, however the halves are given."""
    halves = [cylinder_face(5, 12, 30, turn=(0, math.pi)), cylinder_face(5, 12, 30, turn=(math.pi, 2 * math.pi))]
    (bore,) = bores(halves, drilled())
    assert bore.point_mm == pytest.approx((0, 0, 30))
    assert bore.direction == pytest.approx((0, 0, -1))
    assert bore.depth_mm == pytest.approx(18)


def test_a_through_bore_is_as_deep_as_the_wood():
    """Open at both ends: taken from above."""
    (bore,) = bores([cylinder_face(5, 0, 30)], drilled(through=True))
    assert bore.point_mm == pytest.approx((0, 0, 30))
    assert bore.depth_mm == pytest.approx(30)


def test_pins_and_rounded_corners_are_no_bores():
    """A cylinder with its wood inside, and a quarter of one, are passed over."""
    assert bores([cylinder_face(5, 12, 30, hollow=False)], drilled()) == ()
    assert bores([cylinder_face(5, 12, 30, turn=(0, math.pi / 2))], drilled()) == ()
