"""Faults put one at a time into the real programs of the box example: each is found, named, and holds all back."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from witnessmark.cli.main import main
from witnessmark.job.demonstration import BOX_SHAPE, box_job
from witnessmark.job.files import load_job, save_job
from witnessmark.job.models import Job
from witnessmark.plan.model import PiecePlan
from witnessmark.plan.store import load_plans
from witnessmark.program.motion import LINE, MotionTable
from witnessmark.program.read import read
from witnessmark.shapes.simple import straight_box
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.demo import lay_out_demo
from witnessmark.verbs.make import plan, program

PLAN_PITCH_MM, PROOF_PITCH_MM = 1.0, 0.5  # coarse: walls are judged exactly all the same, and it takes seconds
HOLLOW_END_MM, FLOOR_MM, RADIUS_MM = 160.0, 30.0, 3.0  # the box's hollow along x, its floor; the cutter
LITTLE_FLOOR_MM = 10.0
TAPE = "outline_mm = [[-200.0, -90.0], [200.0, -90.0], [200.0, 90.0], [-200.0, 90.0]]"
TAPE_UNDER_THE_BOX = "outline_mm = [[-150.0, -50.0], [150.0, -50.0], [150.0, 50.0], [-150.0, 50.0]]"

Record = dict[str, Any]
Printed = pytest.CaptureFixture[str]


@dataclass
class Bench:
    """A job folder where one fault at a time is put in; ``files`` is what it held while all was well."""

    folder: Path
    files: dict[Path, str]

    def restored(self) -> Bench:
        for path, text in self.files.items():
            path.write_text(text, encoding="utf-8")
        return self

    @property
    def drafts(self) -> Path:
        return self.folder / "out" / "drafts"

    def draft(self, placement: int) -> Path:
        (path,) = self.drafts.glob(f"box-{placement}-1-*.nc")
        return path

    def lines(self, placement: int) -> list[str]:
        return self.files[self.draft(placement)].splitlines()

    def put(self, placement: int, lines: list[str]) -> str:
        """Put other text in place of a placement's program; returns the file's name."""
        path = self.draft(placement)
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path.name

    def change(self, path: Path, old: str, new: str) -> None:
        assert old in self.files[path]
        path.write_text(self.files[path].replace(old, new), encoding="utf-8")

    def plan(self) -> PiecePlan:
        (stored,) = load_plans(
            load_job(self.folder), self.folder / "out" / "plan.toml", self.folder / "out" / "fields"
        )
        return stored

    def handed_out(self) -> list[Path]:
        """The programs that cut."""
        out = self.folder / "out" / "programs"
        return sorted(path for path in out.glob("*.nc") if "rehearsal" not in path.name)

    def prove(self, capsys: Printed, *more: str) -> tuple[int, Record]:
        """Exit status and answer of ``witnessmark prove --json``."""
        capsys.readouterr()
        status = main(["prove", str(self.folder), "--json", *more])
        return status, json.loads(capsys.readouterr().out)

    def stops(self, capsys: Printed) -> list[Record]:
        """What stops a proof that must fail: status 1, and nothing is handed out."""
        status, record = self.prove(capsys)
        assert status == 1
        assert record["passed"] is False
        assert self.handed_out() == []
        return [f for piece in record["pieces"] for f in piece["findings"] if f["harm"] == "stop"]


def coarse(job: Job) -> Job:
    pitches = {"plan_pitch_mm": PLAN_PITCH_MM, "proof_pitch_mm": PROOF_PITCH_MM}
    return job.model_copy(update={"settings": job.settings.model_copy(update=pitches)})


def written(folder: Path) -> Bench:
    """Plan the job and write its programs."""
    plan(folder)
    program(folder)
    kept = [folder / "job.toml", folder / "out" / "plan.toml", *(folder / "out" / "drafts").iterdir()]
    return Bench(folder, {path: path.read_text(encoding="utf-8") for path in kept})


@pytest.fixture(scope="module")
def box_once(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """The box example, made once."""
    folder = lay_out_demo(tmp_path_factory.mktemp("faults") / "box", "box")
    save_job(coarse(load_job(folder)), folder)
    return written(folder)


@pytest.fixture(scope="module")
def little_once(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """A small box of the same kind in four placements on a machine of 70 mm travel: many proofs in little time."""
    folder = tmp_path_factory.mktemp("little")
    shape = straight_box(
        size_x_mm=70.0, size_y_mm=40.0, height_mm=20.0, wall_mm=8.0, hollow_mm=20.0 - LITTLE_FLOOR_MM
    )
    write_stl(shape, folder / BOX_SHAPE)
    job = coarse(box_job())
    size = {"size_x_mm": 100.0, "size_y_mm": 70.0, "size_z_mm": 22.0, "glue_lines_z_mm": ()}
    piece = job.pieces[0].model_copy(update={"blank": job.pieces[0].blank.model_copy(update=size)})
    machine = job.machine.model_copy(update={"travel_x_mm": 70.0, "nose_above_bed_mm": 150.0})
    cutter = job.cutters[0].model_copy(update={"stepdown_mm": 10.0})
    save_job(job.model_copy(update={"pieces": (piece,), "machine": machine, "cutters": (cutter,)}), folder)
    return written(folder)


@pytest.fixture
def box(box_once: Bench) -> Bench:
    """The box example with nothing wrong in it."""
    return box_once.restored()


@pytest.fixture
def little(little_once: Bench) -> Bench:
    """The little box with nothing wrong in it."""
    return little_once.restored()


def of(found: list[Record], kind: str) -> list[Record]:
    some = [finding for finding in found if finding["kind"] == kind]
    assert some, f"no {kind} among {sorted({finding['kind'] for finding in found})}"
    return some


def kinds(found: list[Record]) -> set[str]:
    return {finding["kind"] for finding in found}


def standing_x(bench: Bench, placement: int) -> tuple[MotionTable, np.ndarray]:
    """A program's motions, and the x of their ends in the piece."""
    table = read("\n".join(bench.lines(placement)) + "\n")
    shift_mm = bench.plan().placements[placement - 1].placement.shift_mm
    return table, table.end_mm[:, 0] - shift_mm[0]


