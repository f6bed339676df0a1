"""The meeting height from the plan through paths and text to the proof: where two sides meet no step is left.

The little box is one of a machine whose Z ends 9 mm above the board, so that neither side can cut the walls alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
import pytest

from witnessmark.job.demonstration import box_job
from witnessmark.job.models import Job
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.model import PiecePlan
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.programs import Draft, write_drafts
from witnessmark.plan.spindle import main_cutter, reachable
from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.verdict import ProgramText, Verdict
from witnessmark.shapes.simple import straight_box
from witnessmark.shapes.solid import Solid

LENGTH_MM, WIDTH_MM, HEIGHT_MM, WALL_MM = 70.0, 40.0, 20.0, 8.0
LOWEST_TIP_MM = 9.0
MOST_STEP_MM = 0.05  # a hair, and the gouge tolerance that a job starts with
SHIFT_MM = 0.3


@dataclass(frozen=True)
class Made:
    job: Job
    shape: Solid
    plan: PiecePlan
    drafts: tuple[Draft, ...]

    def proven(self, drafts: tuple[Draft, ...]) -> Verdict:
        box = blank_box(self.plan.piece.blank, *self.shape.bounds_mm)
        return prove(
            [ProgramText(draft.file, draft.placement, draft.cutter, draft.text) for draft in drafts],
            blank_columns(box.lower_mm, box.upper_mm, self.job.settings),
            self.shape,
            self.job.machine,
            self.job.cutters,
            {step.placement.name: step.placement for step in self.plan.placements},
            self.job.settings,
        )


@pytest.fixture(scope="module")
def made() -> Made:
    """The little box planned and its programs written, on coarse grids: walls are judged exactly all the same."""
    job = box_job()
    shape = straight_box(
        size_x_mm=LENGTH_MM, size_y_mm=WIDTH_MM, height_mm=HEIGHT_MM, wall_mm=WALL_MM, hollow_mm=HEIGHT_MM / 2
    )
    size = {"size_x_mm": 100.0, "size_y_mm": 70.0, "size_z_mm": 22.0, "glue_lines_z_mm": ()}
    piece = job.pieces[0].model_copy(update={"blank": job.pieces[0].blank.model_copy(update=size)})
    machine = job.machine.model_copy(update={"nose_above_bed_mm": 182.0})
    cutter = job.cutters[0].model_copy(update={"stepdown_mm": 10.0})
    pitches = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.5})
    job = job.model_copy(update={"pieces": (piece,), "machine": machine, "cutters": (cutter,), "settings": pitches})
    plan, drafts = write_drafts(job, plan_piece(job, piece, shape), shape)
    return Made(job, shape, plan, drafts)


def shifted(draft: Draft, by_mm: float) -> Draft:
    """The draft with every X of its moves moved; comments and arcs' centre offsets stay."""
    lines = draft.text.splitlines()
    moved = [
        line if line.startswith("(") else re.sub(r"X(-?[\d.]+)", lambda x: f"X{float(x.group(1)) + by_mm:.3f}", line)
        for line in lines
    ]
    assert moved != lines
    return replace(draft, text="\n".join(moved) + "\n")


def test_the_through_heights_of_the_two_sides_overlap(made: Made) -> None:
    """Each side cuts past the meeting height by the overlap asked for, and no lower than the machine's Z goes."""
    first, second = (step.placement for step in made.plan.placements)
    assert (first.up, second.up) == ("-z", "+z")
    cut_from_foot_to, cut_from_rim_to = (
        float(place.stand.inverse().apply(np.array([0.0, 0.0, place.through_z_mm]))[2]) for place in (first, second)
    )
    assert cut_from_foot_to - cut_from_rim_to == pytest.approx(2 * made.job.settings.through_overlap_mm)
    assert 0.0 < cut_from_rim_to < cut_from_foot_to < HEIGHT_MM
    lowest_mm = reachable(main_cutter(made.job), made.job.machine, made.job.settings).lowest_tip_mm
    assert lowest_mm == pytest.approx(LOWEST_TIP_MM)
    assert min(place.through_z_mm for place in (first, second)) >= lowest_mm


def test_no_step_is_left_where_the_sides_meet(made: Made) -> None:
    """The programs pass, and the step measured all round the walls is far less than a hair."""
    verdict = made.proven(made.drafts)
    assert verdict.passed
    step = verdict.step
    assert step is not None
    assert step.by_mm < MOST_STEP_MM
    round_mm = 2 * (LENGTH_MM + WIDTH_MM)
    assert step.places * 2.0 > 0.9 * round_mm  # measured every 2 mm at least, nearly all the way round
    first, second = (step.placement for step in made.plan.placements)
    ends = [p.stand.inverse().apply(np.array([0.0, 0.0, p.through_z_mm]))[2] for p in (second, first)]
    assert (step.z_from_mm, step.z_to_mm) == pytest.approx(ends)


@pytest.mark.parametrize("by_mm", [SHIFT_MM, -SHIFT_MM])
def test_a_second_side_that_lies_off_is_told_as_a_step(made: Made, by_mm: float) -> None:
    """Every X of the second side off by 0.3 mm: a step of 0.3 mm on a wall that faces x, gouges, and no pass."""
    second = made.plan.placements[1].placement.name
    drafts = tuple(shifted(draft, by_mm) if draft.placement == second else draft for draft in made.drafts)
    verdict = made.proven(drafts)
    assert not verdict.passed
    assert verdict.step is not None
    assert verdict.step.by_mm == pytest.approx(SHIFT_MM, abs=0.02)
    assert abs(verdict.step.place_mm[0]) == pytest.approx(LENGTH_MM / 2, abs=0.01)
    assert abs(verdict.step.place_mm[1]) < WIDTH_MM / 2 - 2.0
    walls = [f for f in verdict.findings if f.kind == "gouge" and "wall" in f.what and f.placement == second]
    assert max(f.by_mm for f in walls) == pytest.approx(SHIFT_MM, abs=0.02)
