"""Pressed rings against Lame's formulas worked out by themselves, and a published example of three rings."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.wood.press import Ring, contact_mpa

STEEL = {"e_mpa": 207_000.0, "poisson_ratio": 0.292}


def test_a_solid_shaft_in_a_hub_of_its_own_steel() -> None:
    """Shaft 50, hub 100, 0.025 mm in diameter: p = (E d / 2 R) (1 - (R / c)^2) (Shigley ch. 3, from memory)."""
    shaft, hub = Ring(0.0, 25.0, **STEEL), Ring(25.0, 50.0, **STEEL)
    (pressure,) = contact_mpa([shaft, hub], [0.0125])
    assert pressure == pytest.approx(207_000.0 * 0.0125 / 50.0 * (1 - 0.25))
    assert pressure == pytest.approx(38.8125)
    assert hub.stresses_mpa(25.0, pressure, 0.0).tolist() == pytest.approx([-38.8125, 64.6875])


def test_a_steel_ring_over_a_brass_one() -> None:
    """A textbook's problem (no answer printed there); 13.765 MPa by the two-ring formula, worked out apart."""
    brass = Ring(25.4, 50.8, 103_400.0, 0.32)
    steel = Ring(50.8, 63.5, 206_700.0, 0.29)
    (pressure,) = contact_mpa([brass, steel], [(101.651 - 101.60) / 2])
    assert pressure == pytest.approx(13.765, abs=0.01)
    assert steel.stresses_mpa(50.8, pressure, 0.0)[1] == pytest.approx(62.71, abs=0.05)
    assert brass.stresses_mpa(50.8, 0.0, pressure)[1] == pytest.approx(-22.94, abs=0.05)
    assert brass.stresses_mpa(25.4, 0.0, pressure)[1] == pytest.approx(-36.71, abs=0.05)


def test_three_turning_rings_under_pressure() -> None:
    """Contact pressures of 175.0 and 161.4 MPa: Croccolo and Vincenzi (2009), as a page seen works their example."""
    steel, aluminium = (206_000.0, 0.29, 7850.0), (70_000.0, 0.33, 2770.0)
    rings = [Ring(10.0, 14.995, *steel), Ring(14.995, 24.988, *aluminium), Ring(24.988, 35.0, *steel)]
    pressures = contact_mpa(rings, [0.010, 0.025], 30.0, 150.0, 420.0)
    assert pressures.tolist() == pytest.approx([175.0, 161.4], abs=0.06)


@given(
    st.floats(1.0, 20.0),
    st.floats(1.05, 4.0),
    st.floats(0.0005, 0.05),
    st.floats(500.0, 2000.0),
    st.floats(0.1, 0.45),
)
def test_a_pin_in_wood_presses_as_the_long_formula_says(
    radius: float, wide: float, interference: float, wood_mpa: float, poisson: float
) -> None:
    """p = d / (R [(1/Eo)((c2+R2)/(c2-R2) + vo) + (1/Ei)(1 - vi)]); the wood's tension at the hole is no less."""
    pin, hub = Ring(0.0, radius, **STEEL), Ring(radius, radius * wide, wood_mpa, poisson)
    assume(interference < 0.02 * radius)
    (pressure,) = contact_mpa([pin, hub], [interference])
    c2, r2 = (radius * wide) ** 2, radius**2
    give = ((c2 + r2) / (c2 - r2) + poisson) / wood_mpa + (1 - STEEL["poisson_ratio"]) / STEEL["e_mpa"]
    assert pressure == pytest.approx(interference / (radius * give), rel=1e-6)
    assert hub.stresses_mpa(radius, pressure, 0.0)[1] >= pressure


def test_rings_that_would_lie_apart_are_refused() -> None:
    shaft, hub = Ring(0.0, 25.0, **STEEL), Ring(25.0, 50.0, **STEEL)
    with pytest.raises(ValueError, match="do not all touch"):
        contact_mpa([shaft, hub], [-0.01])
    with pytest.raises(ValueError, match="inside out"):
        contact_mpa([hub, Ring(50.0, 40.0, **STEEL)], [0.01])
