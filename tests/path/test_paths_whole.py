"""Whole paths for small pieces: never into the piece, all in reach is finished, entries and joins are safe."""

import math

import manifold3d
import numpy as np
import pytest
import shapely
from benchwork import (
    BALL_6,
    FLAT_3,
    FLAT_6,
    fed,
    prism,
    request_for,
    slim_task,
    solid_of,
    swept_at,
    tapered,
    task_of,
    with_rough_tips,
)
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from witnessmark.job.assembly import Assembly, Step
from witnessmark.job.placement import Bridge
from witnessmark.path.areas import box
from witnessmark.path.floors import SHY_MM as FLOOR_SHY_MM
from witnessmark.path.floors import floor_ground
from witnessmark.path.lowest import lowest_over
from witnessmark.path.make import make_paths
from witnessmark.path.nogo import NoGo
from witnessmark.path.request import CutterTask, Hole, Pocket
from witnessmark.path.strokes import CUT, ENTRY, RAPID
from witnessmark.path.wood import Wood, profile_of

SHY_MM = 0.01  # thinning and chords are made up for on the side of leaving wood: by no more than this
BLANK = (-45.0, -35.0, 45.0, 35.0, 12.0)


def polygon(seed, corners, low, high):
    """A random convex polygon about the middle."""
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 2 * np.pi, corners))
    size = rng.uniform(low, high, corners)
    found = shapely.MultiPoint(np.column_stack([size * np.cos(turn), size * np.sin(turn)])).convex_hull
    return found if found.area > 400 else shapely.box(-low, -low, low, low)


def opened(area, radius_mm):
    """What a disc of this radius inside an area sweeps."""
    return area.buffer(-radius_mm, quad_segs=64).buffer(radius_mm, quad_segs=64)


def boss_with_pocket(seed, draft):
    """A leaning boss 10 high on a foot plate 2 high, with a random plumb pocket 5 deep in its top."""
    outline = polygon(seed, 7, 18.0, 26.0)
    top = outline.buffer(-8.0 * math.tan(math.radians(draft)), join_style="mitre")
    pocket = top.buffer(-4.0).intersection(polygon(seed + 1, 6, 9.0, 20.0)).buffer(-0.5)
    solid = solid_of(prism(outline.buffer(3), 0, 2), tapered(outline, 2, 10, draft))
    if not pocket.is_empty and pocket.geom_type == "Polygon":
        solid = solid_of(solid.manifold - prism(pocket, 5, 12))
    return solid, pocket


def too_low_mm(path, task, solid):
    """How far any fed stroke, felt every 0.2 mm, goes below the exact lowest tip over the solid."""
    if not (path.strokes.mode != RAPID).any():
        return 0.0
    tips = felt_along(path, 0.2)
    lowest = lowest_over(solid.triangles, profile_of(task.cutter)).tips(tips)
    return float((lowest - tips[:, 2]).max())


def surface_points(solid, apart_mm=0.3):
    """Points on every face of a solid, closer than ``apart_mm``."""
    points = []
    for a, b, c in solid.triangles:
        n = math.ceil(max(np.linalg.norm(b - a), np.linalg.norm(c - a)) / apart_mm) + 1
        u, v = (w.ravel() for w in np.meshgrid(np.linspace(0, 1, n), np.linspace(0, 1, n)))
        inside = u + v <= 1.0 + 1e-9
        points.append(a + u[inside, None] * (b - a) + v[inside, None] * (c - a))
    return np.vstack(points)


def felt_along(path, apart_mm=0.4):
    """Tips every ``apart_mm`` along the fed strokes."""
    start, end = fed(path.strokes)
    parts = np.maximum(1, np.ceil(np.linalg.norm(end - start, axis=1) / apart_mm)).astype(int)
    owner = np.repeat(np.arange(len(start)), parts)
    share = np.concatenate([(np.arange(n) + 1) / n for n in parts])[:, None]
    return start[owner] + share * (end - start)[owner]


