"""Walls by plane geometry, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from workpiece import block_with_pocket

from witnessmark.field.profile import profile_vector, surface_height
from witnessmark.job.frames import Rigid
from witnessmark.proof.edges import inside_solid, wall_edges
from witnessmark.proof.levels import judged_levels
from witnessmark.proof.passes import passes_of
from witnessmark.proof.plane import between, covered_span, disc_radius, full_height
from witnessmark.proof.walls import Walls, wall_judge
from witnessmark.shapes.solid import Solid

LEAN_RAD = math.radians(12.0)
HIGH, RADIUS = 20.0, 3.0
FAR = (-80.0, -80.0, 80.0, 80.0)


def ring_at(out: float, z: float) -> list[tuple[float, float, float]]:
    x, y = 20.0 + out, 15.0 + out
    return [(-x, -y, z), (x, -y, z), (x, y, z), (-x, y, z)]


def boss(lean_rad: float = LEAN_RAD) -> Solid:
    """A boss of 40 x 30 mm at the top, 20 mm high, its walls leaning outward toward the foot."""
    faces = [(0, 2, 1), (0, 3, 2), (4, 5, 6), (4, 6, 7)]
    for i in range(4):
        j = (i + 1) % 4
        faces += [(i, j, 4 + j), (i, 4 + j, 4 + i)]
    return Solid.from_mesh(np.array(ring_at(HIGH * math.tan(lean_rad), 0) + ring_at(0, HIGH)), np.array(faces))


def ring_moves(out: float, tip: float) -> list[list[float]]:
    corners = ring_at(out, tip)
    return [[*corners[i], *corners[(i + 1) % 4], 0.0, 0.0, 0.0] for i in range(4)]


def ball_moves(step: float, off: float = 0.0, lean_rad: float = LEAN_RAD) -> np.ndarray:
    """Rings of a ball touching the walls (``off`` along their normal), ``step`` apart in height."""
    rows = []
    for tip in np.arange(HIGH, -RADIUS, -step):
        rows += ring_moves((HIGH - tip - RADIUS) * math.tan(lean_rad) + (RADIUS + off) / math.cos(lean_rad), tip)
    return np.array(rows)


def judged(solid: Solid, moves: np.ndarray, kind: str = "ball", allowance: float = 0.1, gouge: float = 0.05) -> Walls:
    profiles = profile_vector(kind, 2 * RADIUS)[None]
    passes = {1: passes_of(moves, np.arange(len(moves)), Rigid.identity(), 1, 0, 0)}
    judge = wall_judge(solid.triangles, passes, profiles, FAR, (-50.0, HIGH + 5), gouge, allowance)
    return judge.judged(judged_levels(solid.triangles, passes, profiles))


@pytest.mark.parametrize("step", [0.4, 0.8, 1.2])
def test_ridges_between_ball_passes_are_as_high_as_the_circle_says(step: float) -> None:
    """On a drafted wall the ridge is R - sqrt(R^2 - s^2/4), s the way between passes along the wall (plane geometry).

    It holds while the ridge stands no higher than the lower ball's middle, s/2 cos(lean) <= R sin(lean): above its
    middle the shank's path takes wood too.
    """
    along = step / math.cos(LEAN_RAD)
    ridge = RADIUS - math.sqrt(RADIUS**2 - along**2 / 4)
    walls = judged(boss(), ball_moves(step), allowance=0.2)
    assert walls.worst_left_mm == pytest.approx(ridge, abs=1e-6)
    assert walls.worst_gouge_mm < 1e-9


def test_a_ridge_above_the_lower_balls_middle_ends_at_its_upright_side() -> None:
    """With wider steps the ridge stands where the upper ball meets the upright path of the lower ball's side.

    Plane geometry: across the upper ball's middle to that path R - step tan(lean); the wall there is worked out.
    """
    step = 1.6
    across = RADIUS - step * math.tan(LEAN_RAD)
    above_lower_middle = step - math.sqrt(RADIUS**2 - across**2)
    level = RADIUS / math.cos(LEAN_RAD) - RADIUS + above_lower_middle * math.tan(LEAN_RAD)
    walls = judged(boss(), ball_moves(step), allowance=0.2)
    assert walls.worst_left_mm == pytest.approx(level * math.cos(LEAN_RAD), abs=1e-6)


def test_ridges_beyond_the_allowance_are_named() -> None:
    """Where the ridge is higher than the allowance, the walls' places say so, at the ridges' heights."""
    walls = judged(boss(), ball_moves(1.6), allowance=0.05)
    assert len(walls.left)
    assert walls.left.by_mm.max() == pytest.approx(walls.worst_left_mm)
    assert judged(boss(), ball_moves(0.4), allowance=0.05).left.by_mm.size == 0


@pytest.mark.parametrize("off", [-0.02, -0.08, -0.5])
def test_a_ball_moved_into_a_drafted_wall_gouges_it_by_that_much(off: float) -> None:
    """A ball moved along the wall's normal cuts exactly that deep, whatever the draft."""
    walls = judged(boss(), ball_moves(0.5, off))
    assert walls.worst_gouge_mm == pytest.approx(-off, abs=2e-3 * -off + 1e-6)
    assert bool(len(walls.gouges)) == (-off > 0.05)


