"""What holds the work: contact by its area and section moduli, margins by hand, and what a small piece is given."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from witnessmark.job.demonstration import demonstration_cutters
from witnessmark.job.models import Holding, Settings
from witnessmark.wood.hold import LIFT_RATIO, Contact, Push, hardest, margin

PUSH = Push("flat 6", 10.0, 20.0, 30.0)


def test_the_contact_of_a_rectangle():
    """Area a b; section moduli a b^2 / 6 (beam theory)."""
    contact = Contact.of_area(shapely.box(0, 0, 60, 40))
    assert contact.area_mm2 == pytest.approx(2400)
    assert contact.modulus_x_mm3 == pytest.approx(40 * 60**2 / 6, rel=1e-3)
    assert contact.modulus_y_mm3 == pytest.approx(60 * 40**2 / 6, rel=1e-3)


def test_cells_and_areas_agree():
    cells = np.zeros((100, 120), dtype=bool)
    cells[10:50, 20:80] = True
    by_cells = Contact.of_cells(cells, 1.0)
    by_area = Contact.of_area(shapely.box(20, 10, 80, 50))
    assert vars(by_cells) == pytest.approx(vars(by_area), rel=1e-6)


def test_sliding_and_tipping_by_hand():
    """24 cm2, 60 % of it taped: 14.4 cm2 x 8 N in shear against 20 N; the edge pulls M / W + lift / A."""
    contact = Contact.of_area(shapely.box(0, 0, 60, 40))
    holding = Holding(tape_pull_n_cm2=4.0, tape_shear_n_cm2=8.0, tape_covers_ratio=0.6)
    found = margin(contact, PUSH, holding)
    assert found.slides_ratio == pytest.approx(14.4 * 8 / 20)
    pulls_mpa = 10 * 30 / (60 * 40**2 / 6) + LIFT_RATIO * 10 / 2400
    assert found.tips_ratio == pytest.approx(0.6 * 0.04 / pulls_mpa, rel=1e-3)


def test_clamps_hold_by_friction_and_weight():
    contact = Contact.of_area(shapely.box(0, 0, 60, 40))
    bare = Holding(tape_pull_n_cm2=0.0, tape_shear_n_cm2=0.0)
    assert margin(contact, PUSH, bare).least_ratio == 0.0
    clamped = margin(contact, PUSH, bare.model_copy(update={"clamps": 2, "clamp_n": 300.0, "friction_ratio": 0.3}))
    assert clamped.slides_ratio == pytest.approx(600 * 0.3 / 20)
    assert clamped.tips_ratio > 2.0


def test_nothing_that_rests_holds_nothing():
    assert margin(Contact.of_area(shapely.Polygon()), PUSH, Holding()).least_ratio == 0.0


def test_the_hardest_cutter_counts():
    cutters = list(demonstration_cutters())
    assert hardest(cutters, None, Settings(), 20.0).cutter == "flat 6"
    assert hardest(cutters[1:], None, Settings(), 20.0).at_mm == 20.0
