"""--json: whatever the verb and however it ends, standard output is one JSON document and nothing else."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import manifold3d
import pytest

from witnessmark.cli.main import main
from witnessmark.job.demonstration import BOX_SHAPE, box_job
from witnessmark.job.files import load_job, save_job
from witnessmark.job.models import Job
from witnessmark.proof.report import SCHEMA
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs import demo

SIZES = ["--travel", "300x400x90", "--cutter", "6", "--stick-out", "45", "--nut", "20x20", "--nose", "65"]
Printed = pytest.CaptureFixture[str]


def little_block() -> Solid:
    """60 x 40 x 12 mm with a pocket of 30 x 20 x 5 mm, its corners as round as the cutter."""
    pocket = manifold3d.CrossSection.square((24.0, 14.0), True).offset(3.2, manifold3d.JoinType.Round, 2.0, 64)
    hollow = manifold3d.Manifold.extrude(pocket, 6.0).translate((0, 0, 7.0))
    return Solid(manifold3d.Manifold.cube((60.0, 40.0, 12.0), True).translate((0, 0, 6.0)) - hollow)


def coarse(job: Job) -> Job:
    pitches = {"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.5}
    return job.model_copy(update={"settings": job.settings.model_copy(update=pitches)})


@pytest.fixture(scope="module")
def shape(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_stl(little_block(), tmp_path_factory.mktemp("shapes") / "block.stl")


@pytest.fixture(scope="module")
def written(shape: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small job, planned and with its programs written, on coarse grids."""
    folder = tmp_path_factory.mktemp("job") / "block"
    assert main(["new", str(folder), "--shape", str(shape), *SIZES, "--yes"]) == 0
    save_job(coarse(load_job(folder)), folder)
    assert main(["plan", str(folder)]) == 0
    assert main(["program", str(folder)]) == 0
    return folder


@pytest.fixture
def job(written: Path, tmp_path: Path) -> Path:
    """A copy of it to work on."""
    return Path(shutil.copytree(written, tmp_path / "block"))


def alone(words: list[str], capfd: Printed, status: int = 0) -> Any:
    """Run a verb with --json; what stands on standard output must be strict JSON, with nothing on standard error."""

    def no_number(name: str) -> None:
        raise AssertionError(f"{name} is not JSON")

    capfd.readouterr()
    assert main([*words, "--json"]) == status
    out, err = capfd.readouterr()
    assert err == ""
    return json.loads(out, parse_constant=no_number)


def test_look(shape: Path, tmp_path: Path, capfd: Printed) -> None:
    """The words, the placements and where the picture is."""
    told = alone(["look", str(shape), *SIZES, "--picture", str(tmp_path / "look.png")], capfd)
    assert told["fits"] is True
    assert Path(told["picture"]).is_file()


def test_new_and_check(shape: Path, tmp_path: Path, capfd: Printed) -> None:
    """new tells the folder, check the pieces and their health; mended or not, the keys are the same."""
    folder = tmp_path / "job"
    assert alone(["new", str(folder), "--shape", str(shape), *SIZES, "--yes"], capfd) == {
        "folder": str(folder),
        "answers": {},
    }
    told = alone(["check", str(folder)], capfd)
    assert told["pieces"] == ["block"]
    assert alone(["check", str(folder), "--mend"], capfd) == told | {"mended": ["block: nothing to mend"]}


def test_plan_and_program(job: Path, capfd: Printed) -> None:
    """Both tell the placements; program adds the files, with the minutes that stand in the plan."""
    (planned,) = alone(["plan", str(job), "--solids"], capfd)
    assert planned["bound"] == len(planned["placements"])
    assert all(step["programs"] == [] for step in planned["placements"])
    (programmed,) = alone(["program", str(job)], capfd)
    files = [info["file"] for step in programmed["placements"] for info in step["programs"]]
    files += [step["rehearsal"] for step in programmed["placements"]]
    assert sorted(files) == sorted(path.name for path in (job / "out" / "drafts").glob("*.nc"))


def test_prove_that_passes(job: Path, capfd: Printed) -> None:
    """The proof as it is kept in proof.json; status 0."""
    told = alone(["prove", str(job)], capfd)
    assert told == json.loads((job / "out" / "proof.json").read_text(encoding="utf-8"))
    assert told["schema"] == SCHEMA
    assert told["passed"] is True
    assert [piece["piece"] for piece in told["pieces"]] == ["block"]


@pytest.mark.parametrize("more", [[], ["--force"]])
def test_prove_that_fails(job: Path, capfd: Printed, more: list[str]) -> None:
    """A failed proof is JSON as well, with the finding in it; status 1, by force or not."""
    draft = sorted((job / "out" / "drafts").glob("*-flat-6.nc"))[0]
    draft.write_text(draft.read_text(encoding="utf-8").replace(" M3\n", "\n"), encoding="utf-8")
    told = alone(["prove", str(job), *more], capfd, status=1)
    assert told["passed"] is False
    found = [(f["kind"], f["file"]) for f in told["pieces"][0]["findings"] if f["harm"] == "stop"]
    assert found == [("spindle off while cutting", draft.name)]


def test_sheet(job: Path, capfd: Printed) -> None:
    """Where the bench sheet is."""
    told = alone(["sheet", str(job)], capfd)
    assert Path(told["sheet"]).read_bytes().startswith(b"%PDF")


def test_demo(tmp_path: Path, capfd: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole job at once tells its proof alone (here on a little block in place of the box)."""
    job = coarse(box_job())
    blank = job.pieces[0].blank.model_copy(
        update={"size_x_mm": 100.0, "size_y_mm": 80.0, "size_z_mm": 14.0, "glue_lines_z_mm": ()}
    )
    little = job.model_copy(update={"pieces": (job.pieces[0].model_copy(update={"blank": blank}),)})
    monkeypatch.setitem(demo.EXAMPLES, "box", demo.Example(lambda: little, {BOX_SHAPE: little_block}))
    told = alone(["demo", "--example", "box", "--out", str(tmp_path / "demo")], capfd)
    assert told["passed"] is True


@pytest.mark.parametrize("verb", ["check", "plan", "program", "prove", "sheet"])
def test_a_refusal_is_json_too(verb: str, tmp_path: Path, capfd: Printed) -> None:
    """What the world says no to: words on standard error, status 1; standard output has it as JSON where asked."""
    capfd.readouterr()
    assert main([verb, str(tmp_path), "--json"]) == 1
    out, err = capfd.readouterr()
    (told,) = json.loads(out)["refused"]
    assert set(told) == {"where", "what", "remedies", "by"}
    assert told["what"] in err
    assert main([verb, str(tmp_path)]) == 1
    assert capfd.readouterr().out == ""
    assert "job.toml" in err


def test_a_reader_that_stops_early_ends_it_quietly(job: Path) -> None:
    """Where the answer goes into a command that has had enough of it (head), no traceback follows; status 1."""
    command = [sys.executable, "-m", "witnessmark.cli.main", "check", str(job), "--json"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.close()
        assert child.stderr.read() == b""
        assert child.wait(timeout=60) == 1
