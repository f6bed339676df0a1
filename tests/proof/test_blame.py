"""Who is to blame: a hole in a floor is laid at the program that made it; a program left out is named as missing."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from workpiece import BLANK_MIN, FLAT, MACHINE, SETTINGS, block_with_pocket, good_text, placement

from witnessmark.field.profile import profile_vector
from witnessmark.job.demonstration import BOX_SHAPE, box_job
from witnessmark.job.errors import Refusal
from witnessmark.job.files import save_job
from witnessmark.proof.blame import NOBODY, cut_by
from witnessmark.proof.finding import Finding
from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.missing import Planned
from witnessmark.proof.passes import Passes
from witnessmark.proof.verdict import ProgramText
from witnessmark.shapes.simple import straight_box
from witnessmark.shapes.write import write_stl
from witnessmark.verbs import make
from witnessmark.verbs.prove import prove as prove_job

BLANK_HIGH_MM = 22.0
FLOOR_MM = 10.0
TOLERANCE_MM = 0.05


@pytest.fixture(scope="module")
def box_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small box in four placements, two from each side, its programs written."""
    folder = tmp_path_factory.mktemp("blame")
    shape = straight_box(size_x_mm=70.0, size_y_mm=40.0, height_mm=20.0, wall_mm=8.0, hollow_mm=20.0 - FLOOR_MM)
    write_stl(shape, folder / BOX_SHAPE)
    job = box_job()
    settings = job.settings.model_copy(update={"plan_pitch_mm": 1.0, "proof_pitch_mm": 0.5})
    size = {"size_x_mm": 100.0, "size_y_mm": 70.0, "size_z_mm": BLANK_HIGH_MM, "glue_lines_z_mm": ()}
    piece = job.pieces[0].model_copy(update={"blank": job.pieces[0].blank.model_copy(update=size)})
    machine = job.machine.model_copy(update={"travel_x_mm": 70.0, "nose_above_bed_mm": 150.0})
    changed = {"pieces": (piece,), "machine": machine, "settings": settings}
    save_job(job.model_copy(update=changed), folder)
    make.plan(folder)
    make.program(folder)
    return folder


@pytest.fixture
def box(box_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(box_once, tmp_path / "box"))


def draft(folder: Path, number: int) -> Path:
    (path,) = (folder / "out" / "drafts").glob(f"box-{number}-1-*.nc")
    return path


def stops(folder: Path) -> list[Finding]:
    (verdict,) = prove_job(folder).verdicts.values()
    return [finding for finding in verdict.findings if finding.harm == "stop"]


@pytest.mark.parametrize(("wrong", "text_of"), [(1, 3), (2, 4)])
def test_a_hole_is_laid_at_the_program_that_made_it(wrong: int, text_of: int, box: Path) -> None:
    """A program of the other side: no finding names a program that is right, and none is deeper than the blank."""
    draft(box, wrong).write_text(draft(box, text_of).read_text(encoding="utf-8"), encoding="utf-8")
    found = stops(box)
    gouges = [finding for finding in found if finding.kind == "gouge"]
    assert gouges
    assert {(finding.file, finding.placement) for finding in found if finding.file} == {
        (draft(box, wrong).name, str(wrong))
    }
    assert all(0.0 < finding.by_mm <= BLANK_HIGH_MM for finding in gouges)
    assert all(finding.line > 0 for finding in gouges)


def test_what_is_cut_through_is_called_so(box: Path) -> None:
    """The hollow cut from beneath as well: the floor is gone, by no more than it is high."""
    draft(box, 1).write_text(draft(box, 3).read_text(encoding="utf-8"), encoding="utf-8")
    through = [finding for finding in stops(box) if "goes through a floor" in finding.what]
    assert {round(finding.place_mm[2], 3) + 0.0 for finding in through if finding.place_mm} == {0.0, FLOOR_MM}
    assert all(finding.by_mm <= 20.0 for finding in through)
    assert any(finding.by_mm == pytest.approx(FLOOR_MM) for finding in through)


