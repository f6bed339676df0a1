"""Bolts: return, snap-back, binding, springs, and a lid that is pulled while it is locked."""

import math

import numpy as np
import pytest

from witnessmark.job.catalog import species
from witnessmark.latch.bolts import (
    MagnetReturn,
    SpringReturn,
    binding_n,
    driving_nmm,
    jams_off_axis,
    least_engaged_mm,
    pulled,
    resisting,
    snaps_back,
    spring_rate_n_mm,
)
from witnessmark.latch.cam import Dwell, Ellipse, Guide
from witnessmark.latch.magnets import Disc
from witnessmark.latch.rods import Rod

ROD = Rod(5.0, 40.0)
SMALL = MagnetReturn(Disc(6.0, 3.0, 1.35), 0.5)


def test_a_throw_of_six_is_marginal_and_four_comfortable():
    """0.043 N at 6.5 mm against a weight of 0.063 N (computed apart): with mu 0.4, 1.7 times."""
    assert snaps_back(SMALL, Rod(5.0, 41.7), 6.0, 0.4) == pytest.approx(0.0436 / (0.4 * 0.06305), rel=0.05)
    assert snaps_back(SMALL, Rod(5.0, 41.7), 4.0, 0.4) > 4.0


def test_a_spring_is_as_stiff_as_a_textbook_one():
    """k = G d^4 / (8 D^3 n), by hand: 0.5 mm wire, 5 mm coil, 10 turns: 79300 x 0.0625 / (8 x 125 x 10) = 0.4956."""
    assert spring_rate_n_mm(0.5, 5.0, 10.0) == pytest.approx(0.495625)


def test_the_torque_against_an_even_pull_is_that_of_the_cam():
    """Two bolts held in by 1 N each, no friction: twice 6.6 N mm for the ellipse of the worked figures."""
    even = SpringReturn(0.0, 1.0)
    found = driving_nmm(Ellipse(8.0, 6.0, 2.5), Guide(10, 20, 0.0, 0.0), resisting(even, ROD, 6.0), 2)
    assert found == pytest.approx(2 * 6.605, abs=0.01)


def test_the_work_over_the_throw_is_what_a_spring_takes_up():
    """Int T dturn = P0 x + k x^2 / 2 (energy)."""
    from witnessmark.latch.cam import torque_per_n

    cam, spring = Dwell(8.0, 4.0, 2.5, 1.0), SpringReturn(0.2, 0.5)
    turn = np.linspace(0.0, math.pi / 2, 6001)
    thrown = cam.pitch_mm(turn)[0] - 10.5
    torque = torque_per_n(cam, Guide(10, 20, 0.0, 0.0), turn) * resisting(spring, ROD, 4.0)(thrown)
    assert np.trapezoid(torque, turn) == pytest.approx(0.5 * 4 + 0.2 * 16 / 2, rel=1e-4)


def test_a_side_push_rubs_with_its_lever():
    """mu (2 A / B + 1): 0.3, A 10, B 20: 0.6 of the push; forces on both ends of the guide, by hand."""
    assert binding_n(1.0, Guide(10.0, 20.0, 0.0, 0.3)) == pytest.approx(0.3 * (1.0 + 2 * 10.0 / 20.0))
    assert jams_off_axis(Guide(10.0, 6.0, 0.2, 0.4), 8.0)  # B 6 <= 2 x 0.4 x 8
    assert not jams_off_axis(Guide(10.0, 7.0, 0.2, 0.4), 8.0)


def test_a_ball_must_be_past_the_cone_of_friction():
    """rho (1 - sin atan mu): without friction the whole ball; contact where the wall's push leans as much as mu."""
    assert least_engaged_mm(2.5, 0.0) == 2.5
    mu = 0.3
    lean = math.atan(mu)
    assert least_engaged_mm(2.5, mu) == pytest.approx(2.5 - 2.5 * math.sin(lean))


def test_a_pulled_lid_breaks_the_weakest_first():
    """Cherry, by hand: shear 2 x over x engaged, crushing d x engaged, bending a bar of S235 (from memory)."""
    cherry = species()["cherry, black"]
    found = pulled(ROD, 4.0, 8.0, 1.0, cherry, 2)
    assert found.shears_n == pytest.approx(2 * 2 * 8 * 4 * cherry.shear_mpa)
    assert found.crushes_n == pytest.approx(2 * 5 * 4 * cherry.compression_across_mpa)
    assert found.bends_n == pytest.approx(2 * 235 * math.pi * 125 / 32 / 3.0)
    assert found.least_n == found.crushes_n
    assert "pressed" in found.first
    assert pulled(ROD, 0.0, 8.0, 1.0, cherry, 2).least_n == 0.0