def next_with(lines: list[str], word: str, after: int) -> int:
    """The first line (from 1) after line ``after`` that holds a word."""
    return next(i for i in range(after + 1, len(lines) + 1) if word in lines[i - 1])


def test_without_a_fault_all_is_handed_out(box: Bench, little: Bench, capsys: Printed) -> None:
    """The untouched programs of both boxes pass: what the other tests find is the fault's doing."""
    for bench in (box, little):
        status, record = bench.prove(capsys)
        assert status == 0
        assert record["passed"] is True
        assert len(bench.handed_out()) == 4


def test_a_line_shifted_by_three_millimetres(box: Bench, capsys: Printed) -> None:
    """X of one line along the hollow's end is 3 mm off: a gouge of 3 mm, named at that line."""
    table, x_mm = standing_x(box, 4)
    wall = np.abs(x_mm - (HOLLOW_END_MM - RADIUS_MM)) < 0.02
    row = int(table.line[wall & (table.kind == LINE) & (np.abs(table.end_mm[:, 2] - FLOOR_MM) < 1e-6)][-1])
    lines = box.lines(4)
    lines[row - 1] = re.sub(r"X([\d.]+)", lambda x: f"X{float(x.group(1)) + 3.0:g}", lines[row - 1])
    assert lines[row - 1] != box.lines(4)[row - 1]
    file = box.put(4, lines)
    worst = max(of(box.stops(capsys), "gouge"), key=lambda finding: finding["by_mm"])
    assert worst["by_mm"] == pytest.approx(3.0, abs=0.1)
    assert worst["place_mm"][0] == pytest.approx(HOLLOW_END_MM, abs=0.1)
    assert (worst["file"], worst["placement"], worst["line"]) == (file, "4", row)


