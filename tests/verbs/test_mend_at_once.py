"""A shape that needs mending is mended by look and new where asked; files in another unit are told so."""

import manifold3d
import numpy as np
import pytest

from witnessmark.cli.main import main
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job
from witnessmark.shapes.read import read_solid
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.check import check

SIZES = ["--travel", "300x400x90", "--cutter", "6", "--stick-out", "45", "--nut", "20x20", "--nose", "65"]


def block(scale=1.0) -> Solid:
    return Solid(manifold3d.Manifold.cube((60.0 * scale, 40.0 * scale, 15.0 * scale)))


def obj(path, solid: Solid, turned=False, without=0):
    """The block as OBJ text, inside out or with faces missing."""
    corners = solid.triangles.reshape(-1, 3)
    lines = [f"v {x} {y} {z}" for x, y, z in corners]
    faces = np.arange(1, len(corners) + 1).reshape(-1, 3)[without:]
    lines += ["f " + " ".join(str(i) for i in (face[::-1] if turned else face)) for face in faces]
    path.write_text("\n".join(lines) + "\n")
    return path


def test_an_inside_out_shape_is_mended_where_asked(tmp_path, capsys) -> None:
    shape = obj(tmp_path / "block.obj", block(), turned=True)
    look = ["look", str(shape), *SIZES, "--picture", str(tmp_path / "look.png")]
    assert main(look) == 1
    assert "add --mend to look, new or check" in capsys.readouterr().err
    assert main([*look, "--mend"]) == 0
    assert "mended: " in capsys.readouterr().out
    new = ["new", str(tmp_path / "job"), "--shape", str(shape), *SIZES, "--yes"]
    assert main(new) == 1
    assert not (tmp_path / "job").exists()
    assert main([*new, "--mend"]) == 0
    job = load_job(tmp_path / "job")
    assert job.pieces[0].shape == "block-mended.stl"
    assert (tmp_path / "job" / "block.obj").read_bytes() == shape.read_bytes()
    assert check(tmp_path / "job").pieces == ("block",)


def test_what_cannot_be_mended_is_not_sent_round_again(tmp_path, capsys) -> None:
    """Two thirds of the faces gone: the advice after mending is another one, with the places."""
    shape = obj(tmp_path / "block.obj", block(4.0), without=7)
    assert main(["look", str(shape), *SIZES, "--mend", "--picture", str(tmp_path / "look.png")]) == 1
    told = capsys.readouterr().err
    assert "could not be mended" in told
    assert "--mend" not in told
    assert " at x " in told


@pytest.mark.parametrize(("scale", "unit", "size"), [(0.001, "m", "60"), (0.1, "cm", "60"), (1 / 25.4, "inch", "60")])
def test_a_shape_in_another_unit_is_told_so(tmp_path, scale, unit, size) -> None:
    """A block of 60 mm saved in metres, centimetres or inches as a format that states no unit."""
    shape = obj(tmp_path / "block.obj", block(scale))
    remedy = f'drawn in {unit} it is {size} mm large (--unit {unit}; shape_unit = "{unit}")'
    try:
        said = " ".join(read_solid(shape).health.complaints[0].remedies)
    except Refusal as refusal:
        said = str(refusal)
        assert "states no unit" in said
    if scale * 60.0 < 3.0:
        assert remedy in said
    else:
        assert "say the unit" in said or remedy in said
    found = read_solid(shape, unit)
    assert found.solid is not None
    assert found.health.size_mm[0] == pytest.approx(60.0, abs=0.01)


def test_look_asks_about_the_unit(tmp_path, capsys) -> None:
    """A block of 2.36 (60 mm in inches): look goes on in mm and asks."""
    shape = write_stl(block(1 / 25.4), tmp_path / "block.stl")
    main(["look", str(shape), *SIZES, "--picture", str(tmp_path / "look.png")])
    captured = capsys.readouterr()
    assert "drawn in inch it is 60 mm large" in captured.out + captured.err
