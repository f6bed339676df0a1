"""Where the board sits by hole numbers, how the blank lies, and the sheet's small words."""

from __future__ import annotations

import unicodedata

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_sheet_job import SIZE_X, SIZE_Y, small_placement

from witnessmark.job.demonstration import demonstration_machine
from witnessmark.job.frames import Rigid, side_rotation
from witnessmark.plan.board import blank_on_bed, seat_of
from witnessmark.sheet.sides import SIDES, lying, side_towards, turning
from witnessmark.sheet.words import LONGEST_RUN, clean, clean_line, minutes, mm

BLANK = (-SIZE_X / 2, -SIZE_Y / 2, SIZE_X / 2, SIZE_Y / 2)


@given(holes=st.integers(-5, 5))
def test_the_bolted_holes_lie_over_the_fixed_inserts(holes: int) -> None:
    """Whatever the shift by whole holes, the numbered holes are where the inserts are, which never move."""
    machine = demonstration_machine()
    seat = seat_of(machine, small_placement("+z", 25.0 * holes), BLANK)
    centred = seat_of(machine, small_placement("+z", 0.0), BLANK)
    assert seat is not None
    assert centred is not None
    assert np.allclose(seat.inserts_mm, centred.inserts_mm)
    over = [row[number - 1] for row in seat.holes_mm for number in seat.bolted]
    assert np.allclose(over, seat.inserts_mm)
    assert [a - b for a, b in zip(centred.bolted, seat.bolted)] == [holes, holes]


def test_the_demonstration_board_has_twenty_holes_a_row() -> None:
    """520 mm long, 12.5 mm in from each end, every 25 mm: floor(495 / 25) + 1 = 20."""
    seat = seat_of(demonstration_machine(), small_placement("+z", 0.0), BLANK)
    assert seat is not None
    assert seat.holes_each == 20
    assert seat.board_mm == (-110.0, -20.0, 410.0, 420.0)


def test_a_shift_between_holes_names_no_holes() -> None:
    """12 mm off is no whole hole: the board is then placed by its edges."""
    seat = seat_of(demonstration_machine(), small_placement("+z", 12.0), BLANK)
    assert seat is not None
    assert seat.bolted == ()


def test_a_board_longer_in_y_has_its_rows_along_y() -> None:
    """Both long edges carry the holes, whichever way the board lies."""
    machine = demonstration_machine()
    board = machine.board.model_copy(update={"size_x_mm": 300.0, "size_y_mm": 500.0})
    seat = seat_of(machine.model_copy(update={"board": board}), small_placement("+z", 0.0), BLANK)
    assert seat is not None
    assert {round(hole[0], 6) for hole in seat.holes_mm[0]} == {150.0 - 150.0 + 12.5}


def test_a_machine_without_a_board_has_no_seat() -> None:
    """Then the blank's own corner is what is measured."""
    machine = demonstration_machine().model_copy(update={"board": None})
    assert seat_of(machine, small_placement("+z", 0.0), BLANK) is None
    assert blank_on_bed(small_placement("+z", 0.0), BLANK) == (-50.0, 110.0, 350.0, 290.0)


@pytest.mark.parametrize("up", list(SIDES))
def test_the_side_up_is_the_side_that_faces_up(up: str) -> None:
    """For each of the six sides, turned any quarter, the word for the side up follows the frame."""
    for quarter in range(4):
        stand = Rigid(side_rotation(up, quarter), np.zeros(3))
        assert side_towards(stand, (0, 0, 1)) == SIDES[up]


def test_lying_and_turning_in_words() -> None:
    """Rolled about the long axis the left end stays; a shift leaves the blank on its board."""
    first, over = small_placement("-z", 50.0), small_placement("+z", 50.0)
    assert lying(first) == "UNDER up, BACK towards you, LEFT on the left"
    assert turning(None, first) == "Put the blank down."
    assert turning(first, small_placement("-z", -50.0)).startswith("Leave the blank on its board")
    assert "turning axis" in turning(first, over)
    assert turning(first, small_placement("+x", 0.0)) == "Take the blank off and put it down anew."


@given(st.text(max_size=600))
def test_cleaned_text_is_printable_and_breaks(text: str) -> None:
    """No control, format or private signs but the break we put in; no run longer than a line; not endless."""
    for shown in (clean(text), clean_line(text)):
        plain = shown.replace("\u200b", "")
        assert all(unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Co") for sign in plain)
        assert all(len(run) <= LONGEST_RUN for run in shown.replace("\u200b", " ").split())
        assert len(plain) <= 400


@pytest.mark.parametrize(
    ("value", "shown"), [(0.0, "0 min"), (0.2, "1 min"), (42.4, "42 min"), (59.6, "1 h 00"), (71.0, "1 h 11")]
)
def test_minutes_as_said_in_a_shop(value: float, shown: str) -> None:
    """Whole minutes, and never none for a program that runs."""
    assert minutes(value) == shown


def test_no_minus_nought() -> None:
    """A rounding to zero carries no sign."""
    assert mm(-0.01) == "0.0"
    assert mm(-12.34) == "-12.3"
