"""A dust shoe that is not round: judged by its outline, as it sits on the machine."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from workpiece import BLANK_MAX, BLANK_MIN, MACHINE, SETTINGS, Script, placement, proven

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.field.watch import remove_and_watch
from witnessmark.job.checks import _machine
from witnessmark.job.models import Shoe
from witnessmark.job.placement import Obstacle
from witnessmark.proof.judge import blank_columns
from witnessmark.proof.shapes import axis_places, pieces_of

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


@settings(max_examples=12, deadline=None)
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


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6), st.floats(-3.0, 3.0))
def test_where_the_axis_stands_when_an_angle_meets_a_clamp_agrees_with_laying_it_there(
    seed: int, turn: float
) -> None:
    """Random places of the axis: inside the places found is where the outline, laid there, overlaps the clamp."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-10, 10, (3, 2))
    far = corners.mean(axis=0) + np.array([14.0, 3.0])
    clamp = shapely.Polygon(np.vstack([corners, far])).buffer(0)
    clamp = max(getattr(clamp, "geoms", [clamp]), key=lambda part: part.area)
    if clamp.area < 1.0:
        return
    places = axis_places(ANGLE, turn, clamp)
    cos, sin = math.cos(turn), math.sin(turn)
    ring = np.array(ANGLE) @ np.array([[cos, -sin], [sin, cos]])
    for at in rng.uniform(-40, 40, (60, 2)):
        overlap = shapely.Polygon(ring + at).intersection(clamp).area
        away = places.boundary.distance(shapely.Point(at))
        if away > 1e-6:
            assert places.contains(shapely.Point(at)) == (overlap > 0.0)


def clamped_verdict(outline, clamp_x: float, pose=(0.0, 0.0, 0.0)):
    shoe = Shoe(diameter_mm=80.0, below_nose_mm=32.0, outline_mm=outline)
    machine = MACHINE.model_copy(update={"shoe": shoe, "shoe_on": True})
    ring = ((clamp_x, -5.0), (clamp_x + 6, -5.0), (clamp_x + 6, 5.0), (clamp_x, 5.0))
    place = placement(obstacles=(Obstacle("clamp", ring, 0.0, 45.0),))
    run = Script().over(0, 0, 30.0).down(18.0).along([(5, 0)])
    return proven(run.text(), place=place, machine=machine, poses={"1": pose})


SLIM = ((-15.0, -38.0), (15.0, -38.0), (15.0, 38.0), (-15.0, 38.0))


def test_a_slim_shoe_passes_a_clamp_that_the_circle_about_it_would_meet() -> None:
    beside = [f for f in clamped_verdict(SLIM, 25.0).findings if f.kind == "hardware touched"]
    assert not any("shoe" in f.what for f in beside)
    met = [f for f in clamped_verdict(SLIM, 18.0).findings if f.kind == "hardware touched" and "shoe" in f.what]
    assert met
    assert met[0].by_mm == pytest.approx(2.0, abs=1e-6)  # 5 + 15 mm, and the clamp begins at 18
    assert clamped_verdict((), 25.0).findings != clamped_verdict(SLIM, 25.0).findings


def test_a_shoe_keeps_to_the_machine_where_the_work_lies_turned() -> None:
    """A quarter turn of the work brings the clamp before the shoe's long end: it is met then."""
    found = [f for f in clamped_verdict(SLIM, 25.0, (0.0, 0.0, math.pi / 2)).findings if f.kind == "hardware touched"]
    assert any("shoe" in f.what for f in found)
