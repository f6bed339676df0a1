"""The step where the cuts of two sides meet."""

import json

import manifold3d
import numpy as np
import pytest
from workpiece import BLANK_MAX, BLANK_MIN, FLAT, HIGH, MACHINE, SETTINGS, Script, outside, placement, proven

from witnessmark.proof.judge import blank_columns, prove
from witnessmark.proof.report import summary_text, verdict_record
from witnessmark.proof.verdict import ProgramText, Verdict
from witnessmark.shapes.solid import Solid

MEET = 9.5  # each side cuts down to here, half a mm past the middle


def from_both_sides(pose: tuple[float, float, float], through: tuple[float, float] = (MEET, MEET)) -> Verdict:
    """A block of 50 x 30 x 20 mm whose sides are cut half from below and half from above; the second time moved."""
    block = Solid(manifold3d.Manifold.cube((50, 30, HIGH)).translate((-25, -15, 0)))
    places = {
        "1": placement("1", "-z", through_z_mm=through[0]),
        "2": placement("2", "+z", through_z_mm=through[1]),
    }
    programs = [
        ProgramText(f"{name}.nc", name, FLAT.name, outside(Script(), (16.0, 12.0, z)).text())
        for name, z in zip(places, through)
    ]
    wood = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
    return prove(programs, wood, block, MACHINE, [FLAT], places, SETTINGS, poses={"2": pose})


def test_sides_that_lie_true_leave_no_step() -> None:
    """Programs run where they should leave walls that meet within a micron or so."""
    step = from_both_sides((0.0, 0.0, 0.0)).step
    assert step is not None
    assert step.places > 50
    assert step.by_mm < 0.002
    assert (step.z_from_mm, step.z_to_mm) == pytest.approx((MEET, HIGH - MEET))


@pytest.mark.parametrize(("pose", "axis"), [((0.2, 0.0, 0.0), 0), ((0.0, -0.15, 0.0), 1)])
def test_a_side_that_lies_off_leaves_that_step(pose: tuple[float, float, float], axis: int) -> None:
    """Work moved by 0.2 mm before the second side leaves a step of 0.2 mm on the walls across the shift."""
    verdict = from_both_sides(pose)
    assert verdict.step is not None
    assert verdict.step.by_mm == pytest.approx(np.hypot(pose[0], pose[1]), abs=0.003)
    assert abs(verdict.step.place_mm[axis]) == pytest.approx((25.0, 15.0)[axis])
    assert f"at most {verdict.step.by_mm:.3f} mm" in summary_text(verdict)
    record = json.loads(json.dumps(verdict_record(verdict)))
    assert record["step"]["by_mm"] == pytest.approx(verdict.step.by_mm, abs=1e-4)


def test_one_side_alone_has_no_step() -> None:
    """With a single side up there is nothing to meet."""
    verdict = proven(outside(Script()).text())
    assert verdict.step is None
    assert verdict_record(verdict)["step"] is None
    assert "sides meet" not in summary_text(verdict)
