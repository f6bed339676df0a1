"""The catalog is listed, and its machines and cutters stand in for typed sizes."""

import json

import manifold3d
import pytest

from witnessmark.cli.main import main
from witnessmark.job import catalog
from witnessmark.job.files import load_job
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl


@pytest.fixture
def shape(tmp_path):
    return write_stl(Solid(manifold3d.Manifold.cube((120, 80, 25), True)), tmp_path / "block.stl")


def test_everything_listed_is_told(capsys) -> None:
    assert main(["new", "--list"]) == 0
    said = capsys.readouterr().out
    for name in (*catalog.machines(), *catalog.cutters(), *catalog.species()):
        assert name in said
    assert main(["new", "--list", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert set(told["machines"]) == set(catalog.machines())
    assert told["woods"] == sorted(catalog.species())


def test_a_listed_machine_and_cutters_need_no_sizes(shape, tmp_path) -> None:
    words = ["new", str(tmp_path / "job"), "--shape", str(shape), "--yes"]
    assert main([*words, "--machine", "three-hundred router", "--cutters", "flat 6, ball 6"]) == 0
    job = load_job(tmp_path / "job")
    assert job.machine == catalog.machines()["three-hundred router"].machine
    assert job.cutters == tuple(catalog.cutters()[name].cutter for name in ("flat 6", "ball 6"))


@pytest.mark.parametrize("machine", catalog.machines())
def test_every_listed_cutter_goes_with_every_listed_machine(machine, shape, tmp_path) -> None:
    """A narrow router turns slower than cutters are listed: those are set down, and the job is whole."""
    words = ["new", str(tmp_path / "job"), "--shape", str(shape), "--yes", "--machine", machine]
    assert main([*words, "--cutters", ",".join(catalog.cutters())]) == 0
    assert main(["check", str(tmp_path / "job")]) == 0
    box = ["box", str(tmp_path / "round"), "--formula", "r = 40", "--inside-height", "20", "--machine", machine]
    assert main(box) == 0
    assert [cutter.name for cutter in load_job(tmp_path / "round").cutters] == ["flat 6", "ball 6", "flat 3"]


def test_a_short_cutter_in_the_list_does_not_keep_the_long_one_up(tmp_path) -> None:
    """On the narrow router, with 60 mm of travel in Z, a flat 3 with 30 mm of stick-out ends 6 mm over the bed; the
    flat 6 with 45 mm goes on to the foot of the outer walls all the same, and the box is proven."""
    box = [
        "box",
        str(tmp_path / "job"),
        "--formula",
        "r = 30",
        "--inside-height",
        "12",
        "--wall",
        "6",
        "--floor",
        "5",
    ]
    assert main([*box, "--machine", "narrow table router"]) == 0
    for verb in ("plan", "program", "prove"):
        assert main([verb, str(tmp_path / "job")]) == 0


def test_names_that_are_not_listed_are_refused_with_the_nearest(shape, tmp_path, capsys) -> None:
    words = ["new", str(tmp_path / "job"), "--shape", str(shape), "--yes"]
    assert main([*words, "--machine", "three hundred router", "--cutters", "flat 6,flaf 3"]) == 1
    told = capsys.readouterr().err
    assert "did you mean three-hundred router?" in told
    assert "did you mean flat 3?" in told
    assert not (tmp_path / "job").exists()


def test_without_a_folder_or_a_shape_both_are_asked_for(capsys) -> None:
    assert main(["new", "--yes"]) == 1
    told = capsys.readouterr().err
    assert "FOLDER: is needed" in told
    assert "--shape: is needed" in told