def test_a_deeper_z(box: Bench, capsys: Printed) -> None:
    """One line goes to 28.5 instead of 30: the floor is gouged by 1.5 mm from that line until Z is given anew."""
    lines = box.lines(3)
    row = next(i for i, line in enumerate(lines, start=1) if re.search(r"\bZ30\b(?!\.)", line))
    lines[row - 1] = lines[row - 1].replace("Z30", "Z28.5")
    file = box.put(3, lines)
    gouges = of(box.stops(capsys), "gouge")
    assert {gouge["by_mm"] for gouge in gouges} == {1.5}
    assert {gouge["place_mm"][2] for gouge in gouges} == {FLOOR_MM}
    assert {(gouge["file"], gouge["placement"]) for gouge in gouges} == {(file, "3")}
    assert all(row <= gouge["line"] <= next_with(lines, "Z", row) for gouge in gouges)


def test_a_stick_out_shortened_in_the_job(box: Bench, capsys: Printed) -> None:
    """7 mm less stick-out: each header is told to be wrong, and the nut runs into wood at a line of placement 3."""
    box.change(box.folder / "job.toml", "stickout_mm = 45", "stickout_mm = 38")
    found = box.stops(capsys)
    assert kinds(found) == {"assembly contact", "wrong cutter"}
    wrong = of(found, "wrong cutter")
    cutting = [finding for finding in wrong if "rehearsal" not in finding["file"]]
    assert [finding["file"] for finding in cutting] == [box.draft(n).name for n in (1, 2, 3, 4)]
    assert all("stick-out 45 mm, and it is 38 mm" in finding["what"] for finding in wrong)
    # the hollow is cut down to 30 beside the blank's top at 74: 44 - 38 mm are missing
    worst = max(of(found, "assembly contact"), key=lambda finding: finding["by_mm"])
    assert "collet nut" in worst["what"]
    assert worst["by_mm"] == pytest.approx(44.0 - 38.0, abs=0.05)
    assert worst["file"] == box.draft(3).name
    assert 0 < worst["line"] <= len(box.lines(3))


def test_a_swapped_cutter(box: Bench, capsys: Printed) -> None:
    """8 mm in the collet for a program of 6 mm: named from the header, and it cuts 1 mm into the walls."""
    job = load_job(box.folder)
    thick = job.cutters[0].model_copy(update={"name": "flat 8", "diameter_mm": 8.0, "shank_diameter_mm": 8.0})
    save_job(job.model_copy(update={"cutters": (*job.cutters, thick)}), box.folder)
    order = box.drafts / "order.json"
    entries = json.loads(box.files[order])
    order.write_text(json.dumps([e | {"cutter": "flat 8"} if e["placement"] == "3" else e for e in entries]))
    found = box.stops(capsys)
    wrong = of(found, "wrong cutter")
    cutting = {finding["file"] for finding in wrong if "rehearsal" not in finding["file"]}
    assert cutting == {box.draft(3).name}
    assert any("its header says cutter flat 6, and flat 8 is in the collet" in finding["what"] for finding in wrong)
    walls = [gouge for gouge in of(found, "gouge") if "wall" in gouge["what"]]
    assert max(gouge["by_mm"] for gouge in walls) == pytest.approx(1.0, abs=0.02)
    assert {gouge["file"] for gouge in walls} == {box.draft(3).name}


def test_a_missing_spindle_start(box: Bench, capsys: Printed) -> None:
    """Without its M3 placement 2 cuts with a standing cutter: told with the first line that does so, and alone."""
    lines = [line for line in box.lines(2) if not line.endswith(" M3")]
    file = box.put(2, lines)
    assert len(lines) == len(box.lines(2)) - 1
    (found,) = box.stops(capsys)
    assert (found["kind"], found["file"], found["placement"]) == ("spindle off while cutting", file, "2")
    first = int(re.search(r"the first in line (\d+)", found["what"]).group(1))  # type: ignore[union-attr]
    into_wood = next_with(lines, "G1", 0) + 1  # the G1 that goes down to the first ramp still runs in the air
    assert into_wood <= first <= found["line"] <= len(lines)


