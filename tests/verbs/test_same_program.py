"""prove --check: a copy of a proven program is known again, a changed one is not."""

import json

import manifold3d
import pytest

from witnessmark.cli.main import main
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.new import first_job, new
from witnessmark.verbs.prove import prove


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    root = tmp_path_factory.mktemp("same")
    cube = manifold3d.Manifold.cube
    body = cube((60.0, 40.0, 12.0)) - cube((30.0, 20.0, 12.0)).translate((15.0, 10.0, 6.0))
    shape = write_stl(Solid(body), root / "tray.stl")
    job = first_job(shape, LookSizes((300, 400, 90), 6, 45, (20, 20), 65))
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.25})
    made = new(root / "job", shape, job.model_copy(update={"settings": settings}))
    plan(made)
    program(made)
    assert prove(made).passed
    return made


def copied(folder, tmp_path, change=lambda text: text):
    (first, *_) = sorted((folder / "out" / "programs").glob("*.nc"))
    copy = tmp_path / "AT_THE_MACHINE.NC"
    copy.write_bytes(change(first.read_text()).encode())
    return first, copy


def test_a_copy_is_known_again_whatever_its_line_ends(folder, tmp_path, capsys) -> None:
    first, copy = copied(folder, tmp_path, lambda text: text.replace("\n", "\r\n"))
    assert main(["prove", str(folder), "--check", str(copy), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["file"] == first.name
    assert told["fingerprint"] in first.read_text()
    assert main(["prove", str(folder), "--check", str(copy)]) == 0
    assert first.name in capsys.readouterr().out


def test_a_changed_program_is_not(folder, tmp_path, capsys) -> None:
    _, copy = copied(folder, tmp_path, lambda text: text.replace("G1 Z", "G1  Z", 1))
    assert main(["prove", str(folder), "--check", str(copy)]) == 1
    assert "was changed after its proof" in capsys.readouterr().err


def test_a_stranger_is_not(folder, tmp_path, capsys) -> None:
    stranger = tmp_path / "other.nc"
    stranger.write_text("G21 G0 Z5\nM2\n")
    assert main(["prove", str(folder), "--check", str(stranger)]) == 1
    assert "none of the programs proven" in capsys.readouterr().err
    assert main(["prove", str(folder), "--check", str(tmp_path / "nowhere.nc")]) == 1
    assert "cannot be read" in capsys.readouterr().err


def test_a_proof_of_another_job_counts_for_nothing(folder, tmp_path, capsys) -> None:
    _, copy = copied(folder, tmp_path)
    job = folder / "job.toml"
    before = job.read_text()
    try:
        job.write_text(before.replace("scallop_mm = 0.05", "scallop_mm = 0.06"))
        assert job.read_text() != before
        assert main(["prove", str(folder), "--check", str(copy)]) == 1
        assert "as they are now" in capsys.readouterr().err
    finally:
        job.write_text(before)
