"""Blank and movable board between the uprights: never planned where they do not pass, and refused where nowhere."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.demonstration import box_job
from witnessmark.job.errors import Refusal
from witnessmark.plan.board import seat_of
from witnessmark.plan.candidates import blank_box, candidates, upright_troubles
from witnessmark.plan.search import lay_out, setup_troubles
from witnessmark.shapes.simple import straight_box


def job_of(clear_mm, board_mm=None, bolts=()):
    job = box_job()
    update = {"clear_width_mm": clear_mm}
    if board_mm is not None:
        update["board"] = job.machine.board.model_copy(
            update={"size_x_mm": 100.0, "size_y_mm": board_mm, "bolt_places_mm": bolts}
        )
    return job.model_copy(update={"machine": job.machine.model_copy(update=update)})


def troubles(job):
    piece = straight_box()
    return setup_troubles(job, job.pieces[0], piece)


def test_a_board_wider_than_the_uprights_is_named_before_anything_is_cut() -> None:
    (told,) = troubles(job_of(300.0))
    assert "board.size_y_mm" in told.where
    assert told.by == f"by {box_job().machine.board.size_y_mm - 300.0:.1f} mm"


def test_a_blank_wider_than_the_uprights_is_named() -> None:
    blank = box_job().pieces[0].blank
    (told,) = troubles(job_of(blank.size_y_mm - 10.0, 50.0))
    assert "blank.size_y_mm" in told.where
    assert told.by == "by 10.0 mm"
    job = job_of(blank.size_y_mm - 10.0, 50.0)
    with pytest.raises(Refusal, match="between the uprights"):
        lay_out(job, job.pieces[0], straight_box())


def test_a_board_whose_holes_keep_it_off_the_middle_needs_room_for_that() -> None:
    board_mm = 400.0
    on_holes = job_of(board_mm + 2.0, board_mm)
    assert not troubles(on_holes)
    off_holes = job_of(board_mm + 2.0, board_mm, bolts=(5.0, 205.0))
    (told,) = troubles(off_holes)
    assert "meets an upright wherever" in told.what


@settings(max_examples=60, deadline=None)
@given(st.floats(100.0, 700.0), st.floats(30.0, 600.0), st.floats(0.0, 25.0))
def test_every_candidate_passes_between_the_uprights(clear_mm: float, board_mm: float, bolt_mm: float) -> None:
    """Board and blank, wherever they are shifted, keep between them; with none left, that is told."""
    job = job_of(clear_mm, board_mm, bolts=(bolt_mm, bolt_mm + 200.0))
    piece = straight_box()
    spec = job.pieces[0]
    box = blank_box(spec.blank, *piece.bounds_mm)
    found = candidates(job, spec, box, "+z")
    assert bool(found) != bool(upright_troubles(job, spec, box))
    middle_mm = job.machine.travel_y_mm / 2
    for place in found:
        blank = place.region_mm
        low, high = blank[1] + place.shift_mm[1], blank[3] + place.shift_mm[1]
        seat = seat_of(job.machine, place, blank)
        assert min(low, seat.board_mm[1]) >= middle_mm - clear_mm / 2 - 1e-3
        assert max(high, seat.board_mm[3]) <= middle_mm + clear_mm / 2 + 1e-3