def test_steps_of_a_flat_cutter_leave_stepdown_times_sine_of_the_lean() -> None:
    """A flat cutter on a drafted wall leaves steps of stepdown * sin(lean) along the normal (plane geometry)."""
    step = 0.5
    rows: list[list[float]] = []
    for tip in np.arange(HIGH, -1e-9, -step):
        rows += ring_moves((HIGH - tip) * math.tan(LEAN_RAD) + RADIUS, tip)
    walls = judged(boss(), np.array(rows), kind="flat", allowance=0.2)
    just_below = (step - 0.01) * math.sin(LEAN_RAD)
    assert walls.worst_left_mm == pytest.approx(just_below, abs=1e-6)
    assert walls.worst_gouge_mm < 1e-9


def test_a_level_left_out_is_found_as_wood_left() -> None:
    """One ring missing from the foot leaves wood there, and it is told at that height."""
    rows: list[list[float]] = []
    for tip in np.arange(HIGH, 2.5 - 1e-9, -0.5):
        rows += ring_moves((HIGH - tip) * math.tan(LEAN_RAD) + RADIUS, tip)
    walls = judged(boss(), np.array(rows), kind="flat", allowance=0.2)
    assert len(walls.left)
    assert 0.0 <= walls.left.at_mm[:, 2].min() <= walls.left.at_mm[:, 2].max() < 2.5


def test_a_pass_from_below_gouges_only_the_side_it_comes_from() -> None:
    """With the other side up heights count downward: the same boss, upside down, gives the same answer."""
    over = Rigid(np.diag([1.0, -1.0, -1.0]), np.zeros(3))
    profiles = profile_vector("ball", 2 * RADIUS)[None]
    standing = ball_moves(0.5, -0.08)
    passes = {-1: passes_of(standing, np.arange(len(standing)), over, -1, 0, 0)}
    turned = boss().moved(over)
    judge = wall_judge(turned.triangles, passes, profiles, FAR, (-HIGH - 5, 50.0), 0.05, 0.1)
    walls = judge.judged(judged_levels(turned.triangles, passes, profiles))
    assert walls.worst_gouge_mm == pytest.approx(0.08, abs=3e-4)


def test_an_arc_is_judged_within_its_chords_bulge() -> None:
    """A round boss cut by a full turn in two arcs: no gouge, no leftover beyond the chords of mesh and arc."""
    import manifold3d

    round_boss = Solid(manifold3d.Manifold.cylinder(10.0, 15.0, circular_segments=720))
    rows = [[18.0, 0, z, -18.0, 0, z, 0, 0, 1.0] for z in (5.0, 0.0)] + [
        [-18.0, 0, z, 18.0, 0, z, 0, 0, 1.0] for z in (5.0, 0.0)
    ]
    walls = judged(round_boss, np.array(rows), kind="flat")
    assert walls.worst_gouge_mm < 0.003
    assert walls.worst_left_mm < 0.003
    rows_in = np.array(rows)
    rows_in[:, [0, 3]] *= 17.8 / 18.0
    assert judged(round_boss, rows_in, kind="flat").worst_gouge_mm == pytest.approx(0.2, abs=0.003)


