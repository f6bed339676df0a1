"""From a hidden place of the work, through typed numbers, to corrected programs that pass where the work lies."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from two_sided_block import numbers_read, planned_block

from witnessmark.cli.main import main
from witnessmark.job.errors import Refusal
from witnessmark.plan.store import load_plans
from witnessmark.program.fingerprint import fingerprint, stamped_of
from witnessmark.verbs.demo import lay_out_demo
from witnessmark.verbs.find import find, touches
from witnessmark.verbs.make import drafts_of, plan, program
from witnessmark.verbs.placed import placed
from witnessmark.verbs.prove import prove_piece
from witnessmark.verbs.workshop import open_workshop

POSE = (0.8, -0.6, math.radians(0.3))
STYLUS = 4.0


@pytest.fixture(scope="module")
def job(tmp_path_factory) -> Path:
    return planned_block(tmp_path_factory.mktemp("find"))


def place_of(job: Path):
    workshop = open_workshop(job)
    (planned,) = load_plans(workshop.job, workshop.folder.out("plan.toml"), None)
    return workshop, planned, planned.placements[1].placement


def typed(job: Path, pose=POSE, noise: float = 0.0, seed: int = 0) -> dict[int, float]:
    """What the machine says at every touch of the second placement, the work lying at ``pose``."""
    return numbers_read(place_of(job)[2], pose, STYLUS, noise, seed)


def test_the_touches_are_listed_with_what_they_should_read(job: Path) -> None:
    every = touches(job, None, "2", STYLUS)
    listed = [touch for touch in every if not touch.level]
    assert [touch.axis for touch in every if touch.level] == ["z"] * 4
    assert len(listed) >= 6
    assert {touch.axis for touch in listed} == {"x", "y"}
    expected = {touch.number: touch.at_mm["xy".index(touch.axis)] for touch in listed}
    assert typed(job, (0.0, 0.0, 0.0)) == pytest.approx(expected)


def test_the_work_is_found_and_its_programs_corrected_and_proven(job: Path) -> None:
    found = find(job, None, "2", typed(job), STYLUS)
    assert found.found.pose == pytest.approx(POSE, abs=1e-9)
    assert found.agreement.agrees
    assert found.passed, found.words()
    assert found.step_mm < 0.1
    assert found.files
    for path in found.files:
        text = path.read_text()
        assert "(corrected: x +0.800 mm, y -0.600 mm, turned +0.3000 degrees)" in text
        assert stamped_of(text) == fingerprint(text)


def test_uncorrected_programs_do_not_pass_where_the_work_lies(job: Path) -> None:
    """Without correction: cut into the piece by about the misplacement."""
    workshop, planned, place = place_of(job)
    verdict = prove_piece(workshop, planned, drafts_of(workshop), lambda *_: None, None, {place.name: POSE})
    assert not verdict.passed
    assert 0.5 < verdict.worst_gouge_mm < 1.5


def test_readings_with_noise_leave_the_walls_within_what_was_said(job: Path) -> None:
    found = find(job, None, "2", typed(job, noise=0.01, seed=4), STYLUS, 0.01)
    off = found.found.pose - np.array(POSE)
    assert np.abs(off[:2]).max() < 0.05
    assert found.passed


def test_a_wrong_number_is_named_and_no_program_is_corrected(job: Path) -> None:
    numbers = typed(job)
    listed = {touch.number: touch for touch in touches(job, None, "2", STYLUS)}
    wrong = next(k for k, touch in listed.items() if touch.known_from != "measured")
    numbers[wrong] += 1.0
    found = find(job, None, "2", numbers, STYLUS)
    assert not found.agreement.agrees
    assert not found.files
    assert not list((job / "out" / "corrected").glob("*.nc"))
    assert "no program is corrected" in found.words()
    named = [found.names[k] for k in found.agreement.suspects]
    assert any(name.startswith(f"{wrong} ") for name in named)


def test_refusals_say_what_to_do(job: Path) -> None:
    with pytest.raises(Refusal, match="read more of its touches"):
        find(job, None, "2", {1: 10.0, 2: 20.0}, STYLUS)
    with pytest.raises(Refusal, match=r"has \d+ touches"):
        find(job, None, "2", {99: 1.0}, STYLUS)
    with pytest.raises(Refusal, match="not in the plan"):
        find(job, None, "9", {1: 1.0}, STYLUS)
    with pytest.raises(Refusal, match="is not in the plan"):
        touches(job, "lid", "2", STYLUS)
    with pytest.raises(Refusal, match="more than 50 mm off"):
        find(job, None, "2", {k: v + 200.0 for k, v in typed(job).items()}, STYLUS)
    with pytest.raises(Refusal, match="more than 0"):
        find(job, None, "2", {1: 1.0}, 0.0)


def test_on_the_command_line(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [str(job), "--placement", "2", "--stylus", "4"]
    assert main(["find", *words]) == 0
    assert "read x; planned at x" in capsys.readouterr().out
    reads = [f"--read={k}={value:.4f}" for k, value in typed(job).items()]
    assert main(["find", *words, *reads, "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["passed"]
    assert record["dx_mm"] == pytest.approx(0.8, abs=1e-3)
    assert main(["find", *words, "--read", "nonsense"]) == 1
    assert "N=VALUE" in capsys.readouterr().err
    assert main(["find", *words, "--read", "1=3", "--read", "1=4"]) == 1
    assert "second for that place" in capsys.readouterr().err


def test_the_answer_says_how_to_push_it_back_and_draws_the_steps(job: Path) -> None:
    found = find(job, None, "2", typed(job), STYLUS)
    said = found.words()
    assert "all of it 0.8" in said
    assert "to the left" in said
    assert found.picture is not None
    assert found.picture.read_bytes().startswith(b"\x89PNG")


def test_no_program_is_corrected_for_work_that_is_not_level(job: Path) -> None:
    place = place_of(job)[2]
    heights = {k: float(place.stand.apply(np.array(t.point_mm))[2]) for k, t in enumerate(place.levels, 1)}
    assert find(job, None, "2", typed(job), STYLUS, heights_mm=heights).passed
    low = {k: z - (0.5 if "front" in place.levels[k - 1].name else 0.0) for k, z in heights.items()}
    found = find(job, None, "2", typed(job), STYLUS, heights_mm=low)
    assert not found.passed
    assert found.files == ()
    assert "under the front left corner" in found.words()
    with pytest.raises(Refusal, match="supporting face"):
        find(job, None, "2", typed(job), STYLUS, heights_mm={k: z + 100.0 for k, z in heights.items()})


def test_heights_alone_on_the_command_line(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["find", str(job), "--placement", "1", "--stylus", "4"]
    place = place_of(job)[1].placements[0].placement
    z = float(place.stand.apply(np.array(place.levels[0].point_mm))[2])
    level = [f"--height={k}={z}" for k in range(1, len(place.levels) + 1)]
    assert main([*words, *level]) == 0
    assert "level enough" in capsys.readouterr().out
    assert main([*words, *level[1:], f"--height=1={z - 1.0}", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["holds"] is False


def test_placed_by_holes_or_pins_the_planned_place_counts_with_what_it_repeats_to(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["find", str(job), "--placement", "2", "--json"]
    assert main([*words, "--by", "holes"]) == 0
    by_holes = json.loads(capsys.readouterr().out)
    assert (by_holes["dx_mm"], by_holes["dy_mm"], by_holes["turn_deg"]) == (0.0, 0.0, 0.0)
    assert by_holes["step_mm"] > 0.1  # holes repeat to 0.1 mm
    assert main([*words, "--by", "pins", "--pin=100x150", "--pin=200x250", "--play", "0.02"]) == 0
    by_pins = json.loads(capsys.readouterr().out)
    assert by_pins["step_mm"] < 0.5 * by_holes["step_mm"]
    assert main([*words, "--by", "pins", "--pin=100x150"]) == 1
    assert main([*words, "--by", "stop", "--shift", "150"]) == 1  # it was turned over, not shifted
    assert main([*words, "--by", "stop"]) == 1
    assert main(["find", str(job), "--placement", "2"]) == 1  # readings need the stylus' diameter


def test_programs_that_would_leave_the_travel_where_the_work_lies_are_refused(tmp_path: Path) -> None:
    """The box's second placement reaches to x 251 of 300: 49.5 mm further right its programs would go beyond."""
    folder = lay_out_demo(tmp_path / "box", "box")
    plan(folder)
    program(folder)
    place = placed(folder, None, "2")[2]
    near = find(folder, None, "2", numbers_read(place, (3.0, 0.0, 0.0), STYLUS), STYLUS)
    assert near.passed
    far = find(folder, None, "2", numbers_read(place, (49.5, 0.0, 0.0), STYLUS), STYLUS)
    assert not far.passed
    assert far.files == ()
    assert "outside travel" in far.words()
    assert not list((folder / "out" / "corrected").glob("*.nc"))
