"""Seats of a latch's magnets: glue goes round the widest magnet in the dry season too."""

from dataclasses import replace

import pytest
from test_let_in import DESIGN

from witnessmark.job.latch import Spreads
from witnessmark.latch.seats import MAGNET_MM, SURE, seat_mm
from witnessmark.wood.season import Climate, Year

YEAR = Year(Climate(20.0, 0.30), Climate(22.0, 0.70), 8.0)
CHERRY_TANGENTIAL = 0.00248  # of the width for a percent of moisture (Wood Handbook table 13-5)


def test_the_largest_magnet_goes_into_the_smallest_seat_when_it_is_driest() -> None:
    """By hand: magnet and hole at the ends of their tolerances, and a hole that has shrunk with its wood."""
    wide_mm = DESIGN.key.disc.diameter_mm
    spreads = Spreads(hole_mm=0.02)
    cut_mm = wide_mm + seat_mm(DESIGN, spreads, YEAR) - SURE * spreads.hole_mm
    closes_mm = CHERRY_TANGENTIAL * wide_mm * max(0.0, YEAR.now_pct - YEAR.range_pct[0])
    left_mm = cut_mm - closes_mm - (wide_mm + MAGNET_MM)
    assert left_mm == pytest.approx(0.05, abs=0.006)  # the least that glue wants; holes are drawn to a hundredth


def test_a_rougher_hand_and_a_year_of_more_change_ask_for_wider_seats() -> None:
    usual = seat_mm(DESIGN, Spreads(), YEAR)
    assert seat_mm(DESIGN, Spreads(hole_mm=0.08), YEAR) == pytest.approx(usual + SURE * 0.05, abs=0.011)
    drier = Year(Climate(20.0, 0.15), Climate(22.0, 0.70), 8.0)
    assert seat_mm(DESIGN, Spreads(), drier) > usual
    small = replace(DESIGN, key=DESIGN.rotor)
    assert seat_mm(small, Spreads(), YEAR) < usual
