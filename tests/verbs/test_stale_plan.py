"""A plan holds for the job and the shapes it was made from: what has changed since is named, and to plan anew."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import manifold3d
import pytest

from witnessmark.cli.main import main
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job, save_job
from witnessmark.job.models import Job
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.made_from import PLANNED_FROM, PROVEN_FROM
from witnessmark.verbs.make import program

SIZES = ["--travel", "300x400x90", "--cutter", "6", "--stick-out", "45", "--nut", "20x20", "--nose", "65"]
Printed = pytest.CaptureFixture[str]
PLAN_ANEW = "  - run: witnessmark plan\n"


def block(z_mm: float = 12.0) -> Solid:
    return Solid(manifold3d.Manifold.cube((40.0, 30.0, z_mm), True).translate((0, 0, z_mm / 2)))


@pytest.fixture(scope="module")
def proven_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A block's job on coarse grids, planned, its programs written and proven."""
    root = tmp_path_factory.mktemp("stale")
    shape = write_stl(block(), root / "block.stl")
    folder = root / "block"
    assert main(["new", str(folder), "--shape", str(shape), *SIZES, "--yes"]) == 0
    change(folder, lambda job: with_settings(job, plan_pitch_mm=1.0, proof_pitch_mm=0.5))
    assert [main([verb, str(folder)]) for verb in ("plan", "program", "prove")] == [0, 0, 0]
    return folder


@pytest.fixture
def proven(proven_once: Path, tmp_path: Path) -> Path:
    """A copy of it to work on."""
    return Path(shutil.copytree(proven_once, tmp_path / "block"))


@pytest.fixture
def planned(proven: Path) -> Path:
    """The same before any program was proven."""
    (proven / "out" / PROVEN_FROM).unlink()
    return proven


def with_settings(job: Job, **changed: float) -> Job:
    return job.model_copy(update={"settings": job.settings.model_copy(update=changed)})


def with_machine(job: Job, **changed: float) -> Job:
    return job.model_copy(update={"machine": job.machine.model_copy(update=changed)})


def with_blank(job: Job, **changed: float) -> Job:
    piece = job.pieces[0]
    blank = piece.blank.model_copy(update=changed)
    return job.model_copy(update={"pieces": (piece.model_copy(update={"blank": blank}),)})


def change(folder: Path, how: Callable[[Job], Job]) -> None:
    save_job(how(load_job(folder)), folder)


def said_no(capsys: Printed, verb: str, folder: Path) -> str:
    """What a verb says when it refuses; nothing under ``out`` is touched."""
    before = {path: path.read_bytes() for path in (folder / "out").rglob("*") if path.is_file()}
    capsys.readouterr()
    assert main([verb, str(folder)]) == 1
    assert {path: path.read_bytes() for path in (folder / "out").rglob("*") if path.is_file()} == before
    return "".join(line for line in capsys.readouterr().err.splitlines(keepends=True) if line[:3] != "   ")


@pytest.mark.parametrize("verb", ["program", "sheet"])
@pytest.mark.parametrize(
    ("table", "how"),
    [
        ("machine", lambda job: with_machine(job, travel_x_mm=250.0)),
        ("pieces", lambda job: with_blank(job, size_x_mm=130.0)),
        ("pieces", lambda job: with_blank(job, size_z_mm=30.0)),
        ("settings", lambda job: with_settings(job, plan_pitch_mm=0.5)),
        ("machine, settings", lambda job: with_settings(with_machine(job, travel_x_mm=250.0), trench_mm=4.0)),
        ("name", lambda job: job.model_copy(update={"name": "another"})),
    ],
)
def test_a_changed_job_is_named_by_its_tables(
    table: str, how: Callable[[Job], Job], verb: str, planned: Path, capsys: Printed
) -> None:
    """Neither programs nor a sheet are made of a plan for another job; the drafts of before stay as they are."""
    change(planned, how)
    assert said_no(capsys, verb, planned) == f"job.toml: has changed since it was planned (in {table})\n{PLAN_ANEW}"


def test_pieces_that_have_another_name_are_a_changed_job(planned: Path, capsys: Printed) -> None:
    """The plan knows a piece that the job does not have any more: said as any other change."""
    change(
        planned, lambda job: job.model_copy(update={"pieces": (job.pieces[0].model_copy(update={"name": "lid"}),)})
    )
    assert "(in pieces)" in said_no(capsys, "program", planned)


@pytest.mark.parametrize("verb", ["program", "sheet"])
@pytest.mark.parametrize("z_mm", [11.0, 12.000001])
def test_a_changed_shape_is_named_by_its_file(z_mm: float, verb: str, planned: Path, capsys: Printed) -> None:
    """Drawn anew, by much or by a hair: the file is named, and the job, which is as it was, is not."""
    write_stl(block(z_mm), planned / "block.stl")
    assert said_no(capsys, verb, planned) == f"block.stl: has changed since it was planned\n{PLAN_ANEW}"


