"""After a mishap: the wood as it is, what can still be made of it, and a plan from there that passes its proof."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from two_sided_block import planned_block

from witnessmark.cli.main import main
from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.job.errors import Refusal
from witnessmark.log.book import LOG_FILE, Log
from witnessmark.log.entries import EndEntry, RunEntry
from witnessmark.proof.slip import wood_words
from witnessmark.verbs.as_is import file_of, load_as_is
from witnessmark.verbs.flow import next_task, open_bench, tasks
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.mishap import Happened, mishap, without_box
from witnessmark.verbs.prove import prove
from witnessmark.verbs.told import step_back
from witnessmark.verbs.workshop import open_workshop

FIRST, SECOND = "block-1-1-flat-6.nc", "block-2-1-flat-6.nc"


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = planned_block(tmp_path_factory.mktemp("mishap"))
    assert prove(folder).passed
    return folder


@pytest.fixture
def job(planned: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "job"
    shutil.copytree(planned, copy)
    return copy


def replanned(job: Path) -> bool:
    """Plan, write and prove again from the wood as it is."""
    plan(job)
    program(job)
    return prove(job).passed


def ran(job: Path, *files: str) -> None:
    with Log(job / LOG_FILE) as log:
        for file in files:
            step = log.confirm("started", "block", file[6], file, run=RunEntry(file, "", "flat 6", 1.0))
            log.confirm("ended", "block", file[6], file, end=EndEntry(step.id))


def test_a_gouge_in_the_waste_loses_nothing_and_planning_goes_on_from_there(job: Path) -> None:
    answer = mishap(job, None, Happened(box_mm=(-90.0, -70.0, 10.0, -70.0, -50.0, 30.0)))
    assert answer.shift.whole
    assert answer.can_be_made
    kept = load_as_is(job, "block")
    assert kept is not None
    assert kept.wood.volume_mm3() == pytest.approx(200 * 150 * 26 - 20 * 20 * 16, rel=0.01)
    np.testing.assert_allclose(kept.move.translation_mm, 0.0)
    with pytest.raises(Refusal, match="not proven"):
        open_bench(job)  # what was planned was for the whole blank
    with Log(job / LOG_FILE) as log:
        assert step_back(log) is None  # a new plan is not stepped back out of
    assert replanned(job)


def test_a_gouge_in_the_piece_moves_it_within_the_blank(job: Path) -> None:
    """6 mm of the piece's left end are gone, all along: it is moved to the right by a little more."""
    answer = mishap(job, None, Happened(box_mm=(-110.0, -80.0, -1.0, -49.0, 80.0, 40.0)))
    assert not answer.shift.whole
    assert answer.shift.move is not None
    dx, dy, dz, turn = answer.shift.move
    assert 6.0 < dx <= 7.0
    assert (dy, turn) == (0.0, 0.0)
    assert abs(dz) <= 4.0
    assert answer.shift.missing_mm is not None
    assert answer.shift.missing_mm[0] < -48.0
    assert replanned(job)
    moved = open_workshop(job).solids["block"].bounds_mm
    assert float(moved[0][0]) == pytest.approx(-55.0 + dx)
    task = None
    bench = open_bench(job)
    with bench.log() as log:
        listed = tasks(bench, log.steps())
        task = next_task(listed)
    assert task is not None
    assert (task.kind, task.what) == ("stage", "blank")
    assert any(one.kind == "read" and one.placement == "1" for one in listed)  # the blank is found by its edges


def test_a_cut_right_across_the_blank_cannot_be_saved_and_it_says_where(job: Path) -> None:
    answer = mishap(job, None, Happened(box_mm=(-3.0, -80.0, -1.0, 3.0, 80.0, 40.0)))
    assert not answer.can_be_made
    assert answer.shift.move is None
    assert answer.shift.missing_mm is not None
    x, y, z = answer.shift.missing_mm
    assert -4 < x < 4
    assert -31 < y < 31
    assert 0 <= z <= 22
    assert "no move of the piece" in answer.words()
    assert not file_of(job, "block").exists()
    with Log(job / LOG_FILE) as log:
        assert [step.kind for step in log.steps()] == ["mishap"]


