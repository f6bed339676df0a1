"""Lifting over the blank: what is told to be changed can be changed, and mends it."""

import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.job.demonstration import demonstration_job
from witnessmark.job.models import Job, PieceSpec
from witnessmark.plan.lift import LEAST_BOARD_MM, lift_troubles

PIECE = PieceSpec.model_validate(
    {"name": "block", "shape": "block.stl", "blank": {"size_x_mm": 200, "size_y_mm": 200, "size_z_mm": 60}}
)
DEEPER = re.compile(r"at least ([\d.]+) mm deeper into the collet \(stick-out ([\d.]+) mm")
BOARD = re.compile(r"movable board at least ([\d.]+) mm thinner \(([\d.]+) mm\)")
BLANK = re.compile(r"plane the blank at least ([\d.]+) mm thinner \(([\d.]+) mm\)")
SHORTER = re.compile(r"stick-out at most ([\d.]+) mm")
HIGHER = re.compile(r"spindle at least ([\d.]+) mm higher")
LAYERS = re.compile(r"blank at most ([\d.]+) mm high")


def job_with(
    stickout_mm: float, nose_mm: float = 155.0, board_mm: float | None = 18.0, gantry_mm: float = 500.0
) -> Job:
    """The demonstration's job with its first cutter only (flutes 32) and these sizes."""
    job = demonstration_job()
    cutter = job.cutters[0].model_copy(update={"stickout_mm": stickout_mm})
    board = (
        job.machine.board.model_copy(update={"thickness_mm": board_mm}) if job.machine.board and board_mm else None
    )
    sizes = {"nose_above_bed_mm": nose_mm, "board": board, "gantry_above_bed_mm": gantry_mm}
    return job.model_copy(update={"cutters": (cutter,), "machine": job.machine.model_copy(update=sizes)})


def changed(job: Job, blank_mm: float, remedy: str) -> tuple[Job, float]:
    """The job and the blank as the remedy's own words say they should become."""
    cutter, machine = job.cutters[0], job.machine
    if found := DEEPER.search(remedy) or SHORTER.search(remedy):
        stickout_mm = float(found.groups()[-1])
        flutes_mm = min(cutter.flute_length_mm, stickout_mm)
        cutter = cutter.model_copy(update={"stickout_mm": stickout_mm, "flute_length_mm": flutes_mm})
    if (found := BOARD.search(remedy)) and machine.board:
        board = machine.board.model_copy(update={"thickness_mm": float(found[2])})
        machine = machine.model_copy(update={"board": board})
    if found := HIGHER.search(remedy):
        machine = machine.model_copy(update={"nose_above_bed_mm": machine.nose_above_bed_mm + float(found[1])})
    if found := BLANK.search(remedy) or LAYERS.search(remedy):
        blank_mm = float(found.groups()[-1])
    return job.model_copy(update={"cutters": (cutter,), "machine": machine}), blank_mm


def test_a_small_lack_has_single_changes() -> None:
    """Short by 4 mm: deeper into the collet, a thinner board or a planed blank, each enough and each told in mm."""
    (trouble,) = lift_troubles(job_with(45.0), PIECE, 75.0, 70.0)
    assert trouble.by == "short by 4.0 mm"
    deeper, board, blank = trouble.remedies
    assert deeper.startswith("set the cutter at least 4.0 mm deeper into the collet (stick-out 41.0 mm")
    assert board == "use a movable board at least 4.0 mm thinner (14.0 mm)"
    assert blank == "plane the blank at least 4.0 mm thinner (71.0 mm)"


def test_flutes_are_never_clamped_nor_boards_planed_away() -> None:
    """Short by 37 mm with 13 mm of shank outside and a board of 18 mm: neither is offered, nor both."""
    (trouble,) = lift_troubles(job_with(45.0), PIECE, 108.0, 104.0)
    assert trouble.by == "short by 37.0 mm"
    assert not any("deeper" in remedy or "thinner" in remedy for remedy in trouble.remedies)
    assert "still short by 8.0 mm" in trouble.remedies[0]
    assert "layers" in trouble.remedies[-1]


def test_a_combination_is_told_where_no_single_change_does() -> None:
    """Short by 20 mm: 13 mm of stick-out and the rest of the board, as one remedy."""
    (trouble,) = lift_troubles(job_with(45.0), PIECE, 91.0, 91.0)
    (remedy,) = trouble.remedies
    assert "13.0 mm deeper" in remedy
    assert " and use a movable board at least 7.0 mm thinner (11.0 mm)" in remedy


def test_a_shorter_stick_out_says_where_it_no_longer_reaches() -> None:
    """Deeper into the collet lifts the lowest tip too: where it would hang above the board, that is said."""
    (trouble,) = lift_troubles(job_with(45.0, nose_mm=178.0), PIECE, 96.0, 96.0)
    assert "no lower than 7.0 mm" in trouble.remedies[0]


def test_a_blank_under_the_gantry_is_told_what_lowers_it() -> None:
    """A blank 5 mm higher than the gantry: a thinner board, or planing where the piece is lower; else layers."""
    job = job_with(20.0, nose_mm=300.0, gantry_mm=95.0)
    (trouble,) = lift_troubles(job, PIECE, 82.0, 70.0)
    assert [bool(BOARD.search(r)) or bool(BLANK.search(r)) for r in trouble.remedies] == [True, True]
    (trouble,) = lift_troubles(job, PIECE, 120.0, 118.0)
    assert "still 29.0 mm too high" in trouble.remedies[0]
    assert "at most 77.0 mm" in trouble.remedies[1]


@given(
    stickout_mm=st.floats(33.0, 70.0),
    nose_mm=st.floats(100.0, 200.0),
    board_mm=st.none() | st.floats(7.0, 40.0),
    piece_mm=st.floats(5.0, 150.0),
    above_mm=st.floats(0.0, 20.0),
)
def test_every_remedy_is_possible_and_mends_the_trouble(
    stickout_mm: float, nose_mm: float, board_mm: float | None, piece_mm: float, above_mm: float
) -> None:
    """Read back from its own words, every remedy is within what can be changed and leaves no trouble."""
    job, blank_mm = job_with(stickout_mm, nose_mm, board_mm), piece_mm + above_mm
    troubles = lift_troubles(job, PIECE, blank_mm, piece_mm)
    assume(troubles)
    (trouble,) = troubles
    assert trouble.remedies
    for remedy in trouble.remedies:
        if remedy.startswith("no stick-out"):
            continue
        new, new_blank_mm = changed(job, blank_mm, remedy)
        cutter = new.cutters[0]
        assert cutter.flute_length_mm <= cutter.stickout_mm
        assert new.machine.board is None or new.machine.board.thickness_mm >= LEAST_BOARD_MM
        assert new_blank_mm >= piece_mm - 1e-6 or "layers" in remedy
        assert lift_troubles(new, PIECE, new_blank_mm, min(piece_mm, new_blank_mm)) == []


@pytest.mark.parametrize("blank_mm", [70.0, 71.0])
def test_enough_is_no_trouble(blank_mm: float) -> None:
    """A tip 1 mm above the blank or more passes."""
    assert lift_troubles(job_with(45.0), PIECE, blank_mm, 60.0) == []