@pytest.mark.parametrize("number", [1, 4])
def test_a_program_left_out_is_named_with_its_placement(number: int, box: Path) -> None:
    """The plan has it, the order of programs has not: its placement, cutter and file are said, and what to do."""
    order = box / "out" / "drafts" / "order.json"
    entries = json.loads(order.read_text(encoding="utf-8"))
    order.write_text(json.dumps([entry for entry in entries if entry["placement"] != str(number)]))
    found = stops(box)
    (missing,) = [finding for finding in found if finding.kind == "missing program"]
    assert (missing.placement, missing.file) == (str(number), draft(box, number).name)
    assert "flat 6" in missing.what
    assert "witnessmark program" in missing.remedies[0]
    assert f"placement {number} ({missing.file}): " in str(missing)
    assert "leftover" in {finding.kind for finding in found}


def test_a_piece_without_any_program_is_refused_by_its_name(box: Path) -> None:
    """All its programs left out: there is nothing to judge, and of which piece is said."""
    (box / "out" / "drafts" / "order.json").write_text("[]")
    with pytest.raises(Refusal, match=r"^box: there is no program to prove\n  - run: witnessmark program$"):
        prove_job(box)


def test_nothing_is_missing_where_all_is_given(box: Path) -> None:
    """The whole box passes."""
    assert stops(box) == []


def test_the_judge_alone_tells_what_is_missing() -> None:
    """Given one program of two that were planned; without a plan to hold them against nothing is missing."""
    wood = blank_columns(BLANK_MIN, (32.0, 22.0, 20.0), SETTINGS)
    place = placement()
    given = (
        [ProgramText("one.nc", "1", "flat 6", good_text())],
        wood,
        block_with_pocket(),
        MACHINE,
        [FLAT],
        {"1": place},
        SETTINGS,
    )
    planned = [Planned("one.nc", "1", "flat 6"), Planned("two.nc", "1", "ball 3")]
    verdict = prove(*given, planned=planned)
    assert not verdict.passed
    assert [(f.kind, f.placement, f.file) for f in verdict.findings if f.harm == "stop"] == [
        ("missing program", "1", "two.nc")
    ]
    assert prove(*given).passed


def level(up: int, z_mm: float, program: int, motion: int = 0) -> Passes:
    """A pass along x through the origin with its tip at a height of the piece."""
    ends = np.array([[-2.0, 0.0, up * z_mm, 2.0, 0.0, up * z_mm]])
    return Passes(ends, np.zeros(1, dtype=np.int64), np.zeros(1), np.array([[program, motion]]))


@pytest.mark.parametrize(
    ("top_mm", "beneath_mm", "expected"),
    [
        (8.0, None, (0, 0)),  # the top's own program, 2 mm too deep
        (10.0, 12.0, (1, 0)),  # right from the top, a hole from beneath
        (9.96, 12.0, (1, 0)),  # within the tolerance is right
        (8.0, 4.0, (0, 0)),  # what is cut beneath the floor does not harm its top
        (8.0, 12.0, (0, 0)),  # both: the first
        (None, 10.0, (1, 0)),
        (None, None, NOBODY),
    ],
)
def test_who_went_past_the_surface(top_mm: float | None, beneath_mm: float | None, expected: tuple[int, int]) -> None:
    """A floor at z 10, seen from above: its own side's program is 0, the other side's 1."""
    passes = {}
    if top_mm is not None:
        passes[1] = level(1, top_mm, 0)
    if beneath_mm is not None:
        passes[-1] = level(-1, beneath_mm, 1)
    profiles = np.stack([profile_vector("flat", 6.0)])
    assert cut_by(np.array([0.0, 1.0, FLOOR_MM]), 1, passes, profiles, TOLERANCE_MM) == expected


def test_a_round_cutter_is_blamed_where_it_cuts_not_where_its_tip_is() -> None:
    """2.9 mm beside its way a ball of 6 mm stands 2.23 mm over its tip: tip at 8, it does not reach a floor at 10."""
    profiles = np.stack([profile_vector("ball", 6.0), profile_vector("flat", 6.0)])
    ball, flat = level(1, 8.0, 0), level(1, 9.0, 1)
    both = Passes(
        np.concatenate([ball.ends, flat.ends]),
        np.array([0, 1]),
        np.zeros(2),
        np.concatenate([ball.motion, flat.motion]),
    )
    assert cut_by(np.array([0.0, 2.9, FLOOR_MM]), 1, {1: both}, profiles, TOLERANCE_MM) == (1, 0)
    assert cut_by(np.array([0.0, 0.0, FLOOR_MM]), 1, {1: both}, profiles, TOLERANCE_MM) == (0, 0)
