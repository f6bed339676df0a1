"""A dust shoe that is not round: judged by its outline, as it sits on the machine."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from workpiece import BLANK_MAX, BLANK_MIN, MACHINE, SETTINGS, Script, proven

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.field.watch import remove_and_watch
from witnessmark.job.checks import _machine
from witnessmark.job.models import Shoe
from witnessmark.proof.judge import blank_columns
from witnessmark.proof.shapes import pieces_of

GRID = Grid(0.0, 0.0, 0.5, 120, 90)
FLAT = profile_vector("flat", 6.0)
ANGLE = ((-12.0, -5.0), (12.0, -5.0), (12.0, 5.0), (2.0, 5.0), (2.0, 14.0), (-12.0, 14.0))  # not convex


def chain(points):
    points = np.asarray(points, dtype=np.float64)
    return np.hstack([points[:-1], points[1:], np.zeros((len(points) - 1, 3))])


def watch(wood, moves, outline, under=8.0, turn=0.0):
    pieces = pieces_of(outline, turn)
    steps = np.array([[20.0, under, 30.0]] * len(pieces))
    return remove_and_watch(wood, GRID, moves, FLAT, 30.0, steps, 0.0, shapes=dict(enumerate(pieces)))


def inside(pieces, x, y):
    return np.any([(p[:, 0] * x[..., None] + p[:, 1] * y[..., None] <= p[:, 2]).all(-1) for p in pieces], axis=0)


def test_the_pieces_are_the_outline() -> None:
    """Inside and outside by the pieces agree with the angle's own corners; a convex outline is one piece."""
    x, y = np.meshgrid(np.linspace(-15, 15, 61) + 0.1, np.linspace(-8, 18, 53) + 0.1)
    wanted = (np.abs(x) < 12) & (y > -5) & ((y < 5) | ((x < 2) & (y < 14)))
    assert np.array_equal(inside(pieces_of(ANGLE, 0.0), x, y), wanted)
    assert len(pieces_of(((-1, -1), (1, -1), (1, 1), (-1, 1)), 0.3)) == 1


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), parts=st.integers(2, 30))
def test_contacts_agree_with_stepping_through_time_and_splitting_changes_nothing(seed: int, parts: int) -> None:
    """Level moves, 0.05 mm apart in time: wood under the outline before the cutter comes, and nothing else."""
    rng = np.random.default_rng(seed)
    coarse = np.where(rng.random((10, 14)) < 0.2, rng.uniform(6, 14, (10, 14)), -5.0)
    wood = np.kron(coarse, np.ones((9, 9)))[: GRID.ny, : GRID.nx].astype(np.float32)
    ends = rng.uniform([10, 10], [50, 35], (2, 2))
    move = chain(np.column_stack([ends, [0.0, 0.0]]))
    pieces = pieces_of(ANGLE, 0.0)
    x, y = np.meshgrid(GRID.x_mm, GRID.y_mm)
    left, deepest = wood.copy(), 0.0
    count = int(np.hypot(*(ends[1] - ends[0])) / 0.05) + 2
    for px, py in np.linspace(ends[0], ends[1], count):
        left[np.hypot(x - px, y - py) <= 3.0] = -9.0
        deepest = max(deepest, float((left - 8.0)[inside(pieces, x - px, y - py)].max(initial=-9.0)))
    found = watch(wood.copy(), move, ANGLE)
    assert found.contact_mm[0] == pytest.approx(max(deepest, 0.0), abs=1e-4)
    points = ends[0] + np.linspace(0, 1, parts + 1)[:, None] * (ends[1] - ends[0])
    split = watch(wood.copy(), chain(np.column_stack([points, np.zeros(parts + 1)])), ANGLE)
    assert split.contact_mm.max() == pytest.approx(found.contact_mm[0], abs=1e-4)


def test_a_turned_machine_turns_the_outline_back() -> None:
    """Seen from work that lies turned by 30 degrees the outline lies turned by -30."""
    (side,) = pieces_of(((-10, -2), (10, -2), (10, 2), (-10, 2)), math.radians(30))
    far = side[np.argmax(side[:, 2])]
    assert np.degrees(np.arctan2(far[1], far[0])) % 180 == pytest.approx(150.0)


@pytest.mark.parametrize(("half_x", "half_y", "touches"), [(8.0, 34.0, False), (34.0, 8.0, True), (0.0, 0.0, True)])
def test_a_narrow_shoe_passes_where_the_circle_about_it_would_not(
    half_x: float, half_y: float, touches: bool
) -> None:
    """A ridge 20 mm off along x stands 3 mm above the shoe's underside; 0: a round shoe."""
    corners = ((-half_x, -half_y), (half_x, -half_y), (half_x, half_y), (-half_x, half_y)) if half_x else ()
    shoe = Shoe(diameter_mm=70.0, below_nose_mm=50.0, outline_mm=corners)
    wood = blank_columns(BLANK_MIN, BLANK_MAX, SETTINGS)
    top, grid = wood.top(np.eye(3))
    top[:, grid.x_mm < 20.0] = 15.0
    text = Script().over(-2, 0).down(12.0).along([(3, 0)]).text()
    machine = MACHINE.model_copy(update={"shoe": shoe, "shoe_on": True})
    verdict = proven(text, machine=machine, columns=wood.lowered(top, np.eye(3)))
    hits = [finding for finding in verdict.findings if finding.kind == "assembly contact"]
    assert bool(hits) == touches
    if touches:
        assert hits[0].by_mm == pytest.approx(3.0, abs=0.01)
        assert "dust shoe" in hits[0].what


@pytest.mark.parametrize(
    ("corners", "says"),
    [
        (((0, 0), (1, 0)), "three corners"),
        (((-10, -10), (10, 10), (10, -10), (-10, 10)), "crosses itself"),
        (((-40, -5), (40, -5), (40, 5), (-40, 5)), "diameter_mm"),
    ],
)
def test_an_outline_that_cannot_be_is_refused(corners: tuple, says: str) -> None:
    machine = MACHINE.model_copy(update={"shoe": Shoe(diameter_mm=70.0, below_nose_mm=20.0, outline_mm=corners)})
    (trouble,) = _machine(machine)
    assert trouble[0] == "shoe.outline_mm"
    assert says in trouble[1]
