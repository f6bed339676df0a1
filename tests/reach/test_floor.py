"""The reachable floor."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reach_scenes import block_scene, hilly_scene, spindle
from scipy import ndimage

from witnessmark.field.dilate import disc_max
from witnessmark.field.profile import surface_height
from witnessmark.reach.floor import floors_in_order, reachable_floor
from witnessmark.reach.scene import Scene, Spindle

SEEDS = st.integers(0, 2**31)
KINDS = st.sampled_from(["flat", "ball", "bull", "v"])


@settings(max_examples=25, deadline=None)
@given(SEEDS, KINDS, st.floats(0, 1.5), st.floats(0, 1.5))
def test_floor_is_never_below_the_piece_and_its_allowance(seed: int, kind: str, wall_mm: float, up_mm: float) -> None:
    """Wood is left at least as high as the piece within the wall allowance, plus the floor allowance."""
    scene = hilly_scene(seed)
    floor = reachable_floor(scene, spindle(kind=kind, stickout_mm=34.0), wall_mm, up_mm).floor
    guarded = disc_max(scene.piece_top, scene.grid, wall_mm) + np.float32(up_mm)
    wood = np.isfinite(scene.top)
    assert (floor >= np.minimum(scene.top, guarded) - 1e-4)[wood].all()
    assert np.isneginf(floor[~wood]).all()


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.floats(20, 45), st.floats(0, 6), st.floats(0, 10), st.floats(0, 10), st.floats(0, 30))
def test_larger_assembly_never_gets_deeper(
    seed: int, stickout_mm: float, shorter_mm: float, nut_mm: float, shank_mm: float, nose_mm: float
) -> None:
    """A shorter stick-out, or a wider nut, shank or nose, leaves the floor where it was or higher."""
    scene = hilly_scene(seed)
    window = (5.0, -50.0, 50.0, 60.0)
    slim = spindle(stickout_mm=stickout_mm, flutes_mm=12.0, window_mm=window)
    stout = spindle(
        stickout_mm=stickout_mm - shorter_mm,
        flutes_mm=12.0,
        nut_mm=(20 + nut_mm, 20),
        nose_mm=65 + nose_mm,
        shank_mm=6 + shank_mm,
        window_mm=window,
    )
    assert (reachable_floor(scene, stout).floor >= reachable_floor(scene, slim).floor - 1e-4)[scene.top > 0].all()


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.tuples(*[st.floats(0, 15)] * 4), st.floats(0, 20), st.floats(0, 20))
def test_larger_window_never_raises_the_floor(
    seed: int, more_mm: tuple[float, float, float, float], lower_mm: float, higher_mm: float
) -> None:
    """More travel in x, y or z leaves the floor where it was or lower."""
    scene = hilly_scene(seed)
    near = spindle(stickout_mm=25.0, window_mm=(18.0, 14.0, 44.0, 33.0), lowest_tip_mm=20.0, highest_tip_mm=40.0)
    x0, y0, x1, y1 = near.window_mm
    far = replace(
        near,
        window_mm=(x0 - more_mm[0], y0 - more_mm[1], x1 + more_mm[2], y1 + more_mm[3]),
        lowest_tip_mm=20.0 - lower_mm,
        highest_tip_mm=40.0 + higher_mm,
    )
    assert (reachable_floor(scene, far).floor <= reachable_floor(scene, near).floor + 1e-4)[scene.top > 0].all()


def structure(bit: Spindle, pitch_mm: float, shift_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Footprint and -b(max(0, d - shift)) out to R + shift, for scipy."""
    reach = math.floor((bit.radius_mm + shift_mm) / pitch_mm + 1e-9)
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    d = np.hypot(x, y) * pitch_mm
    at = np.clip(d - shift_mm, 0, bit.radius_mm)
    heights = np.array([[surface_height(v, bit.profile) for v in row] for row in at])
    return d <= bit.radius_mm + shift_mm + 1e-9, -heights


