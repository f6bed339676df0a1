"""Heights at which cutting goes round."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.path.levels import clusters_of, scallop_spacing_mm, stepped


@given(st.floats(1, 80), st.lists(st.floats(-20, 100), min_size=1, max_size=6), st.floats(0.2, 5))
def test_steps_meet_every_target_and_none_is_too_deep(top, targets, most):
    """Levels fall, never by more than the step, and every target below the top is met."""
    levels = stepped(top, targets, most)
    drops = -np.diff([top, *levels])
    assert (drops > 0).all()
    assert (drops <= most + 1e-5).all()
    for target in targets:
        if target < top - 1e-3:
            assert min(abs(target - z) for z in levels) < 1.1e-4


@pytest.mark.parametrize(
    ("radius", "spacing", "scallop"),
    [(3.0, 0.5, 0.0104348), (3.0, 1.0, 0.0419601), (1.5, 0.3, 0.0075188), (6.0, 1.2, 0.0300754)],
)
def test_scallop_spacing_is_the_formula_turned_round(radius, spacing, scallop):
    """h = R - sqrt(R^2 - s^2/4) by plane geometry; the values were computed from it to seven places."""
    assert radius - math.sqrt(radius**2 - spacing**2 / 4) == pytest.approx(scallop, abs=5e-8)
    assert scallop_spacing_mm(radius, scallop) == pytest.approx(spacing, abs=2e-5)


@given(st.lists(st.floats(0, 30), min_size=1, max_size=40), st.floats(0.05, 2))
def test_every_value_lies_little_below_a_cluster_top(values, within):
    """Each value belongs to a top that is no lower and at most ``within`` higher."""
    tops = np.array(clusters_of(np.array(values), within))
    for value in values:
        above = tops[tops >= value - 6e-4]
        assert len(above)
        assert above.min() <= value + within + 2e-3
