"""Hostile and broken files: always a refusal that says what is wrong, never a crash, a hang or a flood of memory."""

from __future__ import annotations

import contextlib
import functools
import io
import re
import tempfile
import time
import zipfile
from pathlib import Path

import ezdxf
import manifold3d
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from step_text import block_with_hole

from witnessmark.job.errors import Refusal
from witnessmark.shapes.crossing import crossings
from witnessmark.shapes.mend import mend
from witnessmark.shapes.read import read_outline, read_solid
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_3mf, write_stl

SOLIDS = (".step", ".stl", ".3mf", ".obj")
DRAWINGS = (".dxf", ".svg")
BOMB = (
    '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]><svg xmlns="http://www.w3.org/2000/svg"><text>&c;</text></svg>'
)


def read(path):
    if path.suffix in DRAWINGS:
        return read_outline(path)
    reading = read_solid(path)
    reading.needed()
    return reading


def sample(folder, ending):
    """A good file of each kind."""
    path = folder / f"good{ending}"
    solid = Solid(manifold3d.Manifold.cube((60, 40, 20)))
    if ending == ".stl":
        return write_stl(solid, path)
    if ending == ".3mf":
        return write_3mf(solid, path)
    if ending == ".obj":
        corners = [f"v {x} {y} {z}" for x, y, z in solid.vertices]
        path.write_text("\n".join([*corners, *(f"f {a + 1} {b + 1} {c + 1}" for a, b, c in solid.faces)]))
    elif ending in (".step", ".stp"):
        path.write_text(block_with_hole((60.0, 40.0, 20.0), (20.0, 20.0), 5.0, 8.0))
    elif ending == ".dxf":
        document = ezdxf.new()
        document.modelspace().add_circle((0, 0), 20)
        document.saveas(path)
    else:
        path.write_text('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><circle r="3"/></svg>')
    return path


@functools.cache
def sample_bytes(ending):
    """The same bytes each time: a drawing carries the time it was written, and its length with it."""
    with tempfile.TemporaryDirectory() as folder:
        return sample(Path(folder), ending).read_bytes()


@pytest.mark.parametrize("ending", [*SOLIDS, *DRAWINGS])
def test_the_samples_themselves_are_sound(tmp_path, ending):
    """What is broken below is sound before it is broken."""
    read(sample(tmp_path, ending))


@pytest.mark.parametrize("ending", [*SOLIDS, *DRAWINGS])
@pytest.mark.parametrize(
    "content", [b"", b"\n\n  ", b"\0" * 3000, b"the quick brown fox\n" * 50, bytes(range(256)) * 20]
)
def test_rubbish_is_refused(tmp_path, ending, content):
    """Empty files, blanks, zeros, prose and all bytes are refused with a remedy, whatever the ending says."""
    path = tmp_path / f"rubbish{ending}"
    path.write_bytes(content)
    with pytest.raises(Refusal) as caught:
        read(path)
    assert caught.value.troubles[0].remedies
    assert "rubbish" in str(caught.value)


@pytest.mark.parametrize("ending", [*SOLIDS, *DRAWINGS])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_file_cut_off_is_refused_or_sound(tmp_path, ending, share):
    """A file that ends early is refused; none is taken for a sound solid of another size."""
    path = sample(tmp_path, ending)
    content = path.read_bytes()
    path.write_bytes(content[: int(share * len(content))])
    with pytest.raises(Refusal):
        read(path)


@pytest.mark.parametrize("ending", [*SOLIDS, *DRAWINGS])
def test_a_missing_file_and_a_folder_are_refused(tmp_path, ending):
    """No file, or a folder of that name."""
    with pytest.raises(Refusal, match="cannot be read"):
        read(tmp_path / f"missing{ending}")
    (tmp_path / f"folder{ending}").mkdir()
    with pytest.raises(Refusal, match="is no file"):
        read(tmp_path / f"folder{ending}")


def test_an_unknown_ending_is_answered_with_the_known(tmp_path):
    """A photograph is no shape."""
    with pytest.raises(Refusal, match=r"\.step, \.stp, \.stl"):
        read_solid(tmp_path / "photo.jpeg")
    with pytest.raises(Refusal, match="DXF or SVG"):
        read_outline(tmp_path / "photo.jpeg")


def test_a_binary_stl_that_claims_billions_of_triangles_is_refused_at_once(tmp_path):
    """A count beyond the file's own length is seen before any memory is taken."""
    path = tmp_path / "huge.stl"
    path.write_bytes(b"\0" * 80 + (4_000_000_000).to_bytes(4, "little") + b"\1" * 500)
    start = time.perf_counter()
    with pytest.raises(Refusal, match="says that it holds 4000000000 triangles but ends after 10"):
        read(path)
    assert time.perf_counter() - start < 1.0


@pytest.mark.parametrize("value", [np.nan, np.inf, 1e30])
def test_corners_that_are_no_places_are_refused(tmp_path, value):
    """Not-a-numbers, infinities and light years."""
    path = write_stl(Solid(manifold3d.Manifold.cube((60, 40, 20))), tmp_path / "odd.stl")
    content = bytearray(path.read_bytes())
    content[96:100] = np.float32(value).tobytes()
    path.write_bytes(bytes(content))
    with pytest.raises(Refusal):
        read(path)