def test_a_wrong_side_up(box: Bench, capsys: Printed) -> None:
    """The top's program run while the foot is up: the header names side and placement, the gouges its lines."""
    file = box.put(1, box.lines(3))
    found = box.stops(capsys)
    assert {finding["file"] for finding in of(found, "wrong side up")} == {file}
    assert {finding["file"] for finding in of(found, "wrong placement")} == {file}
    named = [gouge for gouge in of(found, "gouge") if gouge["file"] == file]
    assert named
    assert all(gouge["placement"] == "1" and 0 < gouge["line"] <= len(box.lines(3)) for gouge in named)


def test_a_wrong_side_up_without_a_header(box: Bench, capsys: Printed) -> None:
    """With the comments taken out the wood alone gives it away."""
    file = box.put(1, [line for line in box.lines(3) if not line.startswith("(")])
    found = box.stops(capsys)
    assert "wrong side up" not in kinds(found)
    assert file in {gouge["file"] for gouge in of(found, "gouge")}


@pytest.mark.parametrize("placement", [1, 2, 3, 4])
def test_a_program_left_out(little: Bench, capsys: Printed, placement: int) -> None:
    """Wood is left where that program should have cut and nowhere else: on its side, in its half, no deeper."""
    order = little.drafts / "order.json"
    entries = json.loads(little.files[order])
    order.write_text(json.dumps([entry for entry in entries if entry["placement"] != str(placement)]))
    left = of(little.stops(capsys), "leftover")
    step = little.plan().placements[placement - 1]
    x0, _, x1, _ = step.placement.region_mm
    deepest_mm = step.placement.through_z_mm
    if step.placement.up == "+z":
        deepest_mm = min(deepest_mm, LITTLE_FLOOR_MM)
    for finding in left:
        x, _, z = step.placement.stand.apply(np.array(finding["place_mm"]))
        assert x0 - 5.0 < x < x1 + 5.0  # the seams overlap by 4 mm
        assert z > deepest_mm - 0.1
    assert max(finding["by_mm"] for finding in left) > 1.0


def test_a_program_that_is_gone_is_refused(box: Bench, capsys: Printed) -> None:
    """A draft deleted from its folder is named with what to do; status 1 and nothing is proven or handed out."""
    gone = box.draft(2)
    gone.unlink()
    assert main(["prove", str(box.folder)]) == 1
    said = capsys.readouterr().err
    assert gone.name in said
    assert "witnessmark program" in said
    assert box.handed_out() == []


def test_a_ring_cut_free(box: Bench, capsys: Printed) -> None:
    """Tape under the box alone: when the last placement meets the cuts of the first two, the frame comes loose."""
    box.change(box.folder / "out" / "plan.toml", TAPE, TAPE_UNDER_THE_BOX)
    (loose,) = box.stops(capsys)
    assert (loose["kind"], loose["file"], loose["placement"]) == ("loose wood", box.draft(4).name, "4")
    assert "400 x 180 x 74 mm comes loose" in loose["what"]
    assert loose["place_mm"] is not None


def test_force_hands_out_what_failed_and_each_header_says_so(little: Bench, capsys: Printed) -> None:
    """The status stays 1; every file is there, its first line says not proven, and no fingerprint is stamped."""
    little.put(1, [line for line in little.lines(1) if not line.endswith(" M3")])
    status, record = little.prove(capsys, "--force")
    assert status == 1
    assert record["passed"] is False
    assert [path.name for path in little.handed_out()] == [little.draft(n).name for n in (1, 2, 3, 4)]
    for path in little.handed_out():
        lines = path.read_text(encoding="utf-8").splitlines()
        assert lines[0].startswith("(NOT PROVEN")
        assert "(fingerprint: )" in lines
        assert lines[1:] == (little.drafts / path.name).read_text(encoding="utf-8").splitlines()


def test_a_later_proof_takes_back_what_force_handed_out(little: Bench, capsys: Printed) -> None:
    """Forced programs do not lie about: the next proof that fails clears them, the next that passes replaces them."""
    whole = little.lines(1)
    little.put(1, [line for line in whole if not line.endswith(" M3")])
    little.prove(capsys, "--force")
    assert little.handed_out()
    little.stops(capsys)
    little.put(1, whole)
    status, _ = little.prove(capsys)
    assert status == 0
    assert not any("NOT PROVEN" in path.read_text(encoding="utf-8") for path in little.handed_out())
