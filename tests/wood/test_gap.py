"""A gap that is cut for the year never binds in it, and is no wider than that needs."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.catalog import species
from witnessmark.wood.gap import FLAT_SAWN_RAD, QUARTER_SAWN_RAD, Part, gap_for
from witnessmark.wood.season import Climate, Year

CHERRY, OAK = species()["cherry, black"], species()["oak, white"]
HEATED, HUMID = Climate(21.0, 0.30), Climate(24.0, 0.65)


def test_a_panel_in_a_frame_worked_by_hand() -> None:
    """A flat-sawn cherry panel 300 mm wide in a frame that runs along its grain: 6 to 12 %, cut at 8 %."""
    dry, wet = HEATED.moisture_pct, HUMID.moisture_pct
    assert 5.5 < dry < 6.5
    assert 11.0 < wet < 12.5
    year = Year(HEATED, HUMID, 8.0)
    panel, frame = Part(300.0, CHERRY, FLAT_SAWN_RAD), Part(300.0, CHERRY, None)
    gap = gap_for(panel, frame, year, 0.3)
    swells = 300.0 * 0.00248 * (wet - 8.0)
    assert gap.now_mm == pytest.approx(0.3 + swells, abs=0.08)  # the frame gives a little
    assert gap.tightest_mm == pytest.approx(0.3)
    assert gap.tightest_at_pct == wet
    assert gap.loosest_mm == pytest.approx(gap.now_mm + 300.0 * 0.00248 * (8.0 - dry), abs=0.08)


def test_a_lid_of_its_bodys_own_wood_and_grain_keeps_its_gap() -> None:
    part = Part(400.0, CHERRY, FLAT_SAWN_RAD)
    gap = gap_for(part, part, Year(HEATED, HUMID, 8.0), 0.4)
    assert (gap.now_mm, gap.tightest_mm, gap.loosest_mm) == pytest.approx((0.4, 0.4, 0.4))


def test_quarter_sawn_wood_needs_less() -> None:
    year = Year(HEATED, HUMID, 8.0)
    frame = Part(300.0, CHERRY, None)
    flat = gap_for(Part(300.0, CHERRY, FLAT_SAWN_RAD), frame, year, 0.3)
    quarter = gap_for(Part(300.0, CHERRY, QUARTER_SAWN_RAD), frame, year, 0.3)
    assert quarter.now_mm < flat.now_mm


angle = st.one_of(st.none(), st.floats(0.0, FLAT_SAWN_RAD))
air = st.builds(Climate, st.floats(0.0, 35.0), st.floats(0.15, 0.85))


@given(st.floats(20.0, 800.0), angle, angle, air, air, st.floats(5.0, 18.0), st.floats(0.0, 2.0))
def test_in_no_season_does_it_bind_and_in_one_it_is_as_tight_as_asked(
    size: float, one: float | None, other: float | None, dry: Climate, wet: Climate, now: float, least: float
) -> None:
    year = Year(dry, wet, now)
    inner, outer = Part(size, CHERRY, one), Part(size, OAK, other)
    gap = gap_for(inner, outer, year, least)
    seasons = [gap.now_mm + outer.change_mm(now, to) - inner.change_mm(now, to) for to in year.range_pct]
    assert min(seasons) >= least - 1e-9
    assert min(*seasons, gap.now_mm) == pytest.approx(least, abs=1e-9)
    assert gap.loosest_mm == pytest.approx(max(*seasons, gap.now_mm))
    assert gap.tightest_mm == pytest.approx(least, abs=1e-9)


def test_wood_that_drips_is_refused() -> None:
    with pytest.raises(ValueError, match="can be worked"):
        Year(HEATED, HUMID, 45.0)