@pytest.mark.parametrize("kind", ["flat", "ball", "bull", "v"])
@pytest.mark.parametrize("seed", [2, 77])
def test_endless_machine_reaches_the_closing_of_the_piece(kind: str, seed: int) -> None:
    """With nothing in the way the floor is min(stock, closing of the piece by the cutter), by scipy.ndimage."""
    scene = hilly_scene(seed)
    long_bit = spindle(kind=kind, stickout_mm=1000.0, flutes_mm=900.0)
    floor = reachable_floor(scene, long_bit).floor
    grown, above = structure(long_bit, scene.grid.pitch_mm, scene.grid.reach_mm)
    slim, below = structure(long_bit, scene.grid.pitch_mm, -scene.grid.reach_mm)
    margin = 12
    piece = np.pad(np.maximum(scene.piece_top, np.float32(-1e4)), margin, constant_values=-1e4)
    tips = ndimage.grey_dilation(piece, footprint=grown, structure=above, mode="nearest")
    closed = -ndimage.grey_dilation(-np.maximum(tips, 0.0), footprint=slim, structure=below, mode="nearest")
    expected = np.minimum(scene.top, closed[margin:-margin, margin:-margin])
    border = math.ceil(long_bit.radius_mm / scene.grid.pitch_mm) + 1
    inner = (slice(border, -border), slice(border, -border))
    wood = np.isfinite(scene.top[inner])
    np.testing.assert_allclose(floor[inner][wood], expected[inner][wood], atol=1e-4)


