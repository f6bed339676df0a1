"""Dimensional change coefficients against green shrinkage.

Authority: USDA Forest Products Laboratory, Wood Handbook FPL-GTR-190 (2010). Table 4-3 gives shrinkage S in per cent
from green (30 % moisture) to ovendry; table 13-5 gives the change coefficient C per 1 % of moisture for 6 to 14 %.
With shrinkage linear below 30 %, the slope taken at 10 % moisture is C = S / (30 - 0.2 S) / 100: our derivation from
equation 13-3 of the same book (its body from memory), dD = D (Mf - Mi) / (30 x 100 / S - 30 + Mi), at Mi = 10.
C is printed to five decimals, S to one, so they may differ by one in the last place.
"""

from __future__ import annotations

import pytest

from witnessmark.job.catalog import species

BOTH = [
    (wood.name, shrink, change)
    for wood in species().values()
    if "commercial" not in wood.change_verified
    for shrink, change in (
        (wood.shrink_radial_pct, wood.change_radial_per_pct),
        (wood.shrink_tangential_pct, wood.change_tangential_per_pct),
    )
    if shrink is not None and change is not None
]


@pytest.mark.parametrize(("name", "shrink_pct", "change_per_pct"), BOTH)
def test_the_change_coefficient_follows_from_the_shrinkage(
    name: str, shrink_pct: float, change_per_pct: float
) -> None:
    """Both tables say the same of a wood, to the last printed figure."""
    assert round(shrink_pct / (30 - 0.2 * shrink_pct) / 100, 5) == pytest.approx(change_per_pct, abs=1.01e-5)


def test_enough_rows_are_compared() -> None:
    """Where both tables are given for the single wood, both directions are compared."""
    assert len(BOTH) == 38


def test_the_oaks_of_the_two_tables_are_not_the_same_rows() -> None:
    """Table 13-5 has the commercial groups of oaks, table 4-3 the species: there they differ, by less than 25 %."""
    for name in ("oak, northern red", "oak, white"):
        wood = species()[name]
        assert wood.shrink_tangential_pct is not None
        assert wood.change_tangential_per_pct is not None
        slope = wood.shrink_tangential_pct / (30 - 0.2 * wood.shrink_tangential_pct) / 100
        assert 2e-5 < abs(slope - wood.change_tangential_per_pct) < 0.25 * slope