def test_facing_within_the_tolerance_is_no_gouge_of_the_walls_below() -> None:
    """A top faced 0.03 mm too low takes the walls' uppermost 0.03 mm with it, which is the floor's business."""
    rows = np.array([[-30.0, y, HIGH - 0.03, 30.0, y, HIGH - 0.03, 0, 0, 0] for y in np.arange(-18, 18.1, 4)])
    assert len(judged(boss(), rows, kind="flat").gouges) == 0
    rows[:, [2, 5]] = HIGH - 0.3
    assert len(judged(boss(), rows, kind="flat").gouges) > 0


SMALL = st.floats(-10, 10).map(lambda v: round(v, 3))


@given(st.tuples(*[SMALL] * 8))
@settings(max_examples=150, deadline=None)
def test_distance_between_segments_is_that_of_shapely(s: tuple[float, ...]) -> None:
    """The distance of two straight pieces agrees with shapely's (GEOS)."""
    distance, t, u = between(*s)
    one, two = shapely.LineString([s[0:2], s[2:4]]), shapely.LineString([s[4:6], s[6:8]])
    assert distance == pytest.approx(shapely.distance(one, two), abs=1e-9)
    p = np.array(s[0:2]) + t * (np.array(s[2:4]) - np.array(s[0:2]))
    q = np.array(s[4:6]) + u * (np.array(s[6:8]) - np.array(s[4:6]))
    assert np.hypot(*(p - q)) == pytest.approx(distance, abs=1e-6)


@given(st.tuples(*[SMALL] * 4), st.tuples(SMALL, SMALL), st.floats(0, 2 * math.pi), st.floats(0.1, 5))
@settings(max_examples=150, deadline=None)
def test_covered_span_holds_exactly_the_places_within_the_radius(
    s: tuple[float, ...], p: tuple[float, float], angle: float, r: float
) -> None:
    """Every place along a line is in the span if and only if it is within the radius of the piece (shapely)."""
    ux, uy = math.cos(angle), math.sin(angle)
    low, high = covered_span(*p, ux, uy, *s, r)
    along = np.linspace(-30, 30, 121)
    points = shapely.points(p[0] + along * ux, p[1] + along * uy)
    away = shapely.distance(points, shapely.LineString([s[0:2], s[2:4]]))
    inside = (along >= low) & (along <= high)
    assert np.all(inside[away < r - 1e-6])
    assert not np.any(inside[away > r + 1e-6])


@pytest.mark.parametrize(
    "profile",
    [
        profile_vector("flat", 6.0),
        profile_vector("ball", 6.0),
        profile_vector("bull", 6.0, corner_radius_mm=1.0),
        profile_vector("v", 12.0, included_angle_deg=60.0),
        profile_vector("tapered_ball", 8.0, corner_radius_mm=1.5, included_angle_deg=20.0),
    ],
)
def test_disc_radius_is_the_inverse_of_the_cutters_surface(profile: np.ndarray) -> None:
    """The disc at the height of the surface at radius r is r, for every kind of cutter."""
    for r in np.linspace(0.05, profile[1] - 1e-6, 40):
        h = surface_height(r, profile)
        if h > 0:
            assert disc_radius(h, profile) == pytest.approx(r, abs=1e-9)
    assert disc_radius(full_height(profile), profile) == pytest.approx(profile[1])
    assert disc_radius(-0.1, profile) == -1.0


def test_edges_bound_the_section_of_manifold3d() -> None:
    """The edges at a height enclose the area that manifold3d slices there (shoelace over the outward normals)."""
    solid = block_with_pocket()
    edges = wall_edges(solid.triangles, np.array([5.0, 15.0]), 4.0)
    for level, z in enumerate((5.0, 15.0)):
        rows = edges.level == level
        e, n = edges.ends_mm[rows], edges.normals[rows]
        middle = (e[:, :2] + e[:, 2:]) / 2
        length = np.hypot(e[:, 2] - e[:, 0], e[:, 3] - e[:, 1])
        area = 0.5 * float(((middle * n).sum(axis=1) * length).sum())
        assert area == pytest.approx(solid.section(z).area, rel=1e-9)


def test_inside_solid_agrees_with_the_section() -> None:
    """A place is in the wood just where shapely says that it lies in the section at its height."""
    solid = block_with_pocket()
    rng = np.random.default_rng(3)
    points = rng.uniform([-30, -20, 1], [30, 20, 19], size=(300, 3))
    told = inside_solid(points, solid.triangles)
    for point, inside in zip(points, told):
        assert inside == solid.section(float(point[2])).contains(shapely.Point(point[:2]))