def test_what_is_only_written_otherwise_has_not_changed(planned: Path) -> None:
    """A comment, another order of keys, a length in its own unit: the same job, and its programs are written."""
    path = planned / "job.toml"
    text = path.read_text(encoding="utf-8")
    assert "diameter_mm = 6.0\n" in text or "diameter_mm = 6\n" in text
    path.write_text(
        "# for my nephew\n" + text.replace("diameter_mm = 6.0\n", 'diameter_mm = "0.6 cm"\n', 1), encoding="utf-8"
    )
    assert main(["program", str(planned)]) == 0


def test_planning_anew_puts_it_right(planned: Path) -> None:
    """The remedy is one."""
    change(planned, lambda job: with_blank(job, size_x_mm=130.0))
    assert [main([verb, str(planned)]) for verb in ("plan", "program", "prove", "sheet")] == [0, 0, 0, 0]


@pytest.mark.parametrize("text", [None, "", "[]", "{}", '{"format": 1}', '{"format": 0, "job": {}, "shapes": {}}'])
def test_a_plan_that_does_not_say_what_it_is_of_is_refused(text: str | None, planned: Path, capsys: Printed) -> None:
    """As an older edition left it, or spoilt: planned anew before a program is written."""
    path = planned / "out" / PLANNED_FROM
    if text is None:
        path.unlink()
    else:
        path.write_text(text, encoding="utf-8")
    said = said_no(capsys, "program", planned)
    assert "plan.toml: does not say which job it was planned from" in said
    assert PLAN_ANEW in said


def test_no_plan_at_all_is_told_as_that(planned: Path, capsys: Printed) -> None:
    """Where nothing was planned nothing has changed."""
    shutil.rmtree(planned / "out")
    with pytest.raises(Refusal, match="there is no plan yet"):
        program(planned)


def test_prove_judges_with_the_job_as_it_is_now(proven: Path, capsys: Printed) -> None:
    """A changed job is not refused by the judge: here the programs run outside the travel that is left."""
    change(proven, lambda job: with_machine(job, travel_y_mm=30.0))
    capsys.readouterr()
    assert main(["prove", str(proven), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)["pieces"][0]["findings"]
    assert "outside travel" in {finding["kind"] for finding in found}


def test_a_sheet_says_proven_only_of_the_job_that_was(proven: Path, capsys: Printed) -> None:
    """Changed after the proof: refused. Proven with the change: printed, though it was planned from another job."""
    change(proven, lambda job: with_settings(job, gouge_tolerance_mm=0.06))
    assert "(in settings)" in said_no(capsys, "sheet", proven)
    assert main(["prove", str(proven)]) == 0
    assert main(["sheet", str(proven)]) == 0


def test_a_new_plan_takes_back_programs_and_proof_of_the_old_one(proven: Path, capsys: Printed) -> None:
    """They are for other placements: nothing of them lies beside the new plan, and the judge asks for programs."""
    out = proven / "out"
    assert sorted(out.glob("programs/*.nc"))
    assert main(["plan", str(proven)]) == 0
    left = [
        path for pattern in ("**/*.nc", "proof.*", "drafts/order.json", PROVEN_FROM) for path in out.glob(pattern)
    ]
    assert left == []
    assert "there are no programs yet" in said_no(capsys, "prove", proven)


def test_a_sheet_does_not_call_new_programs_proven(proven: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Programs written anew after the proof have not been judged, whatever the old proof said."""
    told: list[bool] = []

    def noted(*given: object, proven: bool, **more: object) -> Path:
        told.append(proven)
        return proven_file

    proven_file = proven / "out" / "bench-sheet.pdf"
    monkeypatch.setattr("witnessmark.verbs.sheet.write_bench_sheet", noted)
    assert [main([verb, str(proven)]) for verb in ("sheet", "program", "sheet", "prove", "sheet")] == [0] * 5
    assert told == [True, False, True]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        "[1]",
        '[{"file": "a.nc"}]',
        '[{"file": "../../job.toml", "piece": "block", "placement": "1", "cutter": "flat 6"}]',
        '[{"file": "block-1-1-flat-6.nc", "piece": "lid", "placement": "1", "cutter": "flat 6"}]',
        '[{"file": "gone.nc", "piece": "block", "placement": "1", "cutter": "flat 6"}]',
        '[{"file": 1, "piece": "block", "placement": "1", "cutter": "flat 6"}]',
    ],
)
def test_a_running_order_that_was_tampered_with_is_refused_and_nothing_is_lost(
    proven: Path, capsys: Printed, text: str
) -> None:
    (proven / "out" / "drafts" / "order.json").write_text(text)
    assert "run: witnessmark program" in said_no(capsys, "prove", proven)
