"""Thin walls and lobes: the plate against its own equation and the beam's limit, lobes against a beam by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from witnessmark.job.catalog import species
from witnessmark.job.demonstration import demonstration_cutters
from witnessmark.shapes.upright import upright
from witnessmark.wood.force import Cut, bite_mm, chip_mm, power_w, specific_n_mm2, tooth_n
from witnessmark.wood.plate import edge_moves_mm, foot_bends_mpa, pushed
from witnessmark.wood.thin import (
    HAND_N,
    band_for_mm,
    slices_of,
    wall_for_mm,
    wall_gives_mm,
    wall_margin_ratio,
    weak_lobes,
)

CHERRY = species()["cherry, black"]


def by_differences(poisson: float = 0.3, n: int = 24, length: float = 8.0) -> tuple[float, float]:
    """The same plate of finite length by minimising its energy over products of polynomials and cosines (Ritz).

    Independent of the Fourier integrals: the deflection at the pushed place and the moment at the foot beneath it.
    """
    powers, waves = np.arange(2, 9), np.arange(n * 8)
    y, weight = np.polynomial.legendre.leggauss(24)
    y, weight = (y + 1) / 2, weight / 2
    p = y[:, None] ** powers
    d1, d2 = powers * y[:, None] ** (powers - 1), powers * (powers - 1) * y[:, None] ** (powers - 2)
    inner = {"pp": p.T * weight @ p, "p2": p.T * weight @ d2, "11": d1.T * weight @ d1, "22": d2.T * weight @ d2}
    moves = foot = 0.0
    for wave in waves:
        k = wave * np.pi / length
        half = length if wave == 0 else length / 2
        stiff = inner["22"] + k**4 * inner["pp"] - poisson * k**2 * (inner["p2"] + inner["p2"].T)
        stiff = half * (stiff + 2 * (1 - poisson) * k**2 * inner["11"])
        a = np.linalg.solve(2 * stiff, np.ones(len(powers)))  # the push in the middle of -length..length, mirrored
        moves += a.sum()
        foot += 2 * a[0]
    return moves, foot


def test_the_plate_moves_as_the_energy_says():
    moves, foot = by_differences()
    assert pushed(0.3).moves_ratio == pytest.approx(moves, rel=0.01)
    assert pushed(0.3).foot_ratio == pytest.approx(foot, rel=0.02)


def test_the_plate_against_published_figures():
    """Source: Jaramillo, J. Appl. Mech. 17 (1950): 0.168 F h^2 / D and 0.509 F (both from memory)."""
    assert pushed(0.3).moves_ratio == pytest.approx(0.168, rel=0.012)
    assert pushed(0.3).foot_ratio == pytest.approx(0.509, abs=0.001)


def test_a_wall_twice_as_thick_gives_way_an_eighth():
    assert edge_moves_mm(10, 30, 8, 900) == pytest.approx(edge_moves_mm(10, 30, 4, 900) / 8)
    assert wall_gives_mm(10, 60, 8, CHERRY) == pytest.approx(4 * wall_gives_mm(10, 30, 8, CHERRY))
    with pytest.raises(ValueError, match="more than nothing"):
        edge_moves_mm(10, 0, 4, 900)


def test_the_remedies_do_what_they_say():
    stout_mm = wall_for_mm(12.0, 40.0, 4.0, CHERRY, 0.05)
    assert wall_gives_mm(12.0, 40.0, stout_mm, CHERRY) == pytest.approx(0.05)
    band_mm = band_for_mm(12.0, 40.0, 4.0, CHERRY, 0.05)
    assert wall_gives_mm(12.0, band_mm, 4.0, CHERRY) == pytest.approx(0.05)


def test_a_low_lip_is_bent_as_a_beam():
    """10 mm wide push on a lip 5 high: a beam 20 wide; M = 20 x 5, W = 20 x 16 / 6."""
    assert foot_bends_mpa(20.0, 5.0, 4.0, 10.0) == pytest.approx(20 * 5 / (20 * 16 / 6))
    assert wall_margin_ratio(5.0, 4.0, CHERRY) == pytest.approx(CHERRY.tension_across_mpa / (20 * 5 / (20 * 16 / 6)))


def tongue(long_mm: float, wide_mm: float) -> shapely.Polygon:
    """A plate with a tongue that stands out along +y."""
    return shapely.union_all([shapely.box(-60, -60, 60, 0), shapely.box(-wide_mm / 2, -1, wide_mm / 2, long_mm)])


def test_a_tongue_across_the_grain_breaks_as_a_beam_does():
    """40 x 12 x 8: at its root sigma = F L / (b h^2 / 6), the line nearest to the root being at most 2 mm off it."""
    slices = slices_of(upright(tongue(40.0, 12.0), 8.0))
    (weak,) = weak_lobes(slices, "x", CHERRY)
    by_hand = CHERRY.tension_across_mpa * (12 * 8**2 / 6) / (HAND_N * 40.0)
    assert weak.margin_ratio == pytest.approx(by_hand, rel=0.06)
    assert weak.margin_ratio >= by_hand
    assert (weak.x_mm, weak.wide_mm) == pytest.approx((0.0, 12.0), abs=0.01)
    assert 0.0 <= weak.y_mm <= 2.0


def test_grain_along_the_tongue_holds_it():
    slices = slices_of(upright(tongue(40.0, 12.0), 8.0))
    assert weak_lobes(slices, "y", CHERRY) == []
    turned = slices_of(upright(shapely.transform(tongue(40.0, 12.0), lambda xy: xy[:, ::-1]), 8.0))
    assert weak_lobes(turned, "x", CHERRY) == []
    (weak,) = weak_lobes(turned, "y", CHERRY)
    assert weak.y_mm == pytest.approx(0.0, abs=0.01)


def test_wood_of_unknown_strength_is_not_judged():
    unknown = CHERRY.model_copy(update={"tension_across_mpa": None})
    assert weak_lobes(slices_of(upright(tongue(40.0, 12.0), 8.0)), "x", unknown) == []
    assert wall_margin_ratio(5.0, 4.0, unknown) is None


def test_chips_and_forces():
    """Bite and chip: shared tables' worked values (definition and plane geometry): D 6, 0.6 wide -> 0.0333 mm.

    Specific force of particleboard, 32 to 38 N/mm2: Palubicki, Materials 14 (2021) 2208 (abstract seen).
    """
    flat = demonstration_cutters()[0].model_copy(update={"feed_mm_min": 2000.0, "spindle_rpm": 18000.0, "flutes": 2})
    assert bite_mm(flat) == pytest.approx(0.0555556, abs=1e-6)
    assert chip_mm(flat, 0.6) == pytest.approx(0.0333333, abs=1e-6)
    assert chip_mm(flat, 6.0) == pytest.approx(bite_mm(flat))
    board = CHERRY.model_copy(update={"specific_gravity_ratio": 0.65})
    assert 32.0 <= specific_n_mm2(board, 0.2) <= 38.0
    assert tooth_n(flat, CHERRY, Cut(6.0, 0.3)) == pytest.approx(2 * tooth_n(flat, CHERRY, Cut(3.0, 0.3)))
    # power over force times speed: the mean of the tooth's force over a turn is what the power says
    assert power_w(flat, CHERRY, Cut(3.0, 3.0)) == pytest.approx(
        specific_n_mm2(CHERRY, chip_mm(flat, 3.0)) * 3 * 3 * 2000 / 60e3
    )
