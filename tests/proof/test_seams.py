"""The step between two placements of one side, each of which cuts a part of the walls."""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import pytest
from workpiece import BLANK_MAX, BLANK_MIN, FLAT, HIGH, MACHINE, SETTINGS, Script, placement

from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.report import summary_text, verdict_record
from witnessmark.proof.verdict import ProgramText, Verdict
from witnessmark.shapes.solid import Solid

SEAM_MM = -5.0
OVERLAP_MM = SETTINGS.seam_overlap_mm
FAR = 1e3


def half(left: bool) -> str:
    """Round a block of 50 x 30 mm on one side of the seam only: along the front, across, along the back."""
    reach = 3.0
    end = SEAM_MM + OVERLAP_MM if left else SEAM_MM - OVERLAP_MM
    side = -25.0 - reach if left else 25.0 + reach
    script = Script()
    for z in (16.0, 12.0, 8.0, 4.0, 0.0):
        script = script.over(end, -15.0 - reach).down(z)
        script = script.along([(side, -15.0 - reach), (side, 15.0 + reach), (end, 15.0 + reach)])
    return script.text()


def by_two_placements(off_mm: float) -> Verdict:
    """The second placement's work lies off by so much along y."""
    block = Solid(manifold3d.Manifold.cube((50, 30, HIGH)).translate((-25, -15, 0)))
    places = {
        "1": replace(placement("1"), region_mm=(-FAR, -FAR, SEAM_MM, FAR)),
        "2": replace(placement("2"), region_mm=(SEAM_MM, -FAR, FAR, FAR)),
    }
    programs = [ProgramText(f"{name}.nc", name, FLAT.name, half(left)) for name, left in (("1", True), ("2", False))]
    wood = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
    return prove(programs, wood, block, MACHINE, [FLAT], places, SETTINGS, poses={"2": (0.0, off_mm, 0.0)})


def test_placements_that_lie_true_leave_no_step() -> None:
    (seam,) = by_two_placements(0.0).seams
    assert seam.placements == ("1", "2")
    assert seam.places > 20
    assert seam.by_mm < 0.002


@pytest.mark.parametrize("off_mm", [0.12, -0.3])
def test_a_placement_that_lies_off_leaves_that_step(off_mm: float) -> None:
    verdict = by_two_placements(off_mm)
    (seam,) = verdict.seams
    assert seam.by_mm == pytest.approx(abs(off_mm), abs=0.003)
    assert OVERLAP_MM < abs(seam.place_mm[0] - SEAM_MM) < OVERLAP_MM + 2.0  # where one of them stops cutting
    assert abs(seam.place_mm[1]) == pytest.approx(15.0)
    assert verdict_record(verdict)["seams"][0]["between"] == ["1", "2"]
    assert "step between placements 1 and 2" in summary_text(verdict)
