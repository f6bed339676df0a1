"""The dish's clearance cuts: with them nothing touches wood, without them the collet nut and the nose do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest

from witnessmark.field.columns import Columns
from witnessmark.job.demonstration import dish_job
from witnessmark.job.models import Job
from witnessmark.job.placement import Placement
from witnessmark.plan.candidates import blank_box
from witnessmark.plan.model import PlacementPlan
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.programs import Draft, write_drafts
from witnessmark.plan.wood import whole_blank
from witnessmark.program.motion import ARC_CCW, ARC_CW, RAPID, MotionTable
from witnessmark.program.read import read
from witnessmark.proof.finding import Finding
from witnessmark.proof.running import run_program
from witnessmark.proof.verdict import ProgramText
from witnessmark.proof.wood import Wood
from witnessmark.shapes.simple import shallow_dish
from witnessmark.shapes.solid import Solid

PLAN_PITCH_MM, PROOF_PITCH_MM = 1.0, 0.5
SIZE_X_MM, SIZE_Y_MM, ROUND_IT_MM = 150.0, 120.0, 60.0  # a smaller dish, as steep and as high as the example's
TOP_MM, NUT_FROM_TIP_MM, NOSE_FROM_TIP_MM = 44.0, 25.0, 38.0  # of the blank; stick-out 25, and a nut of 13

Keep = Callable[[MotionTable], np.ndarray]


def small_dish() -> tuple[Job, Solid]:
    """The example's machine, cutters, flare and heights; a dish that one placement a side reaches."""
    solid = shallow_dish(size_x_mm=SIZE_X_MM, size_y_mm=SIZE_Y_MM, rim_corner_radius_mm=40.0)
    job = dish_job()
    piece = job.pieces[0]
    blank = piece.blank.model_copy(
        update={"size_x_mm": SIZE_X_MM + ROUND_IT_MM, "size_y_mm": SIZE_Y_MM + ROUND_IT_MM}
    )
    settings = job.settings.model_copy(update={"plan_pitch_mm": PLAN_PITCH_MM, "proof_pitch_mm": PROOF_PITCH_MM})
    return job.model_copy(
        update={"pieces": (piece.model_copy(update={"blank": blank}),), "settings": settings}
    ), solid


@dataclass(frozen=True, eq=False)
class FootUp:
    """The placement with the foot up: its plan, its programs, and the whole blank as it stands there."""

    job: Job
    step: PlacementPlan
    drafts: tuple[Draft, ...]
    blank: Columns

    @property
    def placement(self) -> Placement:
        return self.step.placement

    def run(self, keep: Keep | None) -> tuple[list[Finding], float]:
        """Cut the blank with what is kept of each program (None: as written): findings, mm3 of wood removed."""
        wood, found = Wood(self.blank), []
        cutters = {cutter.name: cutter for cutter in self.job.cutters}
        for draft in self.drafts:
            table = read(draft.text)
            text = plain_text(table, keep(table)) if keep else draft.text
            program = ProgramText(draft.file, draft.placement, draft.cutter, text)
            ran = run_program(
                program,
                read(text),
                self.placement,
                cutters[draft.cutter],
                self.job.machine,
                self.job.settings,
                (0.0, 0.0, 0.0),
                wood,
            )
            found += ran.findings
        return found, self.blank.volume_mm3() - wood.columns.volume_mm3()


@pytest.fixture(scope="module")
def foot_up() -> FootUp:
    """The dish planned once, and the programs of its first placement."""
    job, solid = small_dish()
    planned = plan_piece(job, job.pieces[0], solid)
    first = replace(planned, placements=planned.placements[:1])
    _, drafts = write_drafts(job, first, solid)
    step = planned.placements[0]
    columns = whole_blank(blank_box(job.pieces[0].blank, *solid.bounds_mm), PROOF_PITCH_MM)
    cutting = tuple(draft for draft in drafts if "rehearsal" not in draft.file)
    return FootUp(job, step, cutting, columns)