@pytest.mark.parametrize(("off", "turned"), [((7.3, -4.1), 0.0), ((-3.0, 2.0), 0.7)])
def test_a_first_side_cut_in_the_wrong_place_is_where_the_piece_is_made_then(
    job: Path, off: tuple[float, float], turned: float
) -> None:
    """The work had slipped before the first program: the piece goes to where it was cut, to the tenth."""
    pose = (*off, math.radians(turned))
    answer = mishap(job, None, Happened(program=FIRST, off=pose))
    assert not answer.shift.whole
    assert answer.shift.move is not None
    workshop = open_workshop(job)
    kept = workshop.as_is["block"]
    stand = np.diag([1.0, -1.0, -1.0])  # the first side of this block is cut with its underside up
    want = stand @ np.array([*off, 0.0])
    if turned == 0.0:
        np.testing.assert_allclose(kept.move.translation_mm[:2], -want[:2], atol=1e-6)
    assert np.arctan2(kept.move.rotation[1, 0], kept.move.rotation[0, 0]) == pytest.approx(math.radians(turned))
    assert replanned(job)


def test_a_cutter_set_too_low_is_told_by_where_wood_is_missing(job: Path) -> None:
    """The second side cut 3 mm too low: the pocket's floor is 3 mm thinner, and nothing can be moved any more."""
    ran(job, FIRST)
    answer = mishap(job, None, Happened(program=SECOND, lower_mm=3.0))
    assert not answer.can_be_made
    assert answer.shift.lost_ratio > 0.1


def test_stopping_early_saves_what_was_not_cut_yet(job: Path) -> None:
    all_of_it = mishap(job, None, Happened(program=FIRST, off=(20.0, 0.0, 0.0)))
    shutil.rmtree(job / "as-is", ignore_errors=True)
    little = mishap(job, None, Happened(program=FIRST, line=40, off=(20.0, 0.0, 0.0)))
    assert little.left_mm3 > all_of_it.left_mm3 + 1000


def test_a_depth_measured_where_it_lies(job: Path) -> None:
    """3 mm deep in the corner of the waste as placement 1 shows it."""
    answer = mishap(job, None, Happened(placement="1", gouge_mm=(60.0, 130.0, 75.0, 140.0, 3.0)))
    assert answer.shift.whole
    assert answer.left_mm3 == pytest.approx(200 * 150 * 26 - 15 * 10 * 3, rel=2e-3)


def test_what_makes_no_sense_is_refused(job: Path) -> None:
    for happened, says in [
        (Happened(), "neither which program"),
        (Happened(program="other.nc"), "none of the plan's programs"),
        (Happened(program=FIRST, off=(9e9, 0.0, 0.0)), "farther off"),
        (Happened(program=FIRST, off=(math.nan, 0.0, 0.0)), "not finite"),
        (Happened(box_mm=(1.0, 1.0, 1.0, 0.0, 2.0, 2.0)), "no inside"),
        (Happened(placement="9", gouge_mm=(0.0, 0.0, 1.0, 1.0, 1.0)), "not in the plan"),
        (Happened(placement="1", gouge_mm=(-900.0, 0.0, -890.0, 1.0, 1.0)), "no wood in that rectangle"),
    ]:
        with pytest.raises(Refusal, match=says):
            mishap(job, None, happened)
    assert not file_of(job, "block").exists()


def test_a_proof_is_of_the_wood_that_it_began_with() -> None:
    block = Columns.block(Grid.over(0.0, 0.0, 40.0, 20.0, 0.5), 0.0, 10.0)
    finer = Columns.block(Grid.over(0.0, 0.0, 40.0, 20.0, 0.25), 0.0, 10.0)
    gouged = without_box(block, (5.0, 5.0, 8.0, 6.0, 6.0, 12.0))
    assert wood_words(block) == wood_words(finer)
    assert wood_words(gouged) != wood_words(block)
    assert wood_words(without_box(block, (5.0, 5.0, 8.0, 6.0, 6.5, 12.0))) != wood_words(gouged)


def test_a_damaged_file_of_the_wood_is_refused(job: Path) -> None:
    mishap(job, None, Happened(box_mm=(-90.0, -70.0, 10.0, -70.0, -50.0, 30.0)))
    file_of(job, "block").write_bytes(b"no archive")
    with pytest.raises(Refusal, match="cannot be read"):
        open_workshop(job)


def test_on_the_command_line(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = ["mishap", str(job), "--from=-90x-70x10", "--to=-70x-50x30"]
    assert main(told) == 0
    assert "nothing of the piece is lost" in capsys.readouterr().out
    shutil.rmtree(job / "as-is")
    assert main(["mishap", str(job), "--from=-3x-80x-1", "--to=3x80x40", "--json"]) == 1
    assert '"can_be_made": false' in capsys.readouterr().out
    assert main(["mishap", str(job), "--from=-3x-80x-1"]) == 1
    assert "one of them is missing" in capsys.readouterr().err
    assert main(["mishap", str(job), "--depth", "3", "--placement", "1"]) == 1
    assert "of which place" in capsys.readouterr().err