def test_an_odd_entry_in_a_drawing_is_counted_and_the_librarys_own_words_are_kept_from_the_log(tmp_path, caplog):
    """Those hold the bytes of the file, here some that are no text."""
    path = tmp_path / "odd.dxf"
    start, end = sample_bytes(".dxf").rsplit(b"CIRCLE", 1)
    odd = b"  0\nC\xadRCLE\n  5\n2E\n330\n17\n100\nAcDbEntity\n  8\n0\n  0\nENDSEC"
    path.write_bytes(start + b"CIRCLE" + end.replace(b"  0\nENDSEC", odd, 1))
    assert any("1 odd entries were put right" in note for note in read_outline(path).notes)
    assert not caplog.records


@pytest.mark.parametrize("line", ["f 1 2 99", "f 1 2 0", "f 1 2 -99", "f a b c", "v 1 2", "v x y z"])
def test_an_obj_that_names_what_is_not_there_is_refused_with_its_line(tmp_path, line):
    """Corner numbers beyond the list, and words for numbers."""
    path = sample(tmp_path, ".obj")
    path.write_text(path.read_text() + f"\n{line}\n")
    with pytest.raises(Refusal):
        read(path)


def test_a_heap_of_overlapping_triangles_does_not_fill_the_memory(tmp_path):
    """A hundred thousand triangles through each other, none closed: refused in seconds."""
    random = np.random.default_rng(7)
    facets = np.zeros(100_000, dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
    facets["corners"] = random.uniform(0, 200, (100_000, 3, 3))
    path = tmp_path / "heap.stl"
    path.write_bytes(b"\0" * 80 + (100_000).to_bytes(4, "little") + facets.tobytes())
    with pytest.raises(Refusal, match="edges are open"):
        read(path)
    faces = np.arange(300_000).reshape(-1, 3)
    assert crossings(facets["corners"].reshape(-1, 3).astype(float), faces) is None


def test_corners_all_in_one_place_are_refused_when_mended():
    """A mesh smaller than the joining tolerance is told to say its unit; its pairs are never listed."""
    places = np.random.default_rng(3).uniform(0, 0.005, (30_000, 3))
    with pytest.raises(Refusal, match="say the unit"):
        mend(places, np.arange(30_000).reshape(-1, 3))


def test_an_entity_bomb_in_svg_is_refused_at_once(tmp_path):
    """Entities that would grow without end are never opened, in any encoding."""
    for encoding in ("utf-8", "utf-16"):
        path = tmp_path / "bomb.svg"
        path.write_bytes(BOMB.encode(encoding))
        start = time.perf_counter()
        with pytest.raises(Refusal, match="entities"):
            read(path)
        assert time.perf_counter() - start < 1.0


def test_an_svg_fetches_nothing(tmp_path):
    """A document type that points elsewhere is not followed; the drawing is read without it."""
    secret = tmp_path / "secret.dtd"
    secret.write_text('<!ENTITY x "y">')
    path = tmp_path / "points.svg"
    path.write_text(
        f'<!DOCTYPE svg SYSTEM "{secret.as_uri()}"><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9">'
        '<rect width="9" height="9"/></svg>'
    )
    assert read(path).polygon.area > 0


def test_groups_within_groups_without_end_are_refused(tmp_path):
    """Thousands of nested groups do not break the reader."""
    path = tmp_path / "deep.svg"
    path.write_text('<svg xmlns="http://www.w3.org/2000/svg">' + "<g>" * 5000 + "</g>" * 5000 + "</svg>")
    with pytest.raises(Refusal):
        read(path)


@pytest.mark.parametrize(
    "data", ["M0 0 A1e9 1e9 0 0 1 1e9 5 Z", "M0 0 C1e300 0 0 1e300 9 9 Z", "M0 0 L", "Z", "M 1 nan L 2 2 3 3z"]
)
def test_path_data_out_of_this_world_is_refused(tmp_path, data):
    """Arcs of a thousand kilometres, overflow, missing and odd numbers."""
    path = tmp_path / "odd.svg"
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="{data}"/></svg>')
    with pytest.raises(Refusal):
        read(path)


def test_bombs_in_a_3mf_are_refused(tmp_path):
    """A document type in the model, and an archive that unpacks to gigabytes."""
    path = sample(tmp_path, ".3mf")
    with zipfile.ZipFile(path) as given:
        model = given.read("3D/3dmodel.model")
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as made:
        made.writestr("3D/3dmodel.model", model.replace(b"?>", b'?><!DOCTYPE model [<!ENTITY a "b">]>', 1))
    path.write_bytes(content.getvalue())
    with pytest.raises(Refusal, match="document type"):
        read(path)
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as made, made.open("3D/3dmodel.model", "w") as part:
        for _ in range(600):
            part.write(b" " * 2**20)
    path.write_bytes(content.getvalue())
    with pytest.raises(Refusal, match="unpacks to more"):
        read(path)


def test_a_3mf_that_names_a_missing_corner_is_refused(tmp_path):
    """A triangle beyond the list of corners."""
    path = sample(tmp_path, ".3mf")
    with zipfile.ZipFile(path) as given:
        parts = {name: given.read(name) for name in given.namelist()}
    with zipfile.ZipFile(path, "w") as made:
        for name, part in parts.items():
            made.writestr(name, re.sub(rb'v1="\d+"', b'v1="999"', part, count=1))
    with pytest.raises(Refusal):
        read(path)


@given(st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_files_with_bytes_changed_are_read_or_refused(tmp_path, data):
    """A few bytes changed anywhere in a good file: read, or refused; nothing else ever comes out."""
    ending = data.draw(st.sampled_from([".stl", ".3mf", ".obj", ".dxf", ".svg"]))
    path = tmp_path / f"good{ending}"
    content = bytearray(sample_bytes(ending))
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    path.write_bytes(bytes(content))
    with contextlib.suppress(Refusal):
        read(path)
