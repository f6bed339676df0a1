"""Fits of round parts: hoop tension by the plate's formula and its isotropic limit, seasons, edges, the choice."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.catalog import species
from witnessmark.wood.conflict import conflict
from witnessmark.wood.fit import (
    ENOUGH_RATIO,
    GLUE_LEAST_MM,
    GLUE_MOST_MM,
    GRIP_MM,
    Seat,
    breathes_mm,
    fit_for,
    hoop_ratio,
    splits_ratio,
)
from witnessmark.wood.gap import FLAT_SAWN_RAD, Part
from witnessmark.wood.press import Ring, contact_mpa
from witnessmark.wood.season import Climate, Year

CHERRY = species()["cherry, black"]
YEAR = Year(Climate(20.0, 0.35), Climate(20.0, 0.65), 8.0)


def seat(part_mm=6.0, scatter_mm=0.01, edge_mm=30.0, **more) -> Seat:
    return Seat(part_mm, 0.01, scatter_mm, CHERRY, edge_mm, **more)


def test_hoop_tension_is_lames_where_wood_is_alike_all_round():
    """k = 1 and n = 2 give p; end grain counts so. Cherry: k = 3.41 (E1 / E2 = 11.6, table 5-1, from memory)."""
    assert hoop_ratio(CHERRY, end_grain=True) == 1.0
    k = math.sqrt(1 / 0.086)
    n = math.sqrt(2 * (k - 0.4) + 1 / 0.07)
    assert hoop_ratio(CHERRY, end_grain=False) == pytest.approx((n - 1) / k)


def test_pressure_of_a_rigid_pin_is_that_of_rings():
    """Against Lame's rings (``press``): a pin far stiffer than a wide plate of cherry, 6 mm, 0.002 mm too large.

    Crushing is far off, so that splits = strength / (ratio x pressure); the plate's Poisson's ratio is the fit's.
    """
    plane_mpa = CHERRY.moe_gpa * 1000 * math.sqrt(CHERRY.elastic_tangential_ratio)
    rings = [Ring(0.0, 3.0, 1e9, 0.3), Ring(3.0, 3000.0, plane_mpa, 0.4)]
    (pressure,) = contact_mpa(rings, [0.001])
    over_mm = 2000 / math.pi * (0.35 / CHERRY.tension_across_mpa) ** 2
    mean = 3.0 / (3.0 + over_mm) * hoop_ratio(CHERRY, False)
    wide = seat(edge_mm=3000.0)
    assert splits_ratio(wide, 0.002) == pytest.approx(CHERRY.tension_across_mpa / (mean * pressure), rel=1e-4)


def test_a_nearer_edge_a_larger_part_or_more_squeeze_split_sooner():
    assert splits_ratio(seat(edge_mm=5.0), 0.01) < splits_ratio(seat(edge_mm=10.0), 0.01) < splits_ratio(seat(), 0.01)
    assert splits_ratio(seat(), 0.02) < splits_ratio(seat(), 0.01)
    assert splits_ratio(seat(part_mm=12.0), 0.02) < splits_ratio(seat(part_mm=6.0), 0.01)  # same strain
    assert splits_ratio(seat(), 0.0) == math.inf


def test_wood_crushes_before_it_presses_without_end():
    assert splits_ratio(seat(), 0.5) == splits_ratio(seat(), 1.0)


@given(
    st.floats(2.0, 25.0), st.floats(0.0, 0.1), st.floats(0.0, 0.15), st.floats(1.2, 20.0), st.booleans(),
    st.floats(4.0, 20.0),
)  # fmt: skip
def test_what_is_chosen_keeps_what_it_promises(part_mm, tolerance_mm, scatter_mm, edge, end_grain, now_pct):
    """Pressed: grips when loosest, margin when tightest; glued: room for glue when tightest, not too much."""
    year = Year(Climate(20.0, 0.35), Climate(20.0, 0.65), now_pct)
    one = Seat(part_mm, tolerance_mm, scatter_mm, CHERRY, edge * part_mm, end_grain)
    found = fit_for(one, year)
    closes_mm, opens_mm = breathes_mm(one, year)
    spread_mm = tolerance_mm + scatter_mm
    tightest = part_mm - found.hole_mm + spread_mm + closes_mm
    loosest = part_mm - found.hole_mm - spread_mm - opens_mm
    assert tightest == pytest.approx(found.tightest_mm, abs=0.0051)  # the hole is drawn to a hundredth
    assert loosest == pytest.approx(found.loosest_mm, abs=0.0051)
    if found.how == "press":
        assert found.margin_ratio >= ENOUGH_RATIO
        assert found.loosest_mm == GRIP_MM
    else:
        assert found.tightest_mm == -GLUE_LEAST_MM
        assert (-found.loosest_mm <= GLUE_MOST_MM) == (found.how == "glue")


def test_wood_of_unknown_strength_is_never_pressed():
    unknown = CHERRY.model_copy(update={"tension_across_mpa": None})
    found = fit_for(Seat(6.0, 0.0, 0.0, unknown, 30.0), YEAR)
    assert found.how == "glue"
    assert found.margin_ratio is None


@pytest.mark.parametrize("wrong", [{"part_mm": 0.0}, {"edge_mm": 2.9}, {"scatter_mm": -0.1}])
def test_seats_that_cannot_be_are_refused(wrong):
    with pytest.raises(ValueError, match=r"part has a diameter|inside the hole"):
        seat(**wrong)


def test_a_panel_glued_across_a_rail_tears_and_one_along_it_does_not():
    """200 mm of flat-sawn cherry, 7 to 12 %: 0.00248 a percent (Wood Handbook table 13-5) against nothing along."""
    panel, rail = Part(200.0, CHERRY, FLAT_SAWN_RAD), Part(200.0, CHERRY, None)
    found = conflict("panel", panel, "rail", rail, YEAR)
    low, high = YEAR.range_pct
    assert found.apart_mm == pytest.approx(200 * 0.00248 * (high - low), rel=0.05)
    assert "tears" in str(found)
    assert conflict("panel", panel, "panel 2", panel, YEAR) is None
    assert conflict("rail", rail, "rail 2", rail, YEAR) is None


def test_a_narrow_joint_across_the_grain_is_borne():
    """Half a percent of moisture, 20 mm across the grain: too little to tell."""
    steady = Year(Climate(20.0, 0.50), Climate(20.0, 0.53), 9.0)
    assert conflict("strip", Part(20.0, CHERRY, FLAT_SAWN_RAD), "rail", Part(20.0, CHERRY, None), steady) is None
