"""Round magnets against magpylib, against forces integrated over both faces, and against each other."""

import math

import magpylib
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad

from witnessmark.latch.discs import face_pair
from witnessmark.latch.magnets import (
    Disc,
    Ring,
    alike,
    alternating,
    pair_drag_n,
    pair_pull_n,
    pull_n,
    torque_nmm,
)

BASE = Disc(8.0, 3.0, 1.35)

# Attraction of coaxial discs, N: D1, t1, Br1, D2, t2, Br2, gap, force. Three integrals that agree to 1e-13 (nested
# quadrature of the charged faces, a Bessel integral, a Gauss product rule), computed for this project; the model is
# that of Vokoun et al., J. Magn. Magn. Mater. 321 (2009) 3758 (formula from memory).
PAIRS = [
    (10, 3, 1.2, 10, 3, 1.2, 1.0, 10.38784872569422),
    (10, 3, 1.2, 10, 3, 1.2, 0.5, 13.543632075233075),
    (10, 3, 1.2, 10, 3, 1.2, 3.0, 4.628269019306731),
    (10, 3, 1.2, 10, 3, 1.2, 10.0, 0.6198704924690738),
    (6, 2, 1.17, 6, 2, 1.17, 1.0, 2.9447698830370803),
    (5, 5, 1.3, 5, 5, 1.3, 2.0, 2.677956566880383),
    (8, 3, 1.28, 8, 3, 1.28, 2.0, 5.131237905599403),
    (12, 5, 1.42, 8, 3, 1.22, 1.5, 8.87549108805436),
    (20, 5, 1.45, 20, 5, 1.45, 5.0, 26.14457097935666),
    (10, 10, 1.0, 10, 10, 1.0, 10.0, 1.5482553086202808),
    (25, 5, 1.32, 10, 2, 1.32, 2.0, 3.240114729516036),
    (4, 10, 1.44, 4, 10, 1.44, 0.8, 4.729022370592307),
]


@pytest.mark.parametrize("case", PAIRS, ids=str)
def test_coaxial_pairs_pull_as_three_integrals_say(case):
    d1, t1, b1, d2, t2, b2, gap, force = case
    assert pair_pull_n(Disc(d1, t1, b1), Disc(d2, t2, b2), gap) == pytest.approx(force, rel=1e-6)


def cylinder(disc: Disc, x_mm: float, y_mm: float, low_mm: float, sign: int) -> magpylib.magnet.Cylinder:
    middle = (x_mm * 1e-3, y_mm * 1e-3, (low_mm + disc.length_mm / 2) * 1e-3)
    size = (disc.diameter_mm * 1e-3, disc.length_mm * 1e-3)
    return magpylib.magnet.Cylinder(polarization=(0, 0, sign * disc.remanence_t), dimension=size, position=middle)


def ring_of(ring: Ring, lead_rad: float, low_mm: float) -> magpylib.Collection:
    parts = [
        cylinder(ring.disc, ring.radius_mm * math.cos(a), ring.radius_mm * math.sin(a), low_mm, sign)
        for a, sign in zip((ring.angles_rad + lead_rad).tolist(), ring.signs)
    ]
    return magpylib.Collection(parts)


@pytest.mark.parametrize(
    ("key", "rotor", "gap_mm", "lead_deg"),
    [
        (alternating(BASE, 12.0, 2), alternating(BASE, 12.0, 2), 4.0, 20.0),
        (alternating(BASE, 12.0, 4), alternating(BASE, 12.0, 4), 4.0, 20.0),
        (alike(Disc(8.0, 3.0, 1.3, 2), 14.0, 2), alternating(Disc(6.0, 2.0, 1.2), 13.0, 4), 3.0, 31.0),
        (alternating(Disc(10.0, 3.0, 1.2), 16.0, 6), alternating(Disc(8.0, 4.0, 1.4), 15.0, 6), 2.5, 12.0),
        (alternating(BASE, 12.0, 4).turned_about(1), alternating(BASE, 12.0, 4), 5.0, 55.0),
    ],
)
def test_rings_drag_each_other_as_magpylib_says(key, rotor, gap_mm, lead_deg):
    """Torque and pull to 2 in a thousand of the greatest, which is what its cells come to (magpylib 6, getFT)."""
    sources = ring_of(key, math.radians(lead_deg), gap_mm)
    force, torque = magpylib.getFT(
        sources, list(ring_of(rotor, 0.0, -rotor.disc.length_mm)), pivot=(0, 0, 0), meshing=800
    )
    lead = math.radians(lead_deg)
    most = np.abs(torque_nmm(key, rotor, gap_mm, np.linspace(0, math.pi, 91))).max()
    assert torque_nmm(key, rotor, gap_mm, lead) == pytest.approx(torque.sum(axis=0)[2] * 1e3, abs=2e-3 * most)
    assert pull_n(key, rotor, gap_mm, lead) == pytest.approx(force.sum(axis=0)[2], abs=3e-3 * most / key.radius_mm)


