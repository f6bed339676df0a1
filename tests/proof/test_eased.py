"""Corners that no cutter fits are told apart from wood that one could have taken."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from workpiece import (
    BLANK_MAX,
    BLANK_MIN,
    FLAT,
    HIGH,
    MACHINE,
    SETTINGS,
    Script,
    kinds,
    outside,
    placement,
    pocket,
    proven,
)

from witnessmark.job.models import Cutter
from witnessmark.proof.eased import Easing, radius_at, reaching
from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.verdict import ProgramText
from witnessmark.shapes.solid import Solid

SMALL = FLAT.model_copy(update={"name": "flat 3", "diameter_mm": 3.0, "flute_length_mm": 6.0})


def block_with_sharp_pocket() -> Solid:
    """The block with a pocket of 20 x 12 x 8 mm whose corners are sharp."""
    block = manifold3d.Manifold.cube((50, 30, HIGH)).translate((-25, -15, 0))
    return Solid(block - manifold3d.Manifold.cube((20, 12, 9)).translate((-10, -6, HIGH - 8)))


def sharp_pocket_text() -> str:
    """The pocket with a last ring of right-angled turns, which reaches as far into the corners as the cutter can."""
    script = pocket(Script(), reach=-0.05)
    for z in (16.0, 12.0):
        script.over(-7, -3).down(z).along([(7, -3), (7, 3), (-7, 3), (-7, -3)])
    return outside(script).text()


def test_sharp_corners_are_eased_to_the_cutters_radius() -> None:
    """Four sharp corners are left with radius 3 and R (sqrt 2 - 1) of wood (plane geometry); the program passes."""
    verdict = proven(sharp_pocket_text(), solid=block_with_sharp_pocket())
    assert verdict.passed, [str(finding) for finding in verdict.findings]
    assert len(verdict.eased) == 4
    for place in verdict.eased:
        assert place.radius_mm == 3.0
        assert place.leftover_mm == pytest.approx(3 * (math.sqrt(2) - 1) * 1.0, abs=0.02)
        assert abs(place.place_mm[0]) == pytest.approx(10.0, abs=0.05)
        assert abs(place.place_mm[1]) == pytest.approx(6.0, abs=0.05)
        assert (place.z_from_mm, place.z_to_mm) == (pytest.approx(12.0, abs=0.2), pytest.approx(20.0, abs=0.6))


def test_a_corner_that_a_listed_cutter_fits_is_a_fault() -> None:
    """With a 3 mm cutter in the job, what the 6 mm cutter leaves in the upper corners is wood left."""

    wood = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
    program = ProgramText("one.nc", "1", "flat 6", sharp_pocket_text())
    solid = block_with_sharp_pocket()
    verdict = prove([program], wood, solid, MACHINE, [FLAT, SMALL], {"1": placement()}, SETTINGS)
    assert kinds(verdict) == {"leftover"}
    left = [finding for finding in verdict.findings if finding.kind == "leftover"]
    assert all(finding.place_mm is not None and finding.place_mm[2] >= 14.0 - 0.01 for finding in left)


def test_corners_left_larger_than_need_be_are_a_fault() -> None:
    """Turning each corner of the last ring early leaves more than the cutter's radius, and that is told."""
    assert proven(sharp_pocket_text(), solid=block_with_sharp_pocket()).passed
    early = outside(pocket(Script(), corner=0.6)).text()
    verdict = proven(early, solid=block_with_sharp_pocket())
    assert kinds(verdict) == {"leftover"}
    apex = max(finding.by_mm for finding in verdict.findings if finding.kind == "leftover")
    assert apex > 3 * (math.sqrt(2) - 1) + 0.1


def test_the_smallest_radius_depends_on_depth() -> None:
    """A cutter whose shank is wider than itself counts to its flutes; deeper down the next one does."""
    thick: Cutter = SMALL.model_copy(update={"shank_diameter_mm": 6.0, "flute_length_mm": 12.0})
    able = reaching((FLAT, thick))
    assert [radius_at(depth, able) for depth in (0.0, 12.0, 12.1, 35.0, 90.0)] == [1.5, 1.5, 3.0, 3.0, 3.0]
    assert radius_at(5.0, ()) == 0.0


def test_unavoidable_wood_in_a_right_angle_is_the_closed_form() -> None:
    """Before the apex of a right-angled inner corner stands R (sqrt 2 - 1); along a straight wall nothing."""
    easing = Easing(block_with_sharp_pocket(), reaching((FLAT,)), (1,))
    at = np.array([[-10.0, -6.0, 15.0], [10.0, 6.0, 13.0], [-10.0, 0.0, 15.0], [25.0, 0.0, 5.0]])
    lean = np.zeros(4, dtype=np.int8)
    apex = 3 * (math.sqrt(2) - 1)
    assert easing.unavoidable(at, lean, np.full(4, apex - 1e-3)).tolist() == [3.0, 3.0, 0.0, 0.0]
    assert easing.unavoidable(at, lean, np.full(4, apex + 1e-3)).tolist() == [0.0, 0.0, 0.0, 0.0]
    assert easing.unavoidable(at, lean, np.zeros(4)).tolist() == [3.0, 3.0, 0.0, 0.0]


@pytest.mark.parametrize("angle_deg", [25.0, 40.0, 90.0])
def test_wood_before_the_apex_of_a_wedge_is_the_closed_form(angle_deg: float) -> None:
    """R (1 / sin(half the angle) - 1), also where that is more than the proof looks for in the wood itself."""
    half_rad = math.radians(angle_deg / 2)
    mouth = (40.0, 40.0 * math.tan(half_rad))
    wedge = manifold3d.CrossSection([[(0.0, 0.0), (mouth[0], -mouth[1]), mouth]])
    block = manifold3d.Manifold.cube((80.0, 120.0, 20.0)).translate((-30.0, -60.0, 0.0))
    solid = Solid(block - manifold3d.Manifold.extrude(wedge, 12.0).translate((0.0, 0.0, 10.0)))
    easing = Easing(solid, reaching((FLAT,)), (1,))
    wood = easing.wood_mm(np.array([[0.0, 0.0, 15.0], [30.0, 30.0 * math.tan(half_rad), 15.0]]), 3.0)
    assert wood[0] == pytest.approx(3.0 * (1.0 / math.sin(half_rad) - 1.0), abs=2e-3)
    assert wood[1] == pytest.approx(0.0, abs=1e-3)
