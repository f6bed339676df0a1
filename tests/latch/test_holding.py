"""Magnets that hold a lid, and what a loose one can do."""

import math

import magpylib
import numpy as np
import pytest

from witnessmark.latch.cautions import caution_of, field_t, flux_index, swallowable
from witnessmark.latch.holding import Holder, hold
from witnessmark.latch.magnets import Disc, pair_pull_n
from witnessmark.latch.rods import plate_pull_n

DISC = Disc(8.0, 3.0, 1.28)


def test_all_at_once_and_at_an_edge():
    """Two pairs 10 mm and 190 mm from the edge that stays, the lid 2 N: moments by hand."""
    pull = float(pair_pull_n(DISC, DISC, 2.0))
    assert pull == pytest.approx(5.1312, rel=1e-4)
    found = hold([Holder(DISC, DISC, 2.0, 10.0), Holder(DISC, DISC, 2.0, 190.0)], 2.0, 100.0, 200.0)
    assert found.straight_n == pytest.approx(2 * pull + 2.0)
    assert found.edge_n == pytest.approx((2.0 * 100 + pull * 200) / 200)
    assert found.edge_n < found.straight_n
    assert hold([Holder(DISC, None, 1.0, 10.0)], 0.0, 0.0, 10.0).edge_n == pytest.approx(plate_pull_n(DISC, 1.0))
    with pytest.raises(ValueError, match="lifted"):
        hold([], 1.0, 1.0, 0.0)


def test_the_field_is_that_of_magpylib():
    aside = np.linspace(0.0, 4.0, 9)
    along, away = field_t(DISC, 0.38, aside)
    magnet = magpylib.magnet.Cylinder(polarization=(0, 0, 1.28), dimension=(8e-3, 3e-3))
    spots = np.column_stack([aside * 1e-3, 0 * aside, np.full(9, 1.5e-3 + 0.38e-3)])
    field = magnet.getB(spots)
    assert np.allclose(along, field[:, 2], atol=1e-5)
    assert np.allclose(away, field[:, 0], atol=1e-5)


# kG2 mm2 at 0.38 mm, the greatest field over the pole: computed with magpylib 6.3 for this project.
@pytest.mark.parametrize(
    ("d", "t", "br", "index"),
    [
        (3, 1, 1.17, 48.416),
        (3, 2, 1.28, 104.533),
        (5, 2, 1.28, 292.596),
        (6, 2, 1.17, 351.164),
        (8, 3, 1.28, 1017.084),
    ],
)
def test_the_flux_index(d, t, br, index):
    assert flux_index(Disc(d, t, br)) == pytest.approx(index, rel=1e-4)


def test_nearly_every_furniture_magnet_is_hazardous_when_loose():
    """16 CFR 1262.2: 50 kG2 mm2 or more, and small enough to swallow."""
    assert "hazardous when loose" in caution_of(DISC)
    assert "below the limit" in caution_of(Disc(3, 1, 1.17))
    assert not swallowable(Disc(40.0, 5.0, 1.2))
    assert math.isfinite(flux_index(Disc(8.0, 3.0, 1.28, 4)))
