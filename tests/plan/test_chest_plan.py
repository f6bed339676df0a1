"""The demonstration's plans: the chest's body in four placements and how deep they go; the box and its programs.

The figures asked of the chest stand in examples/demonstration_figures.py, worked out there by plane geometry.
"""

from __future__ import annotations

import dataclasses
import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from witnessmark.job.demonstration import box_job, demonstration_job
from witnessmark.job.models import Job
from witnessmark.plan.hits import hits_without_clearance
from witnessmark.plan.model import PiecePlan
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.programs import Draft, write_drafts
from witnessmark.plan.search import lay_out, meeting_options
from witnessmark.plan.spindle import main_cutter, reachable
from witnessmark.plan.store import load_plans, save_plans
from witnessmark.plan.table import guessed_minutes, row
from witnessmark.program.fingerprint import fingerprint, stamped, stamped_of
from witnessmark.program.header import value_of
from witnessmark.program.minutes import minutes
from witnessmark.program.read import read
from witnessmark.shapes.ginkgo import tea_chest_body
from witnessmark.shapes.simple import straight_box
from witnessmark.shapes.solid import Solid

BLANK_MM, TIP_MM, NUT_BELOW_TOP_MM, BOARD_MM = 62.0, 3.5, 13.5, 18.0
CHANGED_DIGITS = 300


@dataclasses.dataclass(frozen=True, eq=False)
class Planned:
    """A job, the solid of its first piece, and its plan."""

    job: Job
    solid: Solid
    plan: PiecePlan
    drafts: tuple[Draft, ...] = ()


@pytest.fixture(scope="session")
def body() -> Planned:
    """The chest's body planned once, on the job's own grid: a coarser one finds corners out of reach that are not."""
    job, solid = demonstration_job(), tea_chest_body()
    return Planned(job, solid, plan_piece(job, job.pieces[0], solid))


@pytest.fixture(scope="session")
def box() -> Planned:
    """The box planned once on a coarse grid, with its programs."""
    job, solid = box_job(), straight_box()
    job = job.model_copy(update={"settings": job.settings.model_copy(update={"plan_pitch_mm": 1.0})})
    plan, drafts = write_drafts(job, plan_piece(job, job.pieces[0], solid), solid)
    return Planned(job, solid, plan, drafts)


def test_the_body_takes_four_placements_and_no_order_could_do_with_fewer(body: Planned) -> None:
    """As many as the bound, all of it reached, two with each side up."""
    plan = body.plan
    assert plan.bound == len(plan.placements) == 4
    assert [step.placement.name for step in plan.placements] == ["1", "2", "3", "4"]
    assert [step.placement.up for step in plan.placements] == ["-z", "-z", "+z", "+z"]
    assert all(step.placement.notes == () for step in plan.placements)
    machine, blank = body.job.machine, body.job.pieces[0].blank
    pitch_mm = machine.board.hole_pitch_mm
    lengths = ((blank.size_x_mm, machine.travel_x_mm), (blank.size_y_mm, machine.travel_y_mm))
    holes = [2 * int(max(0.0, (long - travel) / 2 + pitch_mm) / pitch_mm) + 1 for long, travel in lengths]
    heights = (plan.evaluated + sum(plan.pruned.values())) / (2 * holes[0] * holes[1])
    assert heights in (1, 7)  # one height where there is no choice, else both ends and five between


