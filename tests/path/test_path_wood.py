"""What the paths know of the wood between the places that they look at: rapid moves go by the most that can stand."""

import numpy as np
import pytest
from benchwork import BALL_6, FLAT_3, FLAT_6
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector, shrunken, surface_height
from witnessmark.job.models import Cutter
from witnessmark.path.join import Joiner
from witnessmark.path.strokes import RAPID
from witnessmark.path.track import Track
from witnessmark.path.wood import Wood

BULL_8 = FLAT_6.model_copy(update={"name": "bull 8", "kind": "bull", "diameter_mm": 8.0, "corner_radius_mm": 1.0})
V_60 = FLAT_6.model_copy(update={"name": "v 60", "kind": "v", "diameter_mm": 12.0, "included_angle_deg": 60.0})
HEIGHT_MM = 10.0


def slanted(seed, count):
    """A chain of random places over a block 40 x 30 x 10, sinking and rising."""
    return np.random.default_rng(seed).uniform([0.0, 0.0, 2.0], [40.0, 30.0, 9.0], (count, 3))


PROFILES = [
    ("flat", 6.0, 0.0, 0.0),
    ("ball", 6.0, 3.0, 0.0),
    ("bull", 8.0, 1.0, 0.0),
    ("bull", 6.0, 2.8, 0.0),
    ("v", 12.0, 0.0, 60.0),
    ("tapered_ball", 6.0, 1.0, 20.0),
]


@given(st.sampled_from(PROFILES), st.floats(0.05, 1.2), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_shrunken_cutter_is_nowhere_lower_than_the_cutter_nearby(which, by_mm, across, towards):
    profile = profile_vector(*which)
    less, lift_mm = shrunken(profile, by_mm)
    r = across * float(less[1])
    near = r + towards * by_mm
    assert near <= profile[1] + 1e-12
    assert surface_height(r, less) + lift_mm >= surface_height(near, profile) - 1e-9


def test_nothing_is_left_of_a_cutter_thinner_than_the_cells():
    assert shrunken(profile_vector("flat", 1.0), 0.7) is None


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([FLAT_6, BALL_6, BULL_8, V_60]), st.sampled_from([0.5, 1.0, 1.3]))
def test_no_wood_stands_higher_than_the_most_that_can(seed, cutter, pitch_mm):
    """Looked at on a grid fourteen times finer, the wood is never above what the coarse cell allows for."""
    chain = slanted(seed, 12)
    grid = Grid.over(0.0, 0.0, 39.0, 26.0, pitch_mm)
    fine = Grid(grid.x0_mm, grid.y0_mm, pitch_mm / 14, grid.nx * 14, grid.ny * 14)
    coarse_wood, fine_wood = (Wood(g, g.full(HEIGHT_MM), cutter) for g in (grid, fine))
    coarse_wood.cut(chain)
    fine_wood.cut(chain)
    highest = fine_wood.top.reshape(grid.ny, 14, grid.nx, 14).max(axis=(1, 3))
    assert (highest <= coarse_wood.most + 1e-4).all()
    assert (coarse_wood.top <= coarse_wood.most + 1e-4).all()
    assert coarse_wood.most.min() < HEIGHT_MM  # it does know that something was cut


def ribbed(rib_mm):
    """Two parallel grooves 7 deep with a rib between them that no cell centre of a 1 mm grid lies on."""
    grid = Grid.over(0.0, 0.0, 40.0, 30.0, 1.0)
    wood = Wood(grid, grid.full(HEIGHT_MM), FLAT_6)
    apart = FLAT_6.diameter_mm / 2 + rib_mm / 2
    for y in (15.0 - apart, 15.0 + apart):  # cell centres lie at 14.5 and 15.5
        wood.cut(np.array([[-5.0, y, 3.0], [45.0, y, 3.0]]))
    return wood


def test_a_rapid_move_stops_above_a_rib_that_no_cell_shows():
    wood = ribbed(0.4)
    over = np.array([[20.0, 15.0]])
    assert wood.touching_mm(over)[0] == pytest.approx(3.0)  # the cells show a wide groove
    joiner = Joiner(wood, safe_z_mm=20.0)
    assert joiner.follow(Track(np.array([[20.0, 15.0, 2.5], [30.0, 15.0, 2.5]]), closed=False))
    strokes = joiner.strokes()
    sinking = [
        b[2]
        for a, b, mode in zip(strokes.points_mm[:-1], strokes.points_mm[1:], strokes.mode)
        if mode == RAPID and b[2] < a[2]
    ]
    assert sinking == [pytest.approx(HEIGHT_MM + 1.0)]


def test_a_rapid_move_goes_down_where_the_wood_surely_is_gone():
    grid = Grid.over(0.0, 0.0, 40.0, 30.0, 1.0)
    wood = Wood(grid, grid.full(HEIGHT_MM), FLAT_6)
    for y in np.arange(9.0, 22.0, 2.4):
        wood.cut(np.array([[5.0, y, 3.0], [35.0, y, 3.0]]))
    assert wood.surely_clear_mm(np.array([[20.0, 15.0]]))[0] == pytest.approx(3.0)
    smaller = Wood(grid, wood.top, FLAT_3, wood.most)
    assert smaller.surely_clear_mm(np.array([[20.0, 15.0]]))[0] == pytest.approx(3.0)


def test_a_cutter_too_thin_for_the_grid_lowers_nothing_for_sure():
    thin = Cutter(name="flat 1", kind="flat", diameter_mm=1.0, flute_length_mm=5, stickout_mm=20, shank_diameter_mm=3)
    grid = Grid.over(0.0, 0.0, 10.0, 10.0, 1.0)
    wood = Wood(grid, grid.full(HEIGHT_MM), thin)
    wood.cut(np.array([[0.5, 5.5, 3.0], [9.5, 5.5, 3.0]]))
    assert wood.top.min() == pytest.approx(3.0)
    assert wood.most.min() == HEIGHT_MM