def paths_for(request, cutters, slim=True):
    tasks = [slim_task(c) if slim else task_of(c) for c in cutters]
    tasks[0] = with_rough_tips(request, tasks[0])
    return tasks, make_paths(request, tasks)


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**6), st.sampled_from([0.0, 4.0, 12.0, 30.0]))
@example(959, 30.0)  # a link between rows over an edge once cut 0.0034 mm under it
def test_no_stroke_enters_the_piece_and_none_leaves_its_bounds(seed, draft):
    """Flat, ball and small flat cutter: nowhere 0.002 mm too low, window and depth kept."""
    solid, _ = boss_with_pocket(seed, draft)
    window = (-40.0, -31.0, 38.0, 60.0)
    request = request_for(solid, BLANK, window_mm=window)
    tasks, paths = paths_for(request, [FLAT_6, BALL_6, FLAT_3])
    for task, path in zip(tasks, paths):
        assert too_low_mm(path, task, solid) < 0.002
        points = path.strokes.points_mm
        if len(path.strokes):
            assert (points[:, :2] >= window[:2]).all()
            assert (points[:, :2] <= window[2:]).all()
            assert points[:, 2].min() >= request.lowest_tip_mm - 1e-9
            assert points[[0, -1], 2] == pytest.approx(request.safe_z_mm)


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**6), st.sampled_from([4.0, 12.0, 30.0]))
def test_distances_to_the_piece_are_no_less_than_the_radius(seed, draft):
    """Exact polygon distances for the flat cutter (shapely); the ball to points to points all over the piece."""
    solid, _ = boss_with_pocket(seed, draft)
    request = request_for(solid, BLANK)
    _, paths = paths_for(request, [FLAT_6, BALL_6])
    start, end = fed(paths[0].strokes)
    lines = shapely.linestrings(np.stack([start[:, :2], end[:, :2]], axis=1))
    lower = np.round(np.minimum(start[:, 2], end[:, 2]), 6)
    for z in np.unique(lower):
        wood = solid.shadow_above(z)
        if not wood.is_empty:
            shapely.prepare(wood)
            assert not shapely.dwithin(wood, lines[lower == z], 3.0 - 0.002).any()
    tips = felt_along(paths[1])
    if len(tips):
        away, _ = cKDTree(surface_points(solid)).query(tips + np.array([0.0, 0.0, 3.0]))
        assert away.min() > 3.0 - 0.002


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**6), st.sampled_from([0.0, 12.0]))
def test_rapids_and_entries_are_safe(seed, draft):
    """Rapids run level at the safe height or plumb over known wood; what sinks over 5 degrees sinks in air."""
    solid, _ = boss_with_pocket(seed, draft)
    request = request_for(solid, BLANK)
    tasks, paths = paths_for(request, [FLAT_6, BALL_6])
    top = request.top
    for task, path in zip(tasks, paths):
        wood = Wood(request.grid, top, task.cutter)
        points, modes = path.strokes.points_mm, path.strokes.mode
        for a, b, mode in zip(points[:-1], points[1:], modes):
            run, fall = math.hypot(*(b - a)[:2]), a[2] - b[2]
            if mode == RAPID:
                assert run < 1e-9 or (a[2] == b[2] == request.safe_z_mm)
                assert b[2] >= wood.touching_mm(b[None])[0] + 0.5
                continue
            steep = fall > math.tan(math.radians(5.0)) * run + 1e-9
            if mode == ENTRY and steep:
                assert wood.touching_mm(b[None])[0] <= b[2] + 0.051
            if mode == CUT:
                assert not steep or task.cutter.kind == "ball"
            wood.cut(np.vstack([a, b]))
        top = path.top_after
        assert wood.top == pytest.approx(top, abs=1e-4)


