"""A touch probe finds the work as an indicator does: its program stays clear of wood, its results give the pose."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from test_rehearsal import Bench
from two_sided_block import numbers_read, planned_block

from witnessmark.cli.main import main
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job, save_job
from witnessmark.program.motion import PROBE, MotionTable
from witnessmark.program.read import read
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.placed import placed
from witnessmark.verbs.probe import probe_program, probe_results, targets_of

POSE = (0.6, -0.5, math.radians(0.2))
STYLUS = 4.0


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = planned_block(tmp_path_factory.mktemp("probe"))
    with pytest.raises(Refusal, match="no probing moves"):
        probe_program(folder, None, "2", STYLUS)
    made = load_job(folder)
    controller = made.machine.controller.model_copy(update={"probing": True})
    machine = made.machine.model_copy(update={"controller": controller})
    save_job(made.model_copy(update={"machine": machine}), folder)
    plan(folder)
    program(folder)
    return folder


def probed(job: Path) -> MotionTable:
    table = read(probe_program(job, None, "2", STYLUS).read_text())
    assert not [remark for remark in table.remarks if remark.harm == "error"]
    return table


def trips(job: Path) -> list[np.ndarray]:
    """x, y, z where each probing move of the program trips, the work lying at POSE."""
    place = placed(job, None, "2")[2]
    right = numbers_read(place, POSE, STYLUS)
    table, found = probed(job), []
    moves = np.flatnonzero(table.kind == PROBE)
    for k, (target, move) in enumerate(zip(targets_of(place, STYLUS), moves)):
        start, end = table.start_mm[move], table.end_mm[move]
        at = start.copy()
        number = k + 1 - len(place.levels)
        at[target.axis] = right[number] if number > 0 else place.stand.apply(np.array(place.levels[k].point_mm))[2]
        assert min(start[target.axis], end[target.axis]) < at[target.axis] < max(start[target.axis], end[target.axis])
        found.append(at)
    assert len(moves) == len(place.levels) + len(place.touches)
    return found


def test_nothing_but_the_probing_moves_comes_near_wood(job: Path) -> None:
    bench = Bench(job, 2)
    place, table = bench.step.placement, probed(job)
    assert not table.spindle_rpm.any()
    after = np.concatenate([[False], table.kind[:-1] == PROBE])  # back from where it tripped, not from its end
    going = np.flatnonzero((table.kind != PROBE) & ~after & np.isfinite(table.start_mm).all(axis=1))
    assert len(going) >= 3 * len(place.touches)
    for start, end in zip(table.start_mm[going], table.end_mm[going]):
        for x, y, z in start + (end - start) * np.linspace(0.0, 1.0, 30)[:, None]:
            for angle in np.arange(8) * math.pi / 4:
                rim = np.array([math.cos(angle), math.sin(angle)]) * (STYLUS / 2 + 1.0)  # and a mm of play
                assert bench.height_mm(place.stand, *(np.array([x, y]) + rim - place.shift_mm)) < z + 1e-6


@pytest.mark.parametrize("form", ["places", "numbers"])
def test_its_results_are_readings(job: Path, form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = placed(job, None, "2")[2]
    results = tmp_path / "results.txt"
    targets = targets_of(place, STYLUS)
    if form == "places":
        lines = [f"[trip: {x:.3f}, {y:.3f}, {z:.3f}]" for x, y, z in trips(job)]
    else:
        lines = [f"{t.name.split()[0]} = {at[t.axis]:.3f}" for t, at in zip(targets, trips(job))]
    results.write_text("\n".join(["the probe said", "", *lines]))
    touches, heights = probe_results(job, None, "2", STYLUS, results)
    assert len(touches) == len(place.touches)
    assert len(heights) == len(place.levels)
    words = ["find", str(job), "--placement", "2", "--stylus", "4", "--results", str(results), "--json"]
    assert main(words) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["passed"]
    assert (record["dx_mm"], record["dy_mm"]) == pytest.approx(POSE[:2], abs=0.003)
    assert record["level"]["holds"]


def test_results_that_are_none_are_refused(job: Path, tmp_path: Path) -> None:
    for text, says in [("", "0 lines"), ("1 2 3\n" * 40, "40 lines"), ("x" * 200_000, "longer than any result")]:
        results = tmp_path / "results.txt"
        results.write_text(text)
        with pytest.raises(Refusal, match=says):
            probe_results(job, None, "2", STYLUS, results)
    results.write_text("7\n" * 12)
    with pytest.raises(Refusal, match="holds no x, y and z"):
        probe_results(job, None, "2", STYLUS, results)
    with pytest.raises(Refusal, match="cannot be read"):
        probe_results(job, None, "2", STYLUS, tmp_path / "gone.txt")


def test_on_the_command_line(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["find", str(job), "--placement", "2", "--stylus", "4", "--probe"]) == 0
    assert "block-2-probe.nc" in capsys.readouterr().out
