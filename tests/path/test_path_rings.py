"""Filling areas with rings, masks to areas, and the way round."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.grid import Grid
from witnessmark.path.areas import mask_area, outline
from witnessmark.path.climb import climbing
from witnessmark.path.rings import fill


def star(seed, corners, low, high):
    """A random polygon seen whole from its middle."""
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 2 * np.pi, corners))
    size = rng.uniform(low, high, corners)
    return shapely.Polygon(np.column_stack([size * np.cos(turn), size * np.sin(turn)])).buffer(0)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.integers(4, 14), st.floats(0.3, 1.0))
def test_rings_leave_no_islands(seed, corners, ratio):
    """With any stepover up to the radius, the cutter's sweep covers the whole area the axis may be in."""
    area = star(seed, corners, 6.0, 40.0)
    tracks = list(fill(area, 0.0, 3.0 * ratio, 3.0, None))
    lines = [shapely.LineString(track.chain_mm[:, :2]) for track in tracks]
    swept = shapely.union_all(shapely.buffer(lines, 3.0, quad_segs=32))
    assert shapely.difference(area, swept.buffer(0.03)).area == pytest.approx(0.0, abs=1e-6)
    assert all(shapely.covers(area.buffer(0.021), line) for line in lines)


def test_rings_keep_what_bounds_them_on_the_right():
    """An outline of allowed ground runs counter-clockwise, so the wall beyond it lies on the right: climb cutting."""
    ground = shapely.box(0, 0, 30, 20).difference(shapely.box(10, 8, 20, 12))
    for track in fill(ground, 0.0, 2.0, 3.0, None):
        xy = track.points_mm[:, :2]
        mid, along = (xy[0] + xy[1]) / 2, (xy[1] - xy[0]) / np.linalg.norm(xy[1] - xy[0])
        left = shapely.Point(mid + 0.05 * np.array([-along[1], along[0]]))
        assert ground.buffer(-0.01).contains(left)


def test_climb_cutting_keeps_the_wall_on_the_right():
    """A clockwise spindle's tooth on the right moves backwards, as the wood does: worked out with vectors.

    Travelling along +y with the wall at +x: rotation -z, tooth at +x: velocity (-z) x (+x) = -y, and the wood moves
    -y relative to the cutter. Tooth and wood go the same way: climb (down) milling.
    """
    tooth = np.cross([0, 0, -1], [1, 0, 0])
    wood = -np.array([0, 1, 0])
    assert np.dot(tooth, wood) > 0
    wall = shapely.box(3, -50, 20, 50)
    line = climbing(shapely.LineString([(0, 10), (0, -10)]), wall)
    assert shapely.get_coordinates(line)[0, 1] == -10


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.2, 1.0))
def test_a_masks_area_stays_near_its_centres(seed, pitch):
    """No point of the area is more than 0.36 of a pitch from what lies between neighbouring centres of the mask."""
    grid = Grid.over(0, 0, 40 * pitch, 30 * pitch, pitch)
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    shape = shapely.affinity.translate(star(seed, 9, 6 * pitch, 14 * pitch), 20 * pitch, 15 * pitch)
    mask = shapely.contains_xy(shape, x, y)
    area = mask_area(mask, grid)
    blocks = [(slice(j, j + 2), slice(i, i + 2)) for j in range(29) for i in range(39)]
    hulls = [shapely.MultiPoint(np.column_stack([x[b][mask[b]], y[b][mask[b]]])).convex_hull for b in blocks]
    between = shapely.union_all([hull for hull in hulls if not hull.is_empty])
    assert shapely.difference(area, between.buffer(0.36 * pitch)).area < 1e-9
    assert shapely.contains_xy(area.buffer(0.45 * pitch), x[mask], y[mask]).all()


@pytest.mark.parametrize("along", ["row", "column", "diagonal"])
def test_a_band_one_cell_wide_still_has_an_area(along):
    """Thin ground is not lost: the area runs along the whole band."""
    grid = Grid.over(0, 0, 20, 20, 0.5)
    mask = np.zeros(grid.shape, dtype=bool)
    k = np.arange(5, 35)
    mask[{"row": (20, k), "column": (k, 20), "diagonal": (k, k)}[along]] = True
    area = mask_area(mask, grid)
    rows, columns = np.nonzero(mask)
    assert shapely.contains_xy(area.buffer(0.25), grid.x_mm[columns], grid.y_mm[rows]).all()
    assert area.area < 20


def test_outlines_run_with_the_area_on_the_asked_side():
    """An outer ring runs clockwise with its area on the right, holes the other way."""
    ring = shapely.box(0, 0, 10, 10).difference(shapely.box(4, 4, 6, 6))
    for line in shapely.get_parts(outline(ring)):
        xy = shapely.get_coordinates(line)
        step = (xy[1] - xy[0]) / np.linalg.norm(xy[1] - xy[0])
        right = (xy[0] + xy[1]) / 2 + 0.01 * np.array([step[1], -step[0]])
        assert ring.contains(shapely.Point(right))