def test_aside_they_are_drawn_back_as_magpylib_says():
    """D 10 x 3, 1.2 T, gap 2: forces computed with magpylib 6.3 (4000 cells, good to 2e-4) at 1, 2 and 5 mm aside."""
    disc = Disc(10.0, 3.0, 1.2)
    for aside, back, along in [(1.0, 1.2713, 6.3891), (2.0, 2.2342, 5.5359), (5.0, 3.0701, 2.2739)]:
        assert pair_drag_n(disc, disc, 2.0, aside) == pytest.approx(back, rel=3e-4)
        assert pair_pull_n(disc, disc, 2.0, aside) == pytest.approx(along, rel=3e-4)


def energy_by_quadrature(ratio: float, rho: float, zeta: float) -> float:
    """The mean of 1 / distance of two evenly charged faces, as w is: over the one disc's area the potential of the
    other, itself summed as rings by elliptic integrals."""
    from scipy.special import ellipkm1

    ring = (np.arange(400) + 0.5) / 400 * ratio

    def potential(r: float) -> float:
        far2 = (r + ring) ** 2 + zeta**2
        near2 = (r - ring) ** 2 + zeta**2
        return float((2 / math.pi * ellipkm1(near2 / far2) / np.sqrt(far2) * 2 * ring).sum() * ratio / 400)

    total, _ = dblquad(
        lambda turn, s: potential(math.sqrt(rho**2 + s**2 + 2 * rho * s * math.cos(turn))) * s,
        0.0, 1.0, 0.0, math.pi, epsabs=1e-7, epsrel=1e-7,
    )  # fmt: skip
    return total * 2 / (4 * math.pi * ratio)


@pytest.mark.parametrize(("ratio", "rho", "zeta"), [(1.0, 0.0, 0.5), (0.6, 1.3, 0.3), (0.8, 3.0, 2.0)])
def test_the_energy_is_that_of_two_charged_faces(ratio, rho, zeta):
    """Coulomb's law over both areas (textbook): no Bessel function in it."""
    assert face_pair(ratio).energy(rho, zeta) == pytest.approx(energy_by_quadrature(ratio, rho, zeta), rel=2e-5)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from([1.0, 0.75, 0.5]), st.floats(0.0, 9.0), st.floats(0.05, 9.0))
def test_slopes_are_those_of_the_energy_also_where_the_series_takes_over(ratio, rho, zeta):
    pair, step = face_pair(ratio), 1e-4
    by_rho = (pair.energy(rho + step, zeta) - pair.energy(abs(rho - step), zeta)) / (2 * step)
    by_zeta = (pair.energy(rho, zeta + step) - pair.energy(rho, zeta - step)) / (2 * step)
    if rho > step:
        assert pair.aside(rho, zeta) == pytest.approx(by_rho, abs=2e-6)
    assert pair.away(rho, zeta) == pytest.approx(by_zeta, abs=2e-5)


def test_near_and_far_meet():
    turn = np.linspace(0.01, math.pi / 2 - 0.01, 50)
    for ratio in (1.0, 0.6):
        pair = face_pair(ratio)
        near, far = (
            [f(r * np.sin(turn), r * np.cos(turn)) for f in (pair.energy, pair.aside, pair.away)]
            for r in (4.5 - 1e-9, 4.5 + 1e-9)
        )
        assert np.allclose(near, far, atol=3e-8)


def test_torque_over_half_a_turn_is_the_energy_between_its_ends():
    """34.2504 N mm by the difference of energies, computed apart for this project."""
    key = alternating(BASE, 12.0, 2)
    lead = np.linspace(0.0, math.pi, 4001)
    assert np.trapezoid(torque_nmm(key, key, 4.0, lead), lead) == pytest.approx(34.2504, rel=1e-5)


def test_what_is_done_to_the_rotor_is_done_to_the_key():
    """Swapped and turned back, torque and pull are the same."""
    key, rotor = alternating(Disc(10.0, 3.0, 1.2), 16.0, 4), alternating(Disc(8.0, 2.0, 1.4), 14.0, 4)
    lead = np.linspace(0.1, 3.0, 20)
    assert np.allclose(torque_nmm(key, rotor, 3.0, lead), -torque_nmm(rotor, key, 3.0, -lead))
    assert np.allclose(pull_n(key, rotor, 3.0, lead), pull_n(rotor, key, 3.0, -lead))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Disc(0.0, 3.0, 1.2),
        lambda: Disc(8.0, 3.0, 1.2, 0),
        lambda: Ring(BASE, 12.0, ()),
        lambda: Ring(BASE, 12.0, (1, 2)),
        lambda: alternating(BASE, 5.0, 4),
        lambda: face_pair(1.2),
    ],
)
def test_impossible_sizes_are_refused(wrong):
    with pytest.raises(ValueError, match=r"magnet|ratio"):
        wrong()