def test_closing_converges_on_the_closed_form_as_the_grid_gets_finer() -> None:
    """Between two walls nearer than the cutter nothing is cut; in a wider slot the cut stops short by the pitch."""
    for pitch_mm in (1.0, 0.5, 0.25):
        scene = block_scene(pitch_mm, (60.0, 40.0), 30.0)
        x = scene.grid.x_mm[None, :] + 0 * scene.grid.y_mm[:, None]
        piece = np.where((x < 10) | ((x > 15) & (x < 25)) | (x > 40), np.float32(30), np.float32(-np.inf))
        floor = reachable_floor(replace(scene, piece_top=piece.astype(np.float32)), spindle(stickout_mm=80)).floor
        row = floor[floor.shape[0] // 2]
        centres = scene.grid.x_mm
        assert (row[(centres > 10) & (centres < 15)] == 30.0).all(), "5 mm slot, 6 mm cutter"
        slot = centres[row == 0.0]
        assert 25.0 <= slot.min() - pitch_mm / 2 <= 25.0 + 3 * pitch_mm
        assert 40.0 - 3 * pitch_mm <= slot.max() + pitch_mm / 2 <= 40.0


@pytest.mark.parametrize("least_mm", [45.0, 20.0, 10.0, 6.0])
def test_sweeps_are_bounded_by_height_over_the_lowest_underside(least_mm: float) -> None:
    """The fixed point takes at most ceil(H / a) + 1 sweeps, and terraces near the edge of travel."""
    height_mm = 62.0
    scene = block_scene(1.0, (250.0, 60.0), height_mm)
    bit = spindle(stickout_mm=least_mm, flutes_mm=least_mm, window_mm=(-50.0, -50.0, 190.0, 110.0))
    floor = reachable_floor(scene, bit)
    assert floor.sweeps <= math.ceil(height_mm / least_mm) + 1
    row = floor.floor[30]
    assert row[20] == 0.0
    assert (np.diff(row[20:]) >= 0).all(), "rising towards the edge of travel"
    assert row[210] == height_mm


def test_edge_of_travel_is_terraced_by_the_closed_form() -> None:
    """Beside wood out of travel the nut stops the cutter at the wood's height less the stick-out.

    Window to x = 90: the cutter takes wood up to x = 93; within the nut's radius of there the tip can only go to
    62 - 45 = 17; farther than that from the uncut wood it goes right down.
    """
    pitch_mm = 0.5
    scene = block_scene(pitch_mm, (150.0, 60.0), 62.0)
    bit = spindle(nose_mm=40.0, window_mm=(-50.0, -50.0, 90.0, 110.0))
    row = reachable_floor(scene, bit).floor[60]
    x = scene.grid.x_mm
    slack_mm = 2 * scene.grid.reach_mm + pitch_mm
    assert (row[x < 93.0 - 10.0 + 3.0 - slack_mm] == 0.0).all()
    assert (row[(x > 93.0 - 10.0 + 3.0) & (x < 93.0 - slack_mm)] == 17.0).all()
    assert (row[x > 93.0] == 62.0).all()


def test_shank_as_wide_as_the_cutter_follows_it_down_but_a_wider_one_does_not() -> None:
    """Beside a wall higher than the flutes a 6 mm shank passes where the 6 mm cutter did; a 12 mm shank does not.

    Wall at x = 20, 50 high; flutes 20. The wide shank stops the tip at 30 within 6 of the wall, at 10 within 6 of
    the ledge so left, and so on: ledges 3 wide (6 less the cutter's 3), 20 apart.
    """
    scene = block_scene(0.5, (60.0, 40.0), 50.0)
    x = scene.grid.x_mm
    piece = np.where(x < 20, np.float32(50), np.float32(-np.inf)) + scene.grid.full(0.0)
    walled = replace(scene, piece_top=piece.astype(np.float32))
    same = reachable_floor(walled, spindle(flutes_mm=20.0, stickout_mm=60.0)).floor[40]
    wider = reachable_floor(walled, spindle(flutes_mm=20.0, stickout_mm=60.0, shank_mm=12.0)).floor[40]
    slack_mm = 2 * scene.grid.reach_mm + 0.5
    assert (same[x > 20 + slack_mm] == 0.0).all()
    assert (wider[(x > 20 + slack_mm) & (x < 23)] == 30.0).all()
    assert (wider[(x > 23 + 2 * slack_mm) & (x < 26)] == 10.0).all()
    assert (wider[x > 26 + 3 * slack_mm] == 0.0).all()


def test_tip_stays_within_travel_of_z_and_off_hardware() -> None:
    """The floor is never below the lowest tip; tips beyond the top of Z do not count; clamps keep their distance."""
    scene = block_scene(1.0, (60.0, 40.0), 30.0)
    assert reachable_floor(scene, spindle(lowest_tip_mm=8.0)).floor.min() == 8.0
    assert (reachable_floor(scene, spindle(lowest_tip_mm=8.0, highest_tip_mm=7.0)).floor == 30.0).all()
    clamp = scene.grid.full(-np.inf)
    clamp[18:22, 28:32] = 45.0
    floor = reachable_floor(replace(scene, fixed=clamp), spindle(stickout_mm=40.0)).floor
    x, y = np.meshgrid(scene.grid.x_mm, scene.grid.y_mm)
    away_mm = np.hypot(np.maximum(abs(x - 30) - 2, 0), np.maximum(abs(y - 20) - 2, 0))
    near = away_mm < 1.0
    assert (floor[near] == 30.0).all(), "no cutting under or into the clamp"
    assert (floor[(away_mm > 13.5)] == 0.0).all()
    assert (floor[(away_mm > 4) & (away_mm < 6)] >= 5.0 - 1e-4).all(), "the nut passes over the clamp at 45 - 40"


def test_second_cutter_starts_from_what_the_first_leaves() -> None:
    """A short 3 mm cutter reaches the foot of a slot only if a long cutter has opened the slot's mouth first."""
    scene = block_scene(0.5, (60.0, 40.0), 40.0)
    x = scene.grid.x_mm[None, :] + 0 * scene.grid.y_mm[:, None]
    slot = np.where(abs(x - 30) < 2.6, np.float32(10), np.float32(25)).astype(np.float32)
    scene = replace(scene, piece_top=slot)
    fine = spindle(diameter_mm=3.0, flutes_mm=16.0, stickout_mm=30.0, shank_mm=6.0)
    alone = reachable_floor(scene, fine).floor
    coarse = spindle(diameter_mm=8.0, stickout_mm=60.0, flutes_mm=50.0)
    both = floors_in_order(scene, [coarse, fine])
    middle = (slice(10, -10), np.flatnonzero(abs(scene.grid.x_mm - 30) < 0.6))
    assert (both[0].floor[middle] == 25.0).all()
    assert (both[1].floor[middle] == 10.0).all()
    assert (both[1].floor <= alone + 1e-4).all()


def test_moving_the_scene_moves_the_floor() -> None:
    """Scene and window mirrored together give the mirrored floor."""
    scene = hilly_scene(5)
    bit = spindle(stickout_mm=22.0, window_mm=(10.0, 2.0, 41.0, 39.0))
    turned = Scene(scene.grid.mirrored_x(), scene.top[:, ::-1].copy(), scene.piece_top[:, ::-1].copy())
    there = replace(bit, window_mm=(-41.0, 2.0, -10.0, 39.0))
    assert np.array_equal(reachable_floor(turned, there).floor, reachable_floor(scene, bit).floor[:, ::-1])
