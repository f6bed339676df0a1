"""A bolt slid from outside, and the choice of magnets for it and for a lid that is only held."""

import numpy as np
import pytest

from witnessmark.job.latch import HoldWish, SlideWish, demonstration_latch
from witnessmark.latch.choose import choose_hold, choose_slide
from witnessmark.latch.magnets import Disc, pair_pull_n
from witnessmark.latch.sliding import sliding

DISC = Disc(10.0, 3.0, 1.2)


def test_drag_aside_is_that_of_magpylib_and_what_rubs_is_taken_off():
    """D 10 x 3, 1.2 T, gap 2: 1.2713, 2.2342 and 3.0701 N at 1, 2, 5 mm (magpylib 6.3, 4000 cells, good to 2e-4)."""
    how = sliding(DISC, DISC, 2.0, 0.1, 0.3)
    for aside, drag in [(1.0, 1.2713), (2.0, 2.2342), (5.0, 3.0701)]:
        at = int(np.argmin(np.abs(how.aside_mm - aside)))
        assert how.drag_n[at] == pytest.approx(drag, rel=3e-4)
        assert how.net_n[at] == pytest.approx(how.drag_n[at] - 0.3 * (abs(how.pull_n[at]) + 0.1))
    assert how.net_n[how.aside_mm < how.lags_mm - 0.05].max() <= 0.0
    assert how.most_n == how.net_n.max()
    assert how.lags_mm < how.most_at_mm == how.loses_mm


def test_without_friction_it_follows_at_once_and_with_much_never():
    assert sliding(DISC, DISC, 2.0, 0.0, 0.0).lags_mm == pytest.approx(0.1)
    stuck = sliding(DISC, DISC, 2.0, 50.0, 0.6)
    assert stuck.most_n < 0
    assert stuck.lags_mm == float("inf")


def test_the_least_magnets_that_hold_are_chosen():
    """Every smaller stack on hand opens below what is wished, or above: tried here one by one."""
    latch = demonstration_latch()
    found = choose_hold(latch)
    wish = latch.hold
    assert found.enough
    assert wish.lifts_n <= found.hold.edge_n <= wish.lifts_most_n
    pull = float(pair_pull_n(found.disc, found.disc, wish.wood_mm))
    lever = (wish.deep_mm - wish.inset_mm) / wish.deep_mm
    assert found.hold.edge_n == pytest.approx(wish.lid_n / 2 + wish.count * pull * lever)
    plate = choose_hold(latch.model_copy(update={"hold": HoldWish(plate=True)}))
    assert plate.takes == plate.disc.stack * 2
    far = choose_hold(latch.model_copy(update={"hold": HoldWish(wood_mm=30.0, lifts_n=40.0, lifts_most_n=60.0)}))
    assert not far.enough
    assert choose_hold(latch.model_copy(update={"hold": HoldWish(count=40)})) is None


def test_a_bolt_under_thin_wood_is_slid_and_under_thick_not():
    latch = demonstration_latch()
    found = choose_slide(latch)
    assert found.enough
    assert found.how.most_n >= latch.slide.spare_n
    thick = choose_slide(latch.model_copy(update={"slide": SlideWish(skin_mm=30.0)}))
    assert not thick.enough