@settings(max_examples=3, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@example(2123)
@given(st.integers(0, 10**6))
def test_a_pocket_floor_is_covered_as_far_as_the_cutter_reaches(seed):
    """The sweep at the floor's height and the opening of the floor by the cutter have the same area (shapely)."""
    solid, pocket = boss_with_pocket(seed, 12.0)
    request = request_for(solid, BLANK)
    _, paths = paths_for(request, [FLAT_6])
    if pocket.is_empty or pocket.geom_type != "Polygon":
        return
    swept = swept_at(paths[0].strokes, 3.0, 5.0).intersection(pocket)
    assert opened(pocket.buffer(-SHY_MM), 3.0).area - 0.01 <= swept.area <= opened(pocket, 3.0).area + 0.01
    assert shapely.difference(opened(pocket.buffer(-0.03), 3.0), swept.buffer(0.005)).area < 0.01


def test_a_smaller_cutter_finishes_the_floors_corners():
    """After a 3 mm cutter the pocket's corners are open to its own radius, and it cut little else."""
    pocket = shapely.box(-15, -10, 15, 10)
    solid = solid_of(prism(shapely.box(-25, -20, 25, 20), 0, 10) - prism(pocket, 6, 11))
    request = request_for(solid, (-30.0, -25.0, 30.0, 25.0, 10.0), through_mm=10.0)
    _, paths = paths_for(request, [FLAT_6, FLAT_3])
    both = swept_at(paths[0].strokes, 3.0, 6.0).union(swept_at(paths[1].strokes, 1.5, 6.0)).intersection(pocket)
    assert opened(pocket.buffer(-SHY_MM), 1.5).area - 0.02 <= both.area <= opened(pocket, 1.5).area + 0.02
    cut_mm = [np.linalg.norm(np.subtract(*fed(path.strokes)), axis=1).sum() for path in paths]
    assert cut_mm[1] < 0.25 * cut_mm[0]


@pytest.mark.parametrize("draft", [5.0, 12.0, 30.0])
def test_leaning_walls_are_left_with_no_more_than_the_scallop(draft):
    """Between ball passes at z1, z2 the ridge along the normal is R - sqrt(R^2 - s^2/4), s = dz / cos a.

    Plane geometry; felt from outside the paths' own code: levels are read from the strokes beside one straight wall.
    """
    solid = solid_of(tapered(shapely.box(-25, -20, 25, 20), 0.0, 14.0, draft))
    request = request_for(solid, (-35.0, -30.0, 35.0, 30.0, 14.0), through_mm=0.0)
    _, paths = paths_for(request, [FLAT_6, BALL_6])
    start, end = fed(paths[1].strokes)
    level = (np.abs(start[:, 2] - end[:, 2]) < 1e-9) & (np.abs(start[:, 0] - end[:, 0]) < 1e-3) & (start[:, 0] > 15)
    level &= np.abs(start[:, 1] - end[:, 1]) > 0.3
    lean = math.radians(draft)
    heights = np.unique(np.round(start[level, 2], 6))
    spacing = np.diff(heights).max() / math.cos(lean)
    assert 3.0 - math.sqrt(9.0 - spacing**2 / 4) <= request.settings.scallop_mm + 1e-6
    for z in heights:
        x = start[level & (np.abs(start[:, 2] - z) < 1e-5), 0].min()
        true = 25.0 - (z + 3.0) * math.tan(lean) + 3.0 / math.cos(lean)
        if z + 3.0 * (1 - math.sin(lean)) < 14.0:
            assert 0.0 <= x - true < 0.012
    contact_low = heights.min() + 3.0 * (1.0 - math.sin(lean))
    feet = np.unique(np.round(fed(paths[0].strokes)[0][:, 2], 6))
    fine = feet[(feet <= contact_low + 1e-6)]
    assert np.diff(fine).max() * math.sin(lean) <= request.settings.scallop_mm + 1e-6
    assert fine.min() == pytest.approx(0.0)


def test_a_dome_is_left_with_no_more_than_the_scallop():
    """Everywhere on a sphere's cap the wood left along the normal is under the scallop plus 0.01, never negative."""
    radius, high = 60.0, 8.0
    turn = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    rings = [[0.0, 0.0, high]]
    for z in np.linspace(0, high - 0.02, 70):
        r = math.sqrt(radius**2 - (radius - high + z) ** 2)
        rings += [[r * math.cos(t), r * math.sin(t), z] for t in turn]
    solid = solid_of(manifold3d.Manifold.hull_points(np.array(rings)))
    request = request_for(solid, (-34.0, -34.0, 34.0, 34.0, 9.0))
    tasks, paths = paths_for(request, [FLAT_6, BALL_6])
    top = paths[1].top_after
    x, y = np.meshgrid(request.grid.x_mm, request.grid.y_mm)
    inside = np.hypot(x, y) < 25.0
    centre = np.sqrt(x**2 + y**2 + (top.astype(float) - (high - radius)) ** 2)
    left = (centre - radius)[inside]
    assert left.max() <= request.settings.scallop_mm + 0.01
    assert left.min() >= -0.012  # the facets themselves lie up to 0.01 mm inside the sphere
    assert too_low_mm(paths[1], tasks[1], solid) < 0.002


def test_walls_are_cut_in_the_climbing_way():
    """Every long fed stroke that grazes the boss has it on the right hand."""
    outline = shapely.box(-20, -12, 20, 12)
    solid = solid_of(prism(outline, 0, 10))
    request = request_for(solid, BLANK)
    _, paths = paths_for(request, [FLAT_6])
    start, end = fed(paths[0].strokes)
    middle, step = (start + end)[:, :2] / 2, (end - start)[:, :2]
    graze = np.abs(shapely.distance(outline, shapely.points(middle)) - 3.0) < 0.02
    graze &= np.hypot(*step.T) > 5.0
    assert graze.sum() >= 8
    along = step[graze] / np.hypot(*step[graze].T)[:, None]
    right = middle[graze] + 3.5 * np.column_stack([along[:, 1], -along[:, 0]])
    assert shapely.contains_xy(outline, right[:, 0], right[:, 1]).all()


def test_only_the_region_and_its_overlap_are_cut():
    """Contours stop a seam's overlap beyond the region, and do not follow the region's own edge."""
    outline = shapely.box(-30, -20, 30, 20)
    solid = solid_of(prism(outline, 0, 10))
    region = (-45.0, -35.0, 5.0, 35.0)
    request = request_for(solid, BLANK, region=region)
    _, paths = paths_for(request, [FLAT_6])
    start, end = fed(paths[0].strokes)
    assert start[:, 0].max() <= 5.0 + request.settings.seam_overlap_mm + 1e-9
    low = (start[:, 2] < 9.0) & (end[:, 2] < 9.0)
    over = shapely.intersects(outline, shapely.linestrings(np.stack([start[low, :2], end[low, :2]], axis=1)))
    assert not over.any()


def test_what_the_nut_has_no_room_for_is_left_and_told():
    """A short stick-out in a narrow deep slot: nothing is cut where the nut would meet wood, and it is said."""
    solid = solid_of(prism(shapely.box(-40, -30, 40, 30), 0, 30) - prism(shapely.box(-30, -5, 30, 5), 4, 31))
    request = request_for(solid, (-45.0, -35.0, 45.0, 35.0, 30.0), through_mm=30.0)
    steps = (Step(3.0, 0.0, 20.0, "cut"), Step(10.0, 20.0, 40.0, "nut"), Step(32.0, 40.0, 100.0, "nose"))
    task = with_rough_tips(request, CutterTask(FLAT_6, Assembly(FLAT_6, steps)))
    tips = np.where(task.rough_tips < 10.0, np.inf, task.rough_tips).astype(np.float32)
    task = CutterTask(task.cutter, task.assembly, np.where(np.isfinite(tips), tips, np.inf).astype(np.float32))
    (path,) = make_paths(request, [task])
    start, _ = fed(path.strokes)
    assert start[:, 2].min() >= 10.0 - 1e-3
    assert any("left out" in note for note in path.notes)


def test_roughing_cuts_clearance_wood_to_its_height():
    """Tips far from the piece at heights between two levels are cut there, not a level too high."""
    solid = solid_of(prism(shapely.box(-20, -15, 20, 15), 0, 12))
    request = request_for(solid, (-60.0, -40.0, 60.0, 40.0, 12.0))
    grid = request.grid
    tips = np.full(grid.shape, np.inf, dtype=np.float32)
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    tips[(x > 35) & (x < 50) & (np.abs(y) < 20)] = 7.3
    (path,) = make_paths(request, [CutterTask(FLAT_6, slim_task(FLAT_6).assembly, tips)])
    inside = (x > 36) & (x < 49) & (np.abs(y) < 19)
    assert path.top_after[inside].max() == pytest.approx(7.3, abs=1e-3)


def test_pockets_in_the_waste_are_cut_to_their_outline():
    """A touch land beside the piece is cut to its depth, its straight walls true, and told where it is too narrow."""
    solid = solid_of(prism(shapely.box(-26, -12, 12, 12), 0, 10))
    land = Pocket("land", ((28.0, -12.0), (42.0, -12.0), (42.0, 12.0), (28.0, 12.0)), 12.0, 3.0)
    thin = Pocket("thin", ((-43.0, -12.0), (-39.0, -12.0), (-39.0, 12.0), (-43.0, 12.0)), 12.0, 3.0)
    request = request_for(solid, BLANK, pockets=(land, thin))
    _, paths = paths_for(request, [FLAT_6])
    outline = shapely.Polygon(land.outline_mm)
    low = swept_at(paths[0].strokes, 3.0, 3.0).intersection(shapely.box(26, -20, 45, 20))
    assert low.area == pytest.approx(opened(outline, 3.0).area, rel=1e-3)
    assert shapely.difference(low, outline.buffer(0.001)).area < 1e-3
    assert any("thin" in note for note in paths[0].notes)


def test_bridges_are_left_across_the_outer_cut():
    """Three bridges stand whole, to their height, after every cutter; elsewhere round the outside nothing does."""
    outline = shapely.box(-20, -12, 20, 12)
    solid = solid_of(prism(outline, 0, 10))
    strips = [shapely.box(-3, 11, 3, 25), shapely.box(-3, -25, 3, -11), shapely.box(19, -3, 33, 3)]
    bridges = tuple(Bridge(tuple(strip.exterior.coords[:-1]), 0.0, 2.0) for strip in strips)
    request = request_for(solid, BLANK, bridges=bridges)
    _, paths = paths_for(request, [FLAT_6, BALL_6, FLAT_3])
    grid, top = request.grid, paths[-1].top_after
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    places = shapely.points(x.ravel(), y.ravel())
    to_strip, gap = (
        shapely.distance(shape, places).reshape(x.shape) for shape in (shapely.union_all(strips), outline)
    )
    assert top[(to_strip == 0) & (gap > 0)].min() >= 2.0 - 1e-6
    assert top[(to_strip == 0) & (gap > 0.1) & (gap < 4.0)].max() == pytest.approx(2.0, abs=1e-3)
    flanks_mm = 2.0 / math.tan(math.radians(30.0))
    assert top[(to_strip > 6.0 + flanks_mm) & (gap > 0.1) & (gap < 4.0)].max() <= 1e-3


def test_holes_are_pecked_with_a_drill_of_their_size():
    """Each peck is one diameter at most, rapids back in stop above the last depth, the bottom is met."""
    solid = solid_of(prism(shapely.box(-20, -12, 20, 12), 0, 10))
    drill = FLAT_6.model_copy(
        update={"name": "drill 4", "kind": "drill", "diameter_mm": 4.0, "included_angle_deg": 118.0}
    )
    request = request_for(solid, BLANK, holes=(Hole(5.0, 2.0, 12.0, 1.0, 4.0), Hole(-5.0, 2.0, 12.0, 1.0, 8.0)))
    (path,) = make_paths(request, [slim_task(drill)])
    points, modes = path.strokes.points_mm, path.strokes.mode
    assert points[:, 2].min() == pytest.approx(1.0)
    assert points[:, :2] == pytest.approx(np.tile([5.0, 2.0], (len(points), 1)))
    reached = 12.0
    for a, b, mode in zip(points[:-1], points[1:], modes):
        if mode == RAPID and b[2] < a[2]:
            assert b[2] > reached
        if mode == ENTRY:
            assert reached - b[2] <= 4.0 + 1e-9
            reached = min(reached, b[2])


def test_floor_ground_reaches_strips_beside_a_wall():
    """A ledge narrower than the cutter's radius is finished from beyond its edge."""
    solid = solid_of(prism(shapely.box(-20, -15, 20, 15), 0, 4), prism(shapely.box(-20, -13, 20, 13), 0, 10))
    request = request_for(solid, BLANK)
    nogo = NoGo(solid, (-60, -60, 60, 60))
    (ledge,) = [area for z, area in nogo.floors if abs(z - 4.0) < 1e-6]
    ground = floor_ground(request, FLAT_6, nogo, 4.0, ledge)
    covered = ground.buffer(3.0, quad_segs=64).intersection(ledge)
    assert 0.0 <= ledge.area - covered.area <= 2 * 40 * (SHY_MM + FLOOR_SHY_MM)  # the walls' own passes cut there
    assert shapely.distance(ground, shapely.box(-20, -13, 20, 13)) >= 3.0
    assert box(request.region_mm, 4.0).covers(ground)
