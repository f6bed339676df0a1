"""Through a whole job at the machine: the log holds the state, and nothing that went wrong is lost or passed over."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path

import numpy as np
import pytest
from two_sided_block import numbers_read, planned_block

from witnessmark.cli.main import main
from witnessmark.job.errors import Refusal
from witnessmark.log.book import LOG_FILE, Log
from witnessmark.log.entries import ReadingEntry
from witnessmark.program.fingerprint import fingerprint, stamped_of
from witnessmark.verbs import told
from witnessmark.verbs.flow import Bench, Task, next_task, open_bench, tasks
from witnessmark.verbs.logged import learned_u_mm
from witnessmark.verbs.prove import prove

POSE = (0.8, -0.6, math.radians(0.3))
STYLUS = 4.0


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = planned_block(tmp_path_factory.mktemp("work"))
    assert prove(folder).passed
    return folder


@pytest.fixture
def bench(job: Path) -> Bench:
    """The job with a fresh log."""
    for old in job.glob(f"{LOG_FILE}*"):
        old.unlink()
    return open_bench(job)


def now(bench: Bench, log: Log) -> Task:
    task = next_task(tasks(bench, log.steps()))
    assert task is not None
    return task


def to(bench: Bench, log: Log, kind: str, placement: str = "1") -> Task:
    """Do everything before the next task of a kind, heights and level aside."""
    while True:
        task = now(bench, log)
        height = task.what == "level" or (task.touch is not None and task.touch.level)
        if (task.kind, task.placement) == (kind, placement) and not height:
            return task
        do(bench, log, task)


def do(bench: Bench, log: Log, task: Task) -> None:
    if task.kind == "read":
        assert task.touch is not None
        if task.touch.level:
            told.typed_reading(log, task, task.touch.at_mm[2], STYLUS, 0.02)
            return
        right = numbers_read(bench.place_of(task.piece, task.placement), POSE, STYLUS)
        told.typed_reading(log, task, right[int(task.what)], STYLUS, 0.02)
    elif task.kind == "found" and task.what == "level":
        level = told.is_level(bench, log, task)
        assert level is None or level.holds
    elif task.kind == "found":
        assert told.located(bench, log, task).passed
    elif task.kind == "run":
        if task.running is None:
            told.start(bench, log, task)
        else:
            told.end(log, task, 12.0)
    else:
        told.confirm(log, task)


def test_the_whole_way_from_the_blank_to_the_piece(bench: Bench) -> None:
    done = []
    with bench.log() as log:
        while (task := next_task(tasks(bench, log.steps()))) is not None:
            if not (task.kind == "run" and task.running):
                done.append((task.placement, task.kind))
            do(bench, log, task)
            assert len(done) < 60
        steps = log.steps()
    kinds = [kind for _, kind in done]
    assert kinds[0] == kinds[-1] == "stage"
    for placement in ("1", "2"):
        own = [kind for p, kind in done if p == placement]
        assert own[:2] == ["mounted", "rehearsed"]
        assert own[-1] == "run"
    second = [kind for p, kind in done if p == "2"]
    assert second.count("read") >= 10  # heights and touches
    assert second.index("found") < second.index("run")
    found = next(step for step in steps if step.pose is not None)
    assert found.pose is not None
    assert (found.pose.dx_mm, found.pose.dy_mm) == pytest.approx(POSE[:2], abs=0.002)
    assert all(reading.residual_mm is not None for reading in found.readings)
    runs = [step.run for step in steps if step.run is not None]
    for run in runs:
        folder = "corrected" if run.file.startswith("block-2") else "programs"
        text = (bench.folder / "out" / folder / run.file).read_text()
        assert run.fingerprint == stamped_of(text) == fingerprint(text)


def test_another_opening_goes_on_where_it_was_left(bench: Bench) -> None:
    with bench.log() as log:
        task = to(bench, log, "run")
        told.start(bench, log, task)
    with open_bench(bench.folder).log() as log:
        again = now(bench, log)
        assert (again.what, again.running is not None) == (task.what, True)


def test_stepping_back_undoes_one_step_at_a_time_to_the_very_beginning(bench: Bench) -> None:
    with bench.log() as log:
        to(bench, log, "found", "2")
        told.note(log, now(bench, log), "a remark stays")
        standing = len(log.steps())
        seen = []
        while told.step_back(log) is not None:
            task = now(bench, log)
            seen.append((task.placement, task.kind, task.what))
        assert len(seen) == standing - 1
        assert seen[0][1] == "read"
        assert seen[-1] == ("", "stage", "blank")
        assert [step.kind for step in log.steps()] == ["remark"]
        assert len(log.steps(everything=True)) == standing


def test_heights_may_be_left_out_and_touches_may_not(bench: Bench) -> None:
    with bench.log() as log:
        while (task := now(bench, log)).kind != "read":
            do(bench, log, task)
        count = len(bench.place_of("block", "1").levels)
        for _ in range(count):
            told.left_out(log, now(bench, log))
        assert now(bench, log).what == "level"
        assert told.is_level(bench, log, now(bench, log)) is None
        with pytest.raises(Refusal, match="is needed to find the work"):
            told.left_out(log, to(bench, log, "read", "2"))


def test_work_that_does_not_lie_level_waits_for_its_shim(bench: Bench) -> None:
    with bench.log() as log:
        while (task := now(bench, log)).what != "level":
            if task.touch is not None:
                low = 0.4 if "right" in task.touch.name else 0.0  # the right end lies 0.4 mm lower
                told.typed_reading(log, task, task.touch.at_mm[2] - low, STYLUS, 0.02)
            else:
                do(bench, log, task)
        found = told.is_level(bench, log, task)
        assert found is not None
        assert not found.holds
        assert "under the front right corner" in found.words()
        assert "under the back right corner" in found.words()
        assert "left corner" not in found.words()
        assert now(bench, log).what == "level"
        for touch in ("L2", "L3"):
            place = bench.place_of("block", "1")
            height = float(place.stand.apply(np.array(place.levels[int(touch[1]) - 1].point_mm))[2])
            told.typed_reading(log, task, height, STYLUS, 0.02, touch)
        assert told.is_level(bench, log, task) is not None
        assert now(bench, log).kind == "run"


def test_a_wrong_number_is_named_and_can_be_read_again(bench: Bench) -> None:
    with bench.log() as log:
        task = to(bench, log, "found", "2")
        right = numbers_read(bench.place_of(task.piece, "2"), POSE, STYLUS)
        told.typed_reading(log, task, right[3] + 1.0, STYLUS, 0.02, "3")
        answer = told.located(bench, log, task)
        assert not answer.agreement.agrees
        assert now(bench, log).kind == "found"  # nothing is confirmed
        told.typed_reading(log, task, right[3], STYLUS, 0.02, "3")
        assert told.located(bench, log, task).passed
        assert now(bench, log).kind == "run"


def test_a_stopped_program_goes_on_with_its_rest_even_twice(bench: Bench) -> None:
    with bench.log() as log:
        task = to(bench, log, "run", "2")
        told.start(bench, log, task)
        running = now(bench, log)
        first = told.take_up(bench, running, 200)
        assert first.passed
        told.end(log, running, None, 200)
        rest = now(bench, log)
        assert rest.what == f"block-2-1-flat-6-from-{first.line}.nc"
        assert rest.path is not None
        text = rest.path.read_text()
        assert stamped_of(text) == fingerprint(text)
        told.start(bench, log, rest)
        second = told.take_up(bench, now(bench, log), 100)
        assert second.passed
        told.end(log, now(bench, log), None, 100)
        last = now(bench, log)
        assert last.what == f"block-2-1-flat-6-from-{first.line}-from-{second.line}.nc"
        do(bench, log, last)
        do(bench, log, now(bench, log))
        assert now(bench, log).what == "finish"


def test_a_program_that_stopped_after_its_last_cut_is_done(bench: Bench) -> None:
    with bench.log() as log:
        task = to(bench, log, "run")
        told.start(bench, log, task)
        told.end(log, now(bench, log), None, 10**6)
        assert now(bench, log).what != task.what


def test_a_program_changed_since_its_proof_is_not_started(bench: Bench) -> None:
    with bench.log() as log:
        task = to(bench, log, "run")
        assert task.path is not None
        before = task.path.read_text()
        try:
            task.path.write_text(before.replace("Z", "Z ", 1).replace("G1 Z ", "G1 Z"))
            with pytest.raises(Refusal, match="changed since it was proven"):
                told.start(bench, log, task)
            task.path.unlink()
            with pytest.raises(Refusal, match="is not there"):
                told.start(bench, log, task)
        finally:
            task.path.write_text(before)
        assert now(bench, log).running is None


def test_the_next_blank_in_a_kept_fixture_takes_one_reading(bench: Bench) -> None:
    with bench.log() as log:
        while (task := next_task(tasks(bench, log.steps()))) is not None:
            do(bench, log, task)
        told.next_blank(log, "block")
        task = to(bench, log, "mounted", "2")
        assert task.repeat
        told.confirm(log, task, "in the kept fixture")
        read = to(bench, log, "read", "2")
        right = numbers_read(bench.place_of("block", "2"), POSE, STYLUS)[int(read.what)]
        told.typed_reading(log, read, right + 0.9, STYLUS, 0.02)
        off = told.repeats(bench, log, now(bench, log))
        assert not off.holds
        assert off.off_mm == pytest.approx(0.9, abs=1e-3)
        assert now(bench, log).kind == "found"
        told.typed_reading(log, now(bench, log), right + 0.01, STYLUS, 0.02, read.what)
        assert told.repeats(bench, log, now(bench, log)).holds
        task = now(bench, log)
        assert task.kind == "run"
        assert task.path is not None
        assert task.path.parent.name == "corrected"


def test_the_uncertainty_of_readings_is_the_one_that_the_log_teaches(bench: Bench) -> None:
    assert learned_u_mm(bench.folder) == 0.02  # nothing is known yet
    with bench.log() as log:
        off = 0.05 * 0.6**0.5
        for k in range(6):
            walls = [(n, f"{n} wall") for n in range(1, 9)]
            readings = [ReadingEntry(n, wall, 0.0, STYLUS, 0.02, off * (-1) ** n, 0.6) for n, wall in walls]
            log.confirm("found", "block", "2", str(k), readings=readings)
    assert learned_u_mm(bench.folder) == pytest.approx((0.05**2 - 0.01**2) ** 0.5, rel=1e-6)


def test_a_piece_that_there_is_not_is_not_begun_again(bench: Bench, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["work", str(bench.folder), "--again", "nobody"]) == 1
    assert "name one of block" in capsys.readouterr().err
    with bench.log() as log:
        assert log.steps(everything=True) == ()


def test_an_unproven_job_is_refused(job: Path, tmp_path: Path) -> None:
    copy = planned_block(tmp_path)
    with pytest.raises(Refusal, match="not proven"):
        open_bench(copy)


def at_the_terminal(monkeypatch: pytest.MonkeyPatch, *words: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{word}\n" for word in words)))


def test_at_the_terminal(bench: Bench, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(bench.folder)
    words = ["", "", "what?", "n it hums", "p one.jpg", "", *[""] * 5, "", "", "soon", "7.5", "l", "b", "q"]
    at_the_terminal(monkeypatch, *words)
    assert main(["work", folder]) == 1
    said = capsys.readouterr().out
    assert "Not understood" in said
    assert "that is no number of minutes" in said
    assert "Taken back: block 1 ended block-1-1-flat-6.nc" in said
    assert "x block, placement 1: rehearse" in said
    at_the_terminal(monkeypatch)  # the input closes at once: nothing is lost
    assert main(["work", folder]) == 1
    assert "what was confirmed is kept" in capsys.readouterr().out
    assert main(["work", folder, "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert [task["done"] for task in listed][:3] == [True, True, True]
    assert listed[8]["running"]
    csv = bench.folder / "log.csv"
    assert main(["log", folder, "--everything", "--csv", str(csv)]) == 0
    said = capsys.readouterr().out
    assert "it hums" in said
    assert "(taken back)" in said
    assert "one.jpg" in csv.read_text()
    assert "too few entries yet" in said


def test_stopping_and_finding_at_the_terminal(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with bench.log() as log:
        to(bench, log, "run")
    at_the_terminal(monkeypatch, "", "s 1e3", "s 150", "q")
    assert main(["work", str(bench.folder)]) == 1
    said = capsys.readouterr().out
    assert "Not understood" in said
    assert "proven from the wood as it is" in said
    assert "run block-1-1-flat-6-from-150.nc" in said
    with bench.log() as log:
        to(bench, log, "read", "2")
    numbers = numbers_read(bench.place_of("block", "2"), POSE, STYLUS).values()
    at_the_terminal(monkeypatch, *[f"{number:.3f}" for number in numbers], "", "q")
    assert main(["work", str(bench.folder), "--stylus", "4"]) == 1
    said = capsys.readouterr().out
    assert "the work lies +0.8" in said
    assert "run block-2-1-flat-6.nc" in said
