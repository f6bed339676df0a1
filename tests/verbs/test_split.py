"""Long programs in parts: each about as long as asked, and together they cut what the whole one cuts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from two_sided_block import planned_block

from witnessmark.job.files import load_job, save_job
from witnessmark.program.minutes import minutes
from witnessmark.program.motion import DWELL, RAPID, MotionTable
from witnessmark.program.part import parts_of
from witnessmark.program.read import read
from witnessmark.program.split import split
from witnessmark.verbs.make import drafts_of, plan, program
from witnessmark.verbs.prove import prove
from witnessmark.verbs.workshop import open_workshop


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_block(tmp_path_factory.mktemp("split"))


def cuts(table: MotionTable) -> np.ndarray:
    """All motions but rapids: where from, where to, by which centre."""
    going = (table.kind != RAPID) & (table.kind != DWELL)
    return np.nan_to_num(np.column_stack([table.start_mm, table.end_mm, table.centre_mm, table.feed_mm_min])[going])


@pytest.mark.parametrize("longest", [2.0, 5.0])
def test_the_parts_make_the_motions_of_the_whole(job: Path, longest: float) -> None:
    workshop = open_workshop(job)
    machine = workshop.job.machine
    for draft in drafts_of(workshop):
        if "rehearsal" in draft.file:
            continue
        parts = split(draft.text, machine, longest)
        assert len(parts) >= minutes(read(draft.text), machine).total_min / longest
        whole, at = cuts(read(draft.text)), 0
        for k, part in enumerate(parts):
            own = cuts(read(part))
            down = 0 if k == 0 else 1  # each later part comes down by feed over a place already cut, once
            own = own[down:] if len(own) and not np.array_equal(own[0], whole[at]) else own
            np.testing.assert_array_equal(own, whole[at : at + len(own)])
            at += len(own)
        assert at == len(whole)
        lifts = len(parts_of(draft.text).lifts())
        if lifts > 20:
            took = [minutes(read(part), machine).total_min for part in parts]
            assert max(took) < 1.5 * longest


def test_short_programs_and_no_limit_leave_a_program_whole(job: Path) -> None:
    workshop = open_workshop(job)
    (text, *_) = (draft.text for draft in drafts_of(workshop) if "rehearsal" not in draft.file)
    assert split(text, workshop.job.machine, 0.0) == [text]
    assert split(text, workshop.job.machine, 1e4) == [text]


def test_a_job_with_a_lessons_length_is_proven_and_leaves_the_same_wood(job: Path) -> None:
    whole = prove(job)
    assert whole.passed
    made = load_job(job)
    settings = made.settings.model_copy(update={"longest_program_minutes": 4.0})
    save_job(made.model_copy(update={"settings": settings}), job)
    plan(job)
    (planned,) = program(job)
    files = [info.file for step in planned.placements for info in step.programs]
    assert len(files) > 2
    assert files[0].endswith("-part-1.nc")
    parted = prove(job)
    assert parted.passed
    one, other = whole.verdicts["block"].columns_after, parted.verdicts["block"].columns_after
    np.testing.assert_array_equal(one.first, other.first)
    np.testing.assert_allclose(one.high, other.high, atol=1e-5)
    assert {path.name for path in parted.handed_out} >= set(files)
