"""The exact lowest tip over a solid, and the no-go areas, against dense points and closed forms."""

import math

import numpy as np
import pytest
import shapely
from benchwork import BALL_6, FLAT_6, prism, solid_of, tapered
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.profile import profile_vector
from witnessmark.path.lowest import lowest_over
from witnessmark.path.nogo import NoGo

PROFILES = {
    "flat": profile_vector("flat", 6.0),
    "ball": profile_vector("ball", 6.0),
    "bull": profile_vector("bull", 6.0, 1.0),
}


def surface(r, profile):
    """b(r) of a round-edged cutter, written out again for the check."""
    over = np.maximum(r - (profile[1] - profile[2]), 0.0)
    return profile[2] - np.sqrt(np.maximum(profile[2] ** 2 - over**2, 0.0))


def by_points(triangles, profile, places, count=160):
    """The highest z - b(r) over points spread densely over the triangles: a lower bound that converges."""
    u = np.linspace(0, 1, count)
    a, b = (w.ravel() for w in np.meshgrid(u, u))
    a, b = a[a + b <= 1.0], b[a + b <= 1.0]
    best = np.full(len(places), -np.inf)
    for t in triangles:
        points = t[0] + a[:, None] * (t[1] - t[0]) + b[:, None] * (t[2] - t[0])
        for k, place in enumerate(places):
            r = np.hypot(*(points[:, :2] - place).T)
            near = r <= profile[1]
            if near.any():
                best[k] = max(best[k], (points[near, 2] - surface(r[near], profile)).max())
    return best


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(sorted(PROFILES)))
def test_lowest_tip_agrees_with_dense_points(seed, kind):
    """Facets, edges and corners of a few random triangles: never below the dense points' answer, hardly above it."""
    rng = np.random.default_rng(seed)
    triangles = rng.uniform([0, 0, 0], [10, 10, 4], (3, 3, 3))
    turned = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])[:, 2] < 0
    triangles[turned] = triangles[turned][:, ::-1]
    places = rng.uniform(-2, 12, (6, 2))
    exact = lowest_over(triangles, PROFILES[kind]).tips(places)
    dense = by_points(triangles, PROFILES[kind], places)
    met = np.isfinite(dense)
    assert (exact[met] >= dense[met] - 1e-9).all()
    if kind == "ball":
        assert (exact[met] - dense[met] <= 0.25).all()


@pytest.mark.parametrize("slope_deg", [5.0, 30.0, 44.0])
def test_lowest_tip_on_a_slope_is_the_closed_form(slope_deg):
    """On a plane that slopes t a ball's tip is R (1/cos t - 1) above the plane under it, a flat one's R tan t."""
    rise = math.tan(math.radians(slope_deg))
    plane = np.array(
        [
            [[-50, -50, -50 * rise], [50, -50, 50 * rise], [50, 50, 50 * rise]],
            [[-50, -50, -50 * rise], [50, 50, 50 * rise], [-50, 50, -50 * rise]],
        ]
    )
    at = np.array([[0.0, 1.0], [3.0, -7.0]])
    under = at[:, 0] * rise
    ball = lowest_over(plane, PROFILES["ball"]).tips(at)
    flat = lowest_over(plane, PROFILES["flat"]).tips(at)
    assert ball == pytest.approx(under + 3.0 * (1 / math.cos(math.radians(slope_deg)) - 1), abs=1e-9)
    assert flat == pytest.approx(under + 3.0 * rise, abs=1e-9)
    bull = lowest_over(plane, PROFILES["bull"]).tips(at)
    assert bull == pytest.approx(under + 2.0 * rise + (1 / math.cos(math.radians(slope_deg)) - 1), abs=1e-9)


def test_lowest_tip_on_an_edge_and_a_corner_is_the_closed_form():
    """Beside a plumb wall with a level top a ball hangs on the edge at distance d: z - R + sqrt(R^2 - d^2)."""
    block = solid_of(prism(shapely.box(0, 0, 20, 20), 0, 5))
    low = lowest_over(block.triangles, PROFILES["ball"])
    d = np.array([0.5, 1.5, 2.9])
    edge = low.tips(np.column_stack([-d, np.full(3, 10.0)]))
    assert edge == pytest.approx(5.0 - 3.0 + np.sqrt(9.0 - d**2), abs=1e-9)
    corner = low.tips(np.column_stack([-d / math.sqrt(2), -d / math.sqrt(2)]))
    assert corner == pytest.approx(5.0 - 3.0 + np.sqrt(9.0 - d**2), abs=1e-9)
    assert low.tips(np.array([[-3.1, 10.0]]))[0] == pytest.approx(-np.inf)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.floats(1.5, 40.0), st.integers(3, 8))
def test_a_balls_no_go_area_is_exact_on_leaning_walls(seed, draft, corners):
    """Just outside it no tip is too low; 0.015 mm inside it every tip along the walls is: neither gouge nor waste."""
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 2 * np.pi, corners))
    base = shapely.MultiPoint(np.column_stack([30 * np.cos(turn), 24 * np.sin(turn)])).convex_hull
    if base.buffer(-9.0).is_empty:
        base = shapely.box(-25, -20, 25, 20)
    solid = solid_of(tapered(base, 0.0, 8.0, draft))
    low = lowest_over(solid.triangles, PROFILES["ball"])
    z = 2.0
    area = NoGo(solid, (-60, -60, 60, 60)).area(BALL_6, z)
    out = shapely.get_coordinates(shapely.segmentize(shapely.buffer(area, 1e-4).exterior, 0.5))
    assert low.tips(out).max() <= z + 3e-3  # sampling of heights on a lean: within 0.005 mm, as nogo.py states
    near = shapely.get_coordinates(shapely.segmentize(shapely.buffer(area, -0.015).exterior, 0.5))
    assert low.tips(near).min() > z


def test_a_flat_cutters_no_go_area_is_the_shadow_grown():
    """Round a plumb boss it is the outline grown by the radius, to within a hundredth on the safe side."""
    outline = shapely.Polygon([(0, 0), (30, 0), (34, 17), (12, 25)])
    area = NoGo(solid_of(prism(outline, 0, 10)), (-30, -30, 60, 60)).area(FLAT_6, 4.0)
    true = outline.buffer(3.0, quad_segs=256)
    assert shapely.difference(true, area).area < 1e-3
    assert shapely.difference(area, true.buffer(0.0105, quad_segs=64)).area < 1e-6
