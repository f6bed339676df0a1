"""The rehearsal touches nothing even when mis-set, and every mistake looks as the bench sheet says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from two_sided_block import planned_block

from witnessmark.job.demonstration import demonstration_job
from witnessmark.job.frames import Rigid
from witnessmark.job.placement import Placement
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.model import PlacementPlan
from witnessmark.plan.rehearsal import PLAY_MM, Rehearsal, mis_settings
from witnessmark.plan.store import load_plans
from witnessmark.plan.wood import whole_blank
from witnessmark.program.motion import RAPID
from witnessmark.program.read import read
from witnessmark.program.rehearse import CARD_MM, FIRST_MM
from witnessmark.proof.judge import watch
from witnessmark.proof.verdict import ProgramText
from witnessmark.sheet.rehearsals import LIKE_IT, seen
from witnessmark.verbs.make import drafts_of
from witnessmark.verbs.workshop import open_workshop


class Bench:
    """The blank as it stands before a placement's first program, however it was put down."""

    def __init__(self, job: Path, number: int) -> None:
        self.workshop = open_workshop(job)
        (plan,) = load_plans(self.workshop.job, self.workshop.folder.out("plan.toml"), None)
        self.step: PlacementPlan = plan.placements[number - 1]
        self.text = next(d.text for d in drafts_of(self.workshop) if d.file == self.rehearsal.file)
        self.box = blank_box(plan.piece.blank, *self.workshop.solids[plan.piece.name].bounds_mm)
        self.wood = whole_blank(self.box, 0.25)
        before = {s.placement.name for s in plan.placements[: number - 1]}
        ran = [d for d in drafts_of(self.workshop) if d.placement in before]
        if ran:
            programs = [ProgramText(d.file, d.placement, d.cutter, d.text) for d in ran]
            places = {s.placement.name: s.placement for s in plan.placements}
            made = self.workshop.job
            self.wood = watch(programs, self.wood, made.machine, made.cutters, places, made.settings).columns_after

    @property
    def rehearsal(self) -> Rehearsal:
        assert self.step.rehearsal is not None
        return self.step.rehearsal

    def standing(self, mistake: str) -> Rigid:
        """The piece frame into the standing frame, with a mistake made: worked out from how a block can be turned."""
        right = self.step.placement.stand
        corners = right.apply(np.array([self.box.lower_mm, self.box.upper_mm]))
        low, high = corners.min(axis=0), corners.max(axis=0)
        middle = (low + high) / 2
        half_turn = {
            "z": np.diag([-1.0, -1.0, 1.0]),
            "y": np.diag([-1.0, 1.0, -1.0]),
            "x": np.diag([1.0, -1.0, -1.0]),
        }

        def about(axis: str) -> Rigid:
            turn = half_turn[axis]
            return Rigid(turn, middle - turn @ middle) @ right

        if mistake in ("the wrong end to the left", "turned over about the wrong axis"):
            return about("z")
        if mistake == "the wrong face up":
            return about("y")
        if mistake == "the wrong face up, and the wrong end to the left":
            return about("x")
        way = 1.0 if mistake.endswith("right") else -1.0
        board = self.workshop.job.machine.board
        assert board is not None
        return Rigid(np.eye(3), np.array([way * board.hole_pitch_mm, 0.0, 0.0])) @ right

    def height_mm(self, stand: Rigid, x_mm: float, y_mm: float) -> float:
        """The wood's top at a place of the standing frame; 0 (the board) where there is none."""
        over = stand.rotation[2, 2] < 0
        at = stand.inverse().apply(np.array([x_mm, y_mm, 0.0]))
        grid = self.wood.grid
        i, j = int((at[0] - grid.x0_mm) // grid.pitch_mm), int((at[1] - grid.y0_mm) // grid.pitch_mm)
        if not (0 <= i < grid.nx and 0 <= j < grid.ny):
            return 0.0
        cell = j * grid.nx + i
        a, b = int(self.wood.first[cell]), int(self.wood.first[cell + 1])
        if a == b:
            return 0.0
        z = float(self.wood.low[a]) if over else float(self.wood.high[b - 1])
        return float(stand.apply(np.array([at[0], at[1], z]))[2])


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_block(tmp_path_factory.mktemp("rehearsal"), window=True)


@pytest.mark.parametrize("number", [1, 2])
def test_the_program_only_looks(job: Path, number: int) -> None:
    bench = Bench(job, number)
    table = read(bench.text)
    assert not [r for r in table.remarks if r.harm == "error"]
    assert not table.spindle_rpm.any()
    stops = [line for line in bench.text.splitlines() if line.strip() == "M0"]
    assert len(stops) == 2 + bool(bench.rehearsal.corner) + (bench.rehearsal.cut_mm is not None)
    x, y, z = bench.rehearsal.at_mm
    down = table.end_mm[table.kind != RAPID]
    np.testing.assert_allclose(down[-1], [x, y, z + CARD_MM], atol=2e-3)
    assert down[:, 2].min() == pytest.approx(z + CARD_MM, abs=2e-3)


@pytest.mark.parametrize("number", [1, 2])
def test_nothing_is_touched_before_the_first_stop_even_when_mis_set(job: Path, number: int) -> None:
    """3 mm off in any direction, and too low by as much: there is air under the tip wherever it goes till then."""
    bench = Bench(job, number)
    place = bench.step.placement
    table = read(bench.text)
    tip_mm = bench.workshop.job.cutters[0].diameter_mm / 2
    ends = table.end_mm[np.isfinite(table.end_mm).all(axis=1)]
    first = ends[ends[:, 2] >= bench.rehearsal.at_mm[2] + FIRST_MM - 1e-3]
    assert len(first) >= 5
    rng = np.random.default_rng(3)
    for x, y, z in first:
        for _ in range(60):
            off = PLAY_MM * rng.uniform() * np.array([np.cos(a := rng.uniform(0, 2 * np.pi)), np.sin(a)])
            rim = tip_mm * np.array([np.cos(b := rng.uniform(0, 2 * np.pi)), np.sin(b)])
            under = np.array([x, y]) - place.shift_mm + off + rim
            assert z - PLAY_MM > bench.height_mm(place.stand, *under) + 1.0


@pytest.mark.parametrize("number", [1, 2])
def test_every_mistake_looks_as_the_sheet_says(job: Path, number: int) -> None:
    bench = Bench(job, number)
    place = bench.step.placement
    x, y, z = np.array(bench.rehearsal.at_mm) - (*place.shift_mm, 0.0)
    assert bench.height_mm(place.stand, x, y) == pytest.approx(z, abs=0.01)
    assert bench.rehearsal.sights
    for sight in bench.rehearsal.sights:
        if "x 0" in sight.mistake or "z" in sight.mistake:
            continue  # set wrong at the machine: see below
        stand = bench.standing(sight.mistake)
        gap_mm = z + FIRST_MM - bench.height_mm(stand, x, y)
        assert gap_mm > 0.4  # whatever is wrong, the first stop is in the air
        if sight.gap_mm is None:
            assert gap_mm == pytest.approx(FIRST_MM, abs=1.0)
        else:
            assert gap_mm == pytest.approx(sight.gap_mm, abs=0.35)  # the planning grid's cells
        if sight.beside_mm is not None:
            assert np.linalg.norm((stand.translation_mm - place.stand.translation_mm)[:2]) == pytest.approx(
                sight.beside_mm
            )
        if sight.uncut:
            assert bench.rehearsal.cut_mm is not None
            cx, cy = np.array(bench.rehearsal.cut_mm) - place.shift_mm
            assert bench.height_mm(stand, cx, cy) > bench.height_mm(place.stand, cx, cy) + 2.5


def test_after_turning_over_each_mistake_is_told_by_something(job: Path) -> None:
    rehearsal = Bench(job, 2).rehearsal
    assert {s.mistake for s in rehearsal.sights} >= {"turned over about the wrong axis", "the wrong face up"}
    told = {s.mistake: seen(s) for s in rehearsal.sights}
    assert told["turned over about the wrong axis"] != LIKE_IT
    assert told["the wrong face up"] != LIKE_IT
    assert told["the board bolted one hole too far to the left"] != LIKE_IT


def test_what_is_set_wrong_at_the_machine_is_seen_too() -> None:
    """A kept touch-off and a forgotten setting block show by as much as they are, a zero elsewhere at the corner."""
    router = demonstration_job().machine
    place = Placement("2", "+z", Rigid(np.eye(3), np.zeros(3)), (0.0, 0.0), 18.0, (0.0, 0.0, 1.0, 1.0), ("end 6",))
    blocked = replace(place, touch_off_block_mm=25.0)
    for before, now in ((45.0, 38.0), (38.0, 45.0)):
        sights = {sight.mistake: sight for sight in mis_settings(blocked, router, now, before)}
        kept = sights["this cutter not touched off, the last one's z kept"]
        # z 0 was set with the tip of the cutter before at the face: this one's tip lies higher by what it is shorter
        assert kept.gap_mm == FIRST_MM + (before - now)
        assert ("hand at the stop" in seen(kept)) == (before < now - FIRST_MM)
        assert sights["z 0 at the top of the setting block"].gap_mm == FIRST_MM + 25.0
        assert "100 mm beside the corner" in seen(sights["x 0, y 0 not at the front left corner of the travel"])
    assert len(mis_settings(place, router, 45.0, 45.0)) == 1