def plain_text(table: MotionTable, keep: np.ndarray) -> str:
    """A program of the motions that are kept; where some are left out it rises and goes on above the wood."""
    safe_mm = float(table.end_mm[:, 2].max())
    lines, here = ["G17 G21 G40 G49 G54 G80 G90 G94", "S18000 M3"], None
    for k in np.flatnonzero(keep & (table.kind <= ARC_CCW)):
        (x, y, z), (i, j, _) = table.end_mm[k], np.nan_to_num(table.centre_mm[k] - table.start_mm[k])
        if here is None or not np.array_equal(table.start_mm[k], here):
            a, b, c = table.start_mm[k]
            lines += [f"G0 Z{safe_mm:.3f}", f"G0 X{a:.3f} Y{b:.3f}", f"G1 Z{c:.3f} F600"]
        if table.kind[k] == RAPID:
            lines.append(f"G0 X{x:.3f} Y{y:.3f} Z{z:.3f}")
        elif table.kind[k] in (ARC_CW, ARC_CCW):
            lines.append(f"G{table.kind[k]} X{x:.3f} Y{y:.3f} I{i:.3f} J{j:.3f} F{table.feed_mm_min[k]:.0f}")
        else:
            lines.append(f"G1 X{x:.3f} Y{y:.3f} Z{z:.3f} F{table.feed_mm_min[k]:.0f}")
        here = table.end_mm[k]
    return "\n".join([*lines, f"G0 Z{safe_mm:.3f}", "M5", "M2"]) + "\n"


def everything(table: MotionTable) -> np.ndarray:
    return np.ones(len(table), dtype=bool)


def without_clearance(foot_up: FootUp, above_mm: float = 0.0) -> Keep:
    """Leave out every feed move above a height over ground where the plan wants nothing but clearance cut."""
    step = foot_up.step
    assert step.tips is not None
    assert step.wanted is not None
    clearance = np.isfinite(step.tips) & ~np.isfinite(step.wanted)

    def over_clearance(places_mm: np.ndarray) -> np.ndarray:
        shift = foot_up.placement.shift_mm
        column = np.floor((places_mm[:, 0] - shift[0] - step.grid.x0_mm) / step.grid.pitch_mm).astype(int)
        row = np.floor((places_mm[:, 1] - shift[1] - step.grid.y0_mm) / step.grid.pitch_mm).astype(int)
        inside = (column >= 0) & (column < step.grid.nx) & (row >= 0) & (row < step.grid.ny)
        return inside & clearance[np.clip(row, 0, step.grid.ny - 1), np.clip(column, 0, step.grid.nx - 1)]

    def keep(table: MotionTable) -> np.ndarray:
        for_clearance = over_clearance(table.start_mm) | over_clearance(table.end_mm)
        return (table.kind == RAPID) | ~for_clearance | (table.end_mm[:, 2] < above_mm)

    return keep


def contacts(found: list[Finding], part: str) -> list[Finding]:
    return [finding for finding in found if finding.kind == "assembly contact" and part in finding.what]


def test_with_its_clearance_cuts_nothing_touches(foot_up: FootUp) -> None:
    """The programs as written, and taken apart and put together again here, run without a stop."""
    for keep in (None, everything):
        found, _ = foot_up.run(keep)
        assert [str(finding) for finding in found if finding.harm == "stop"] == []


def test_without_them_the_nut_runs_into_wood(foot_up: FootUp) -> None:
    """As much wood as the plan calls clearance stays, and the nut meets it while the trench is cut to its floor."""
    _, all_mm3 = foot_up.run(everything)
    found, some_mm3 = foot_up.run(without_clearance(foot_up))
    assert all_mm3 - some_mm3 == pytest.approx(foot_up.step.clearance_mm3, rel=0.1)
    by_mm = TOP_MM - foot_up.placement.through_z_mm - NUT_FROM_TIP_MM
    for draft in foot_up.drafts:
        nut = [finding for finding in contacts(found, "collet nut") if finding.file == draft.file]
        assert max(finding.by_mm for finding in nut) == pytest.approx(by_mm, abs=0.01)
        assert all(finding.harm == "stop" and finding.line > 0 for finding in nut)


def test_with_the_nuts_clearance_alone_the_nose_runs_into_wood(foot_up: FootUp) -> None:
    """The shallow clearance further out is for the nose: without it the nose goes 2.5 mm into the blank's top."""
    by_mm = TOP_MM - foot_up.placement.through_z_mm - NOSE_FROM_TIP_MM
    found, _ = foot_up.run(without_clearance(foot_up, above_mm=TOP_MM - by_mm - 1.0))
    nose = contacts(found, "spindle nose")
    assert {finding.file for finding in nose} == {draft.file for draft in foot_up.drafts}
    assert max(finding.by_mm for finding in nose) == pytest.approx(by_mm, abs=0.01)
    assert contacts(found, "collet nut") == []