def test_the_placements_of_a_side_cover_the_blank_within_the_travel(body: Planned) -> None:
    """The two regions of a side meet and fill the blank; each lies where the axis can go."""
    machine, blank = body.job.machine, body.job.pieces[0].blank
    for first in (0, 2):
        regions = [body.plan.placements[k].placement.region_mm for k in (first, first + 1)]
        assert sum((x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in regions) == pytest.approx(
            blank.size_x_mm * blank.size_y_mm
        )
    for step in body.plan.placements:
        window = step.placement.window_mm(machine.travel_x_mm, machine.travel_y_mm)
        wanted = np.isfinite(step.tips)
        x_mm, y_mm = step.grid.x_mm[wanted.any(axis=0)], step.grid.y_mm[wanted.any(axis=1)]
        assert window[0] <= x_mm.min() <= x_mm.max() <= window[2]
        assert window[1] <= y_mm.min() <= y_mm.max() <= window[3]


def test_foot_up_the_tip_goes_to_three_and_a_half_above_the_board(body: Planned) -> None:
    """Foot up, the walls are cut past the rim (4 mm under it) by the overlap of 0.5; in the bed that is 21.5 mm."""
    for step in body.plan.placements[:2]:
        assert step.placement.up == "-z"
        assert step.placement.through_z_mm == TIP_MM
        assert float(step.tips.min()) == TIP_MM
        assert step.placement.support_z_bed_mm == BOARD_MM
        tip_in_piece = (0.0, 0.0, BLANK_MM - TIP_MM)
        assert step.placement.piece_to_bed.apply(np.array(tip_in_piece))[2] == pytest.approx(BOARD_MM + TIP_MM)


def test_the_nut_then_lies_thirteen_and_a_half_below_the_blanks_top(body: Planned) -> None:
    """Without clearance the nut would go 13.5 mm into wood; the clearance is cut as deep, with the rim up none is."""
    main = reachable(main_cutter(body.job), body.job.machine, body.job.settings)
    assert BLANK_MM - (TIP_MM + main.cutter.stickout_mm) == NUT_BELOW_TOP_MM
    for step in body.plan.placements[:2]:
        hits, _ = hits_without_clearance(step, main)
        assert [hit.kind for hit in hits] == ["nut"]
        assert hits[0].deepest_mm == pytest.approx(NUT_BELOW_TOP_MM, abs=1e-3)
        assert hits[0].place_mm[2] == pytest.approx(TIP_MM, abs=1e-3)
        assert float(step.clearance.max()) == pytest.approx(NUT_BELOW_TOP_MM, abs=1e-3)
        assert 0 < step.clearance_mm3 < step.removed_mm3
    for step in body.plan.placements[2:]:
        assert hits_without_clearance(step, main)[0] == []
        assert step.clearance_mm3 == 0


def differences(here: Any, there: Any, place: str = "plan") -> list[str]:
    """Where two plans differ, by walking all they hold."""
    if dataclasses.is_dataclass(here):
        if type(here) is not type(there):
            return [f"{place}: {type(here).__name__} became {type(there).__name__}"]
        names = [field.name for field in dataclasses.fields(here)]
        return [d for n in names for d in differences(getattr(here, n), getattr(there, n), f"{place}.{n}")]
    if isinstance(here, tuple):
        if not isinstance(there, tuple) or len(here) != len(there):
            return [f"{place}: {here!r} became {there!r}"]
        return [d for k, (a, b) in enumerate(zip(here, there)) for d in differences(a, b, f"{place}[{k}]")]
    if isinstance(here, np.ndarray):
        same = isinstance(there, np.ndarray) and here.dtype == there.dtype and np.array_equal(here, there)
        return [] if same else [f"{place}: the field changed"]
    return [] if here == there else [f"{place}: {here!r} became {there!r}"]


def test_a_plan_comes_back_from_disk_as_it_went(body: Planned, box: Planned, tmp_path: Path) -> None:
    """Everything is kept but the fields of wanted tips; volumes to a tenth of a mm3."""
    assert any(step.placement.touches for step in body.plan.placements)
    assert any(step.pockets for step in body.plan.placements)
    assert all(step.programs for step in box.plan.placements)
    for planned in (body, box):
        folder = tmp_path / planned.plan.piece.name
        folder.mkdir()
        save_plans([planned.plan], folder / "plan.toml", folder / "fields")
        job = planned.job.model_copy(update={"pieces": planned.job.pieces[:1]})
        (back,) = load_plans(job, folder / "plan.toml", folder / "fields")
        rounded = tuple(
            dataclasses.replace(
                step,
                wanted=None,
                removed_mm3=round(step.removed_mm3, 1),
                clearance_mm3=round(step.clearance_mm3, 1),
            )
            for step in planned.plan.placements
        )
        assert differences(dataclasses.replace(planned.plan, placements=rounded), back) == []


def test_the_boxs_sides_meet_where_both_reach(box: Planned) -> None:
    """Upright walls may be shared at any height; neither end will do, from the chosen one both sides' nuts stay out.

    The trench is narrower than the nut, so beside a wall that stands up to the blank's top the cutter goes no deeper
    than it sticks out.
    """
    spec, cutter = box.job.pieces[0], main_cutter(box.job)
    layout = lay_out(box.job, spec, box.solid)
    height_mm, blank_mm = 70.0, spec.blank.size_z_mm
    assert (layout.meeting.lowest_mm, layout.meeting.highest_mm) == (0.0, height_mm)
    assert meeting_options(layout.meeting, "-z")[:2] == [height_mm, 0.0]
    depths = {step.placement.up: blank_mm - step.placement.through_z_mm for step in box.plan.placements}
    overlap_mm = box.job.settings.through_overlap_mm
    assert depths["-z"] == pytest.approx(layout.meeting_mm + overlap_mm)
    assert depths["+z"] == pytest.approx(blank_mm - layout.meeting_mm + overlap_mm)
    assert max(depths.values()) <= cutter.stickout_mm < height_mm
    assert layout.unreached == 0
    assert all(step.placement.notes == () for step in box.plan.placements)


def test_minutes_are_guessed_from_the_wood_until_programs_exist(box: Planned) -> None:
    """Before: a range by the wood removed at the main cutter's full pace; the programs' own minutes lie in it."""
    main = box.job.cutters[0]
    pace = main.stepover_mm * main.stepdown_mm * main.feed_mm_min
    for step in box.plan.placements:
        least, most = guessed_minutes(step)
        assert least == pytest.approx(1.5 * step.removed_mm3 / pace)
        assert row(dataclasses.replace(step, programs=()))[-1] == f"{least:.0f} to {most:.0f}"
        told = sum(program.minutes for program in step.programs)
        assert row(step)[-1] == f"{told:.0f}"
        assert 0.8 * least < told < 1.25 * most


def test_the_header_tells_the_minutes_of_its_own_program(box: Planned) -> None:
    """What the time model says of the text that is written stands in its header, and in the plan to a tenth."""
    infos = {info.file: info for step in box.plan.placements for info in step.programs}
    cutting = [draft for draft in box.drafts if draft.file in infos]
    assert len(cutting) == len(infos) == 4
    for draft in cutting:
        takes = minutes(read(draft.text), box.job.machine)
        assert value_of(draft.text, "minutes") == f"{takes.total_min:.0f}"
        assert infos[draft.file].minutes == round(takes.total_min, 1)
        assert infos[draft.file].cutting_m == round(takes.cutting_m, 2)
        assert takes.total_min > 1.0


def test_one_changed_digit_is_another_fingerprint(box: Planned) -> None:
    """Any digit of a stamped program, changed by one, no longer fits the fingerprint that it carries."""
    draw = random.Random(1)
    for draft in box.drafts:
        program = stamped(draft.text, fingerprint(draft.text))
        carried = stamped_of(program)
        assert carried == fingerprint(program)
        start = program.index("(fingerprint:")
        line = range(start, program.index("\n", start))
        places = [k for k, c in enumerate(program) if c.isdigit() and k not in line]
        for k in draw.sample(places, min(CHANGED_DIGITS, len(places))):
            changed = program[:k] + str((int(program[k]) + 1) % 10) + program[k + 1 :]
            assert stamped_of(changed) == carried
            assert fingerprint(changed) != carried


def test_a_placement_finds_the_lands_of_those_before_it_cut(box: Planned) -> None:
    """The slots that the first placement cuts for the next are air in the wood that the next one starts from."""
    first, second = box.plan.placements[:2]
    assert first.pockets
    for pocket in first.pockets:
        x, y = np.array(pocket.outline_mm).mean(axis=0)  # the same side is up: the standing frames are one
        grid = second.grid
        j, i = int((y - grid.y0_mm) // grid.pitch_mm), int((x - grid.x0_mm) // grid.pitch_mm)
        assert second.top_before[j, i] == pytest.approx(pocket.bottom_z_mm, abs=1e-4)
        assert second.top_after[j, i] == pytest.approx(pocket.bottom_z_mm, abs=1e-4)
