"""check tells the health of each shape, and mends it if asked."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.cli.main import main
from witnessmark.job.demonstration import box_job
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job, save_job
from witnessmark.job.models import Blank, PieceSpec
from witnessmark.shapes.read import read_solid
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.check import check, mend_pieces

CORNERS = np.array([[x, y, z] for x in (0, 40) for y in (0, 30) for z in (0, 20)], dtype=float)
FACES = np.array(
    [
        *([0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1]),
        *([2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3]),
    ]
)


def obj_text(faces: np.ndarray) -> str:
    """The block 40 x 30 x 20 mm with these of its faces."""
    rows = [f"v {x} {y} {z}" for x, y, z in CORNERS] + [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in faces]
    return "\n".join(rows) + "\n"


def lay_out(folder, faces, species="cherry, black"):
    """A job of one block with these faces, without a unit."""
    folder.mkdir()
    (folder / "block.obj").write_text(obj_text(faces))
    blank = Blank(size_x_mm=100, size_y_mm=90, size_z_mm=24, species=species)
    save_job(
        box_job().model_copy(update={"pieces": (PieceSpec(name="block", shape="block.obj", blank=blank),)}), folder
    )
    return folder


def test_a_whole_shape_is_told_with_its_size_and_bodies(tmp_path):
    """The health names the size, the bodies, and that nothing states the unit."""
    found = check(lay_out(tmp_path / "job", FACES))
    assert found.health[0] == "block: 40.0 x 30.0 x 20.0 mm, one body, closed all round"
    assert found.woods == ()


def test_two_bodies_and_small_sizes_are_told(tmp_path, capsys):
    """Several bodies, and a size that may be inches, are printed with what to do."""
    folder = lay_out(tmp_path / "job", FACES, species="black chery")
    one = Solid.from_mesh(CORNERS / 4, FACES, "one")
    pair = Solid.from_mesh(
        np.concatenate([one.vertices, one.vertices + np.array([15, 0, 0])]),
        np.concatenate([one.faces, one.faces + 8]),
        "pair",
    )
    write_stl(pair, folder / "block.stl")
    job = load_job(folder)
    save_job(job.model_copy(update={"pieces": (job.pieces[0].model_copy(update={"shape": "block.stl"}),)}), folder)
    assert main(["check", str(folder)]) == 0
    printed = capsys.readouterr().out
    assert "holds 2 separate bodies" in printed
    assert "say the unit if it is inches" in printed
    assert 'did you mean "cherry, black"?' in printed


def test_an_open_shape_is_refused_then_mended(tmp_path, capsys):
    """A block without a lid: check refuses it, --mend writes it whole beside and names it in job.toml."""
    folder = lay_out(tmp_path / "job", FACES[:-2])
    with pytest.raises(Refusal, match="open"):
        check(folder)
    before = (folder / "block.obj").read_bytes()
    assert main(["check", "--mend", str(folder)]) == 0
    assert "closed a flat hole" in capsys.readouterr().out
    assert load_job(folder).pieces[0].shape == "block-mended.stl"
    assert read_solid(folder / "block-mended.stl").needed().volume_mm3 == pytest.approx(40 * 30 * 20)
    assert (folder / "block.obj").read_bytes() == before


def test_what_cannot_be_mended_leaves_everything_as_it_was(tmp_path):
    """One face of a block is no solid: refused, and neither job.toml nor the folder changes."""
    folder = lay_out(tmp_path / "job", FACES[:1])
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    with pytest.raises(Refusal):
        mend_pieces(folder)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_mended_file_is_never_written_over(tmp_path):
    """A file of that name is there already: refused, and it stays."""
    folder = lay_out(tmp_path / "job", FACES[:-2])
    (folder / "block-mended.stl").write_text("the maker's own")
    with pytest.raises(Refusal, match="is there already"):
        mend_pieces(folder)
    assert (folder / "block-mended.stl").read_text() == "the maker's own"


def test_a_whole_shape_is_not_mended(tmp_path):
    """Nothing to mend: said so, and nothing written."""
    folder = lay_out(tmp_path / "job", FACES)
    assert mend_pieces(folder) == ("block: nothing to mend",)
    assert not (folder / "block-mended.stl").exists()
