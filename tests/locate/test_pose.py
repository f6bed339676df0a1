"""Where the work lies: exact without noise, as sure as it says with noise, and as the published formulas have it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import LAYOUTS, RADIUS, SHIFT, TWO_LANDS, U, faces, read, rows_for, where
from scipy.stats import chi2

from witnessmark.locate.mismatch import displaced_rms_mm, greatest_step_mm, joined_covariance, steps_u_mm
from witnessmark.locate.pose import located, lying, predicted_covariance
from witnessmark.locate.readings import Reading, Shared, rows_of

FEW_DEG = math.radians(3.0)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(sorted(LAYOUTS)),
    st.floats(-8, 8),
    st.floats(-8, 8),
    st.floats(-FEW_DEG, FEW_DEG),
)
def test_readings_without_noise_give_the_pose_exactly(layout: str, dx: float, dy: float, turn: float) -> None:
    rows = rows_for(LAYOUTS[layout])
    found = located(rows, where(rows, (dx, dy, turn)), SHIFT)
    assert found.pose == pytest.approx([dx, dy, turn], abs=1e-9)
    assert np.abs(found.residuals_mm).max() < 1e-9


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
def test_the_stated_region_covers_its_share(layout: str) -> None:
    """4000 sets of readings, a fixed seed: the true pose lies in the 95 % region in 93 to 97 of 100."""
    rows, pose = rows_for(LAYOUTS[layout]), (0.8, -0.5, math.radians(0.3))
    found = located(rows, read(rows, pose, np.random.default_rng(5), 4000), SHIFT)
    off = found.pose - np.array(pose)
    inside = np.einsum("bi,ij,bj->b", off, np.linalg.inv(found.covariance), off) < chi2.isf(0.05, 3)
    assert 0.93 <= inside.mean() <= 0.97
    if found.freedom:
        agree = found.chi_square < chi2.isf(0.05, found.freedom)
        assert 0.93 <= agree.mean() <= 0.97


def test_what_readings_share_makes_them_less_sure_together() -> None:
    """A stylus radius known to 0.05 mm: it falls out of opposite walls, which tell it, and so it does not spoil walls
    that all look one way by all of its 0.05 mm."""
    stylus, named = (Shared("stylus", "radius", 0.05),), ("stylus",)
    one_way = faces((-100, 0, 1, 0), (-100, 50, 1, 0), (-50, 0, 0, 1), (50, 0, 0, 1), shared=named)
    alone = predicted_covariance(rows_for(one_way, stylus))
    assert alone[1, 1] == pytest.approx(U**2 / 2 + 0.05**2, rel=1e-6)
    both = rows_for(faces((-100, 0, 1, 0), (100, 0, -1, 0), (-50, 0, 0, 1), (50, 0, 0, 1), shared=named), stylus)
    covariance = predicted_covariance(both)
    assert covariance[0, 0] == pytest.approx(U**2 / 2, rel=1e-6)
    radius2 = 1 / (1 / 0.05**2 + 2 / U**2)  # what is known of it and what the opposite walls say, together
    assert covariance[1, 1] == pytest.approx(U**2 / 2 + radius2, rel=1e-6)
    found = located(both, read(both, (0.1, 0.2, 0.001), np.random.default_rng(2), 4000), SHIFT)
    assert np.std(found.pose[:, 1]) == pytest.approx(math.sqrt(found.covariance[1, 1]), rel=0.05)


def test_two_touches_on_an_edge() -> None:
    """u sqrt(1/2 + 2 (D/L)^2) at D beyond the middle of two touches L apart: plane geometry."""
    length = 200.0
    rows = rows_for(faces((-length / 2, 0, 0, -1), (length / 2, 0, 0, -1), (0, 30, -1, 0)))
    whole = joined_covariance(predicted_covariance(rows))
    for out in (0.0, 100.0, 300.0):
        step = steps_u_mm(whole, np.array([[out, 0.0, 0.0]]), np.array([[0.0, 1.0, 0.0]]))[0]
        assert step == pytest.approx(U * math.sqrt(0.5 + 2 * (out / length) ** 2), rel=1e-9)


RECTANGLE = [(0.0, 0.0), (400.0, 0.0), (400.0, 100.0), (0.0, 100.0)]


def bores(places: list[tuple[float, float]], u: float) -> list[Reading]:
    return [Reading(f"bore {k}", "middle", (x, y, 0.0), (0, 0, 1), (0, 0, 0), u) for k, (x, y) in enumerate(places)]


@pytest.mark.parametrize(
    ("target", "wanted"),
    [((600.0, 50.0, 0.0), 0.042444), ((800.0, 50.0, 0.0), 0.057202)],
)
def test_bores_in_the_plane_against_fitzpatrick(target: tuple[float, float, float], wanted: float) -> None:
    """Fitzpatrick, West and Maurer (1998), IEEE TMI 17(5), Eq. 46, in two dimensions: TRE^2 = FLE^2 / N (1 + d^2 /
    (2 f^2)); values for this rectangle with FLE 0.05 computed for the project and checked by simulation."""
    rows = rows_for(bores(RECTANGLE, 0.05 / math.sqrt(2)))
    assert displaced_rms_mm(joined_covariance(predicted_covariance(rows)), np.array([target]))[0] == pytest.approx(
        wanted, abs=5e-7
    )


@pytest.mark.parametrize(("target", "wanted"), [((300.0, 0.0, 0.0), 0.043301), ((600.0, 0.0, 0.0), 0.082916)])
def test_two_bores_against_fitzpatrick(target: tuple[float, float, float], wanted: float) -> None:
    """The same formula, two points 300 apart, targets at the second of them and 300 beyond it."""
    rows = rows_for(bores([(0.0, 0.0), (300.0, 0.0)], 0.05 / math.sqrt(2)))
    assert displaced_rms_mm(joined_covariance(predicted_covariance(rows)), np.array([target]))[0] == pytest.approx(
        wanted, abs=5e-7
    )


@pytest.mark.parametrize(
    ("target", "wanted"),
    [((200, 50, 0), 0.02500), ((600, 50, 0), 0.047357), ((200, 50, -60), 0.030721), ((0, 0, 0), 0.035355)],
)
def test_bores_and_heights_against_fitzpatrick_in_space(target: tuple[float, float, float], wanted: float) -> None:
    """Eq. 46 in three dimensions, the same rectangle, FLE 0.05: middles and heights of all four corners."""
    u = 0.05 / math.sqrt(3)
    level = rows_for(bores(RECTANGLE, u))
    lands = [Reading(f"land {k}", "land", (x, y, 0.0), (0, 0, 1), (0, 0, 0), u) for k, (x, y) in enumerate(RECTANGLE)]
    rows, centres = rows_of(lands)
    whole = joined_covariance(predicted_covariance(level), lying(rows, centres).covariance)
    assert displaced_rms_mm(whole, np.array([target], dtype=float))[0] == pytest.approx(wanted, abs=5e-6)


def test_heights_give_height_and_tilts() -> None:
    lands = [
        Reading(f"land {k}", "land", (x, y, 12.0), (0, 0, 1), (0, 0, 12.0 + 0.3 + 0.001 * y - 0.002 * x), 0.02)
        for k, (x, y) in enumerate(RECTANGLE)
    ]
    found = lying(*rows_of(lands))
    assert found.lie == pytest.approx([0.3, 0.001, 0.002], abs=1e-12)
    assert found.chi_square == pytest.approx(0.0, abs=1e-12)


def test_a_leaning_face_reads_wrong_with_height() -> None:
    """A face a degrees off upright: u^2 = u_n^2 + (sin a u_z)^2 along its normal."""
    lean = math.radians(20.0)
    normal = (math.cos(lean), 0.0, math.sin(lean))
    leaning = Reading("flare", "face", (0, 0, 5), normal, (0, 0, 5), U, RADIUS, ("height",))
    rows, _ = rows_of([leaning], [Shared("height", "height", 0.1)])
    assert rows.covariance_mm2[0, 0] == pytest.approx(U**2 + (math.sin(lean) * 0.1) ** 2)


def test_the_greatest_step_is_that_of_simulated_readings() -> None:
    """Steps at 21 places of a seam: the stated 95 % bound of the greatest holds in 94 to 96 of 100 simulated runs."""
    rows, pose = rows_for(TWO_LANDS), (0.4, 0.2, 0.002)
    y = np.linspace(-70, 70, 21)
    places = np.column_stack([np.full(21, 10.0), y, np.zeros(21)])
    normals = np.column_stack([np.sin(y / 20), np.cos(y / 20), np.zeros(21)])
    found = located(rows, read(rows, pose, np.random.default_rng(8), 6000), SHIFT)
    off = found.pose - np.array(pose)
    moved = np.stack([off[:, :1] - off[:, 2:] * places[:, 1], off[:, 1:2] + off[:, 2:] * places[:, 0]], axis=-1)
    greatest = np.abs((moved * normals[:, :2]).sum(axis=-1)).max(axis=1)
    bound = greatest_step_mm(joined_covariance(found.covariance), places, normals)
    assert 0.94 <= (greatest <= bound).mean() <= 0.96
    assert bound > 1.96 * steps_u_mm(joined_covariance(found.covariance), places, normals).max()


def test_refusals() -> None:
    along = rows_for(faces((-100, 0, 0, -1), (0, 0, 0, -1), (100, 0, 0, -1)))
    with pytest.raises(ValueError, match="do not fix x, y and turn"):
        located(along, where(along, (0, 0, 0)), SHIFT)
    line = [Reading(f"land {k}", "land", (x, 0, 0), (0, 0, 1), (0, 0, 0), U) for k, x in enumerate((0, 10, 20))]
    with pytest.raises(ValueError, match="on one line"):
        lying(*rows_of(line))
    with pytest.raises(ValueError, match="three lands"):
        lying(*rows_of(line[:2]))
    with pytest.raises(ValueError, match="no unit vector"):
        rows_of([Reading("bent", "face", (0, 0, 0), (1.0, 1.0, 0.0), (0, 0, 0), U)])
    with pytest.raises(ValueError, match="unknown kind"):
        rows_of([Reading("odd", "knob", (0, 0, 0), (1, 0, 0), (0, 0, 0), U)])  # type: ignore[arg-type]
