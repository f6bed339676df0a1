"""Floors and shallow faces by the field, against closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from workpiece import BALL, BLANK_MAX, BLANK_MIN, FLAT, SETTINGS, Script, kinds, outside, placement, pocket, proven

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.job.frames import standing
from witnessmark.proof.floors import Cuts, FloorJudge
from witnessmark.proof.judge import blank_columns
from witnessmark.shapes.solid import Solid

RADIUS = 3.0
TILT_RAD = math.radians(20.0)


def wedge(low: float = 8.0) -> Solid:
    """A block of 60 x 40 mm whose top rises along x at 20 degrees."""
    rise = 60 * math.tan(TILT_RAD)
    outline = manifold3d.CrossSection([[(-30, 0), (30, 0), (30, low + rise), (-30, low)]])
    upright = manifold3d.Manifold.extrude(outline, 40).rotate((90, 0, 0)).translate((0, 20, 0))
    return Solid(upright)


def rows_along(step: float, off: float = 0.0, low: float = 8.0) -> np.ndarray:
    """Rows of a ball up and down the wedge, ``step`` apart in y, touching its top (``off`` along the normal)."""
    moves = []
    for y in np.arange(-22.0, 22.01, step):
        ends = []
        for x in (-34.0, 34.0):
            middle_z = low + (x + 30) * math.tan(TILT_RAD) + (RADIUS + off) / math.cos(TILT_RAD)
            ends.append((x, y, middle_z - RADIUS))
        moves.append([*ends[0], *ends[1], 0.0, 0.0, 0.0])
    return np.array(moves)


def judged(moves: np.ndarray, pitch: float = 0.2, allowance: float = 0.1):
    judge = FloorJudge(
        1,
        wedge().triangles,
        (Cuts(profile_vector("ball", 6.0), moves),),
        60.0,
        0.05,
        allowance,
    )
    grid = Grid.over(-30.0, -20.0, 30.0, 20.0, pitch)
    return judge.judged(judge.made_top(grid), grid)


@pytest.mark.parametrize("step", [0.6, 1.0])
def test_rows_on_a_slope_leave_the_ridge_of_the_circle(step: float) -> None:
    """Rows straight up a slope leave R - sqrt(R^2 - s^2/4) along the normal (plane geometry), within the bracket."""
    ridge = RADIUS - math.sqrt(RADIUS**2 - step**2 / 4)
    floors = judged(rows_along(step))
    assert floors.worst_gouge_mm < 1e-5
    assert ridge - 0.012 < floors.worst_left_mm <= ridge + 1e-5
    assert ridge - 1e-5 <= floors.bracket_mm[1] < ridge + 0.02
    assert floors.area_mm2 == pytest.approx(60 * 40, rel=1e-3)


def test_a_slope_cut_too_deep_is_a_gouge_along_the_normal() -> None:
    """Rows 0.2 mm too low along the normal gouge by 0.2 mm, not by its height."""
    floors = judged(rows_along(0.5, off=-0.2))
    assert floors.worst_gouge_mm == pytest.approx(0.2, abs=1e-4)
    assert len(floors.gouges.by_mm)


def test_a_ridge_between_cells_is_found_by_looking_closer() -> None:
    """A ridge that passes the allowance only between the centres of coarse cells is found at a finer pitch."""
    step = 1.4
    ridge = RADIUS - math.sqrt(RADIUS**2 - step**2 / 4)
    floors = judged(rows_along(step), pitch=0.5, allowance=ridge - 0.006)
    assert floors.finest_mm < 0.5
    assert floors.left.by_mm.max(initial=0.0) > ridge - 0.006


def test_a_floor_is_decided_for_the_continuous_surface() -> None:
    """A pocket's floor and the top: nothing is undecided, and what lies beside walls is told by its area.

    Within 0.1 mm (the allowance) and two half diagonals of the pocket's and the block's walls the walls judge.
    """
    floors = judged(rows_along(0.6))
    assert floors.undecided_mm2 == 0.0
    assert floors.undecided_at_mm is None
    strip = 2 * (60 + 40) * (0.1 + 2 * 0.2 / math.sqrt(2))
    assert 0.5 * strip < floors.beside_mm2 < 1.7 * strip


def test_what_the_finest_grid_cannot_tell_is_a_warning_with_its_area() -> None:
    """The allowance is the ridge itself to a hair: the crest stays undecided, and little else."""
    step = 1.0731
    ridge = RADIUS - math.sqrt(RADIUS**2 - step**2 / 4)
    floors = judged(rows_along(step), allowance=ridge + 1e-5)
    assert 0.0 < floors.undecided_mm2 < 0.05 * 60 * 40
    assert floors.undecided_by_mm < 0.01
    assert not floors.left.fails


def test_a_floor_next_to_a_wall_with_allowed_leftover_is_no_fault() -> None:
    """A pocket whose last ring stays 0.08 mm off the wall passes: what stands there is the wall's, and allowed."""
    verdict = proven(outside(pocket(Script(), reach=-0.08, corner=0.0)).text())
    assert verdict.passed
    assert 0.07 < verdict.worst_left_mm < 0.1 + 1e-9


def test_a_ball_leaves_its_round_at_the_foot_of_a_wall() -> None:
    """A pocket finished by a ball alone has its floor's rim left round: wood left, and not excused."""
    verdict = proven(outside(pocket(Script())).text(), cutter=BALL)
    assert "leftover" in kinds(verdict)


def test_a_hole_through_a_floor_is_told() -> None:
    """Drilling through the block's foot beside the pocket is a gouge seen from both sides."""
    text = outside(pocket(Script())).over(18, 0).down(0.0).text()
    verdict = proven(text)
    assert kinds(verdict) == {"gouge"}
    assert all(floors.worst_gouge_mm > 1.0 for floors in verdict.floors)


def test_a_foot_never_planed_is_wood_left() -> None:
    """Where the blank reaches below the piece and no placement cuts that side, the wood there is told."""
    lower = np.array([BLANK_MIN[0], BLANK_MIN[1], -1.0])
    wood = blank_columns(lower, BLANK_MAX, SETTINGS)
    stand = standing("+z", lower, BLANK_MAX)
    raised = []
    for line in outside(pocket(Script())).text().splitlines():
        words = [f"Z{float(w[1:]) + 1:.3f}" if w.startswith("Z") else w for w in line.split()]
        raised.append(" ".join(words))
    verdict = proven("\n".join(raised), cutter=FLAT, place=replace(placement(), stand=stand), columns=wood)
    assert kinds(verdict) == {"leftover"}
    assert verdict.floors[1].worst_left_mm == pytest.approx(1.0, abs=1e-4)
