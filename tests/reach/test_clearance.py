"""The least clearance: what is in the way, what is cut for it, and that it is enough."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reach_scenes import block_scene, hilly_scene, spindle
from scipy import ndimage

from witnessmark.field.grid import Grid, Heights
from witnessmark.reach.clearance import Clearance, least_clearance
from witnessmark.reach.floor import reachable_floor
from witnessmark.reach.order import Want, reach_in_order
from witnessmark.reach.scene import Scene, Spindle
from witnessmark.reach.wanted import wanted_floor, wanted_tips


def slot_tips(scene: Scene, tip_mm: float, x_mm: tuple[float, float], y_mm: float) -> Heights:
    """Tips along one row of cells: a slot."""
    tips = scene.grid.full(np.inf)
    row = int(np.argmin(abs(scene.grid.y_mm - y_mm)))
    tips[row, (scene.grid.x_mm > x_mm[0]) & (scene.grid.x_mm < x_mm[1])] = tip_mm
    return tips


def cleared(scene: Scene, bit: Spindle, wanted: Heights) -> Clearance:
    return least_clearance(scene, bit, reachable_floor(scene, bit), wanted)


def stadium_mm2(length_mm: float, radius_mm: float) -> float:
    return 2 * radius_mm * length_mm + math.pi * radius_mm**2


@pytest.mark.parametrize("pitch_mm", [1.0, 0.5, 0.25])
def test_nut_over_a_slot_needs_a_stadium_of_the_closed_form(pitch_mm: float) -> None:
    """A slot 60 long and 58 deep with 45 stick-out: the nut (r 10) needs 13 depth round it, the nose (65 up) none.

    Wood between the slot's own stadium (r 3) and the nut's (r 10), down to 45 above the tip. On the grid both
    radii are moved by half a cell's diagonal, outwards and inwards; the area may differ by that and one cell.
    """
    scene = block_scene(pitch_mm, (140.0, 80.0), 60.0)
    wanted = slot_tips(scene, 2.0, (40.0, 100.0), 40.0)
    result = cleared(scene, spindle(), wanted)
    exact_mm2 = stadium_mm2(60.0, 10.0) - stadium_mm2(60.0, 3.0)
    slack_mm2 = (2 * 60 + 2 * math.pi * 10) * 2 * (scene.grid.reach_mm + pitch_mm)
    assert exact_mm2 * 13.0 <= result.needed_mm3 <= (exact_mm2 + slack_mm2) * 13.0
    assert result.needed.max() == pytest.approx(13.0, abs=1e-4)
    assert result.volume_mm3 <= 1.05 * result.needed_mm3
    assert not result.unreached.any()
    row, column = (int(np.argmin(abs(c - m))) for c, m in ((scene.grid.y_mm, 40.0), (scene.grid.x_mm, 70.0)))
    width = np.count_nonzero(result.needed[row:, column] > 0) * pitch_mm
    assert 7.0 <= width <= 7.0 + 2 * (scene.grid.reach_mm + pitch_mm)


def test_nut_and_nose_that_stay_above_the_wood_need_nothing() -> None:
    """At 40 deep with 45 stick-out nothing is in the way; one millimetre of nut below the top is found."""
    scene = block_scene(0.5, (140.0, 80.0), 60.0)
    assert cleared(scene, spindle(), slot_tips(scene, 20.0, (40, 100), 40.0)).volume_mm3 == 0.0
    touching = cleared(scene, spindle(), slot_tips(scene, 14.0, (40, 100), 40.0))
    assert touching.needed.max() == pytest.approx(1.0, abs=1e-4)


def test_nose_below_the_top_needs_a_second_terrace() -> None:
    """With 25 stick-out and a 20 nut a slot 58 deep: the nut clears to 27 above the bed, the nose to 47."""
    scene = block_scene(0.5, (220.0, 160.0), 60.0)
    wanted = slot_tips(scene, 2.0, (80.0, 140.0), 80.0)
    result = cleared(scene, spindle(stickout_mm=25.0, flutes_mm=20.0), wanted)
    assert not result.unreached.any()
    row = int(np.argmin(abs(scene.grid.y_mm - 80.0)))
    column = result.left[row:, int(np.argmin(abs(scene.grid.x_mm - 110.0)))]
    away_mm = np.arange(len(column)) * 0.5
    slack_mm = 2 * scene.grid.reach_mm + 1.0
    assert (column[(away_mm > 3 + slack_mm) & (away_mm < 10)] == 27.0).all()
    assert (column[(away_mm > 10 + slack_mm) & (away_mm < 32.5)] == 47.0).all()
    assert (column[away_mm > 32.5 + slack_mm] == 60.0).all()
    exact_mm3 = (stadium_mm2(60, 10) - stadium_mm2(60, 3)) * 33 + (stadium_mm2(60, 32.5) - stadium_mm2(60, 10)) * 13
    assert exact_mm3 <= result.needed_mm3 <= 1.2 * exact_mm3
    assert result.volume_mm3 <= 1.05 * result.needed_mm3


def test_slot_beside_a_wall_clears_only_the_side_away_from_it() -> None:
    """Beside a piece lower than the nut's underside the clearance lies on the waste side and over the piece alike."""
    pitch_mm = 0.5
    scene = block_scene(pitch_mm, (140.0, 80.0), 60.0)
    y = scene.grid.y_mm[:, None] + 0 * scene.grid.x_mm[None, :]
    low_wall = replace(scene, piece_top=np.where(y < 30, np.float32(40), np.float32(-np.inf)).astype(np.float32))
    bit = spindle()
    wanted = wanted_tips(low_wall, bit, 2.0, 1.0, (20.0, 31.0, 120.0, 60.0))
    result = cleared(low_wall, bit, wanted)
    assert not result.unreached.any()
    column = result.needed[:, int(np.argmin(abs(scene.grid.x_mm - 70.0)))]
    assert column.max() == pytest.approx(13.0, abs=1e-4)
    high_wall = replace(scene, piece_top=np.where(y < 30, np.float32(58), np.float32(-np.inf)).astype(np.float32))
    wanted = wanted_tips(high_wall, bit, 2.0, 1.0, (20.0, 31.0, 120.0, 60.0))
    blocked = cleared(high_wall, bit, wanted)
    assert blocked.unreached.any(), "a wall higher than the nut's underside cannot be cleared"
    assert (blocked.left[y < 30] >= 58.0).all()


def in_the_way(scene: Scene, bit: Spindle, tips: Heights, left: Heights) -> Heights:
    """Second implementation: wood above the lowest pass of nut and nose, by scipy."""
    grid = scene.grid
    under = np.full(grid.shape, 1e6)
    for radius_mm, from_mm, _ in bit.steps:
        if radius_mm <= bit.radius_mm + 1e-6:
            continue
        reach = math.floor((radius_mm + grid.reach_mm) / grid.pitch_mm + 1e-9)
        y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
        disc = np.hypot(x, y) * grid.pitch_mm <= radius_mm + grid.reach_mm + 1e-9
        finite = np.where(np.isfinite(tips), tips, 1e6)
        under = np.minimum(under, ndimage.minimum_filter(finite, footprint=disc, mode="constant", cval=1e6) + from_mm)
    return np.where(np.isfinite(left), np.maximum(left - under, 0.0), 0.0)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**31), st.floats(14, 40), st.booleans())
def test_clearance_is_exactly_what_is_in_the_way(seed: int, stickout_mm: float, limited: bool) -> None:
    """Needed depth is the wood above G to 1e-4 mm (scipy); all of it is cut, at most 1.05 of it, and none is left."""
    scene = hilly_scene(seed)
    window = (4.0, 4.0, 47.0, 40.0) if limited else (-100.0, -100.0, 200.0, 200.0)
    bit = spindle(diameter_mm=6.0, stickout_mm=stickout_mm, flutes_mm=12.0, nose_mm=34.0, window_mm=window)
    floor = reachable_floor(scene, bit)
    wanted = wanted_tips(scene, bit, 3.0, 2.0, (8.0, 6.0, 40.0, 36.0))
    result = least_clearance(scene, bit, floor, wanted)
    before = wanted_floor(scene, bit, result.wanted)
    np.testing.assert_allclose(result.needed, in_the_way(scene, bit, result.tips, before), atol=1e-4)
    assert (result.wood >= result.needed - 2e-4).all()
    assert result.volume_mm3 <= 1.05 * result.needed_mm3 + 1e-6
    assert in_the_way(scene, bit, result.tips, result.left).max() <= 2e-4
    assert (result.left >= np.minimum(scene.top, floor.floor) - 2e-4)[np.isfinite(scene.top)].all()
    assert np.array_equal(np.isfinite(wanted), np.isfinite(result.wanted) | result.unreached)


def contact_while_cutting(scene: Scene, bit: Spindle, tips: Heights, finer: int = 4, step_mm: float = 6.0) -> float:
    """Cut the tips level by level on a finer grid with the true cutter; the deepest the assembly enters wood, mm."""
    grid = scene.grid
    fine = Grid(grid.x0_mm, grid.y0_mm, grid.pitch_mm / finer, grid.nx * finer, grid.ny * finer)
    wood = np.kron(scene.top, np.ones((finer, finer))).astype(np.float64)
    x, y = fine.x_mm[None, :], fine.y_mm[:, None]
    deepest = 0.0
    level_mm = float(scene.top.max())
    lowest_mm = float(tips[np.isfinite(tips)].min())
    while level_mm > lowest_mm:
        above_mm, level_mm = level_mm, max(level_mm - step_mm, lowest_mm)
        for j, i in np.argwhere(tips < above_mm - 1e-6):
            tip_mm = max(float(tips[j, i]), level_mm)
            d = np.hypot(x - grid.x_mm[i], y - grid.y_mm[j])
            for radius_mm, from_mm, _ in bit.wide_steps:
                deepest = max(deepest, float((wood[d <= radius_mm] - tip_mm - from_mm).max(initial=0.0)))
            under = d <= bit.radius_mm
            wood[under] = np.minimum(wood[under], tip_mm)
    return deepest


@pytest.mark.parametrize("seed", [3, 5, 17, 20])
def test_levels_from_the_top_down_stay_clear_with_the_clearance_and_not_without(seed: int) -> None:
    """Cutting in descending levels, the true assembly never meets wood; with the clearance left out it does."""
    scene = hilly_scene(seed, 2.0)
    bit = spindle(stickout_mm=22.0, flutes_mm=22.0, nut_mm=(16.0, 10.0), nose_mm=30.0)
    floor = reachable_floor(scene, bit)
    wanted = wanted_tips(scene, bit, 4.0, 2.0, (20.0, 10.0, 44.0, 38.0))
    result = least_clearance(scene, bit, floor, wanted)
    assert np.isfinite(result.tips).sum() > np.isfinite(result.wanted).sum()
    assert contact_while_cutting(scene, bit, result.tips) <= 1e-3
    assert contact_while_cutting(scene, bit, result.wanted) > 1.0


def test_wood_that_is_not_in_the_way_stays() -> None:
    """Far from the slot the blank keeps its full height: it is support."""
    scene = block_scene(1.0, (200.0, 120.0), 60.0)
    result = cleared(scene, spindle(), slot_tips(scene, 2.0, (40.0, 80.0), 40.0))
    x, y = np.meshgrid(scene.grid.x_mm, scene.grid.y_mm)
    far = np.hypot(np.maximum(abs(x - 60) - 20, 0), y - 40) > 10 + 2 * scene.grid.reach_mm + 1.0
    assert (result.left[far] == 60.0).all()


def test_what_the_floor_does_not_allow_is_named_and_not_asked_for() -> None:
    """Tips beyond the window are unreached, take no part, and ask for no clearance."""
    scene = block_scene(1.0, (140.0, 80.0), 60.0)
    bit = spindle(window_mm=(0.0, 0.0, 60.0, 80.0))
    result = cleared(scene, bit, slot_tips(scene, 20.0, (30.0, 100.0), 40.0))
    x = np.broadcast_to(scene.grid.x_mm, scene.grid.shape)
    assert np.array_equal(result.unreached, np.isfinite(slot_tips(scene, 20.0, (60.0, 100.0), 40.0)))
    assert np.isinf(result.tips[x > 60]).all()


def test_ball_cutter_clears_all_that_is_in_its_way() -> None:
    """A ball leaves no wood above G either; it must cut more than a flat cutter to do so."""
    scene = block_scene(0.5, (140.0, 80.0), 60.0)
    wanted = slot_tips(scene, 2.0, (40.0, 100.0), 40.0)
    ball, flat = cleared(scene, spindle(kind="ball"), wanted), cleared(scene, spindle(), wanted)
    assert (ball.wood >= ball.needed - 2e-4).all()
    assert flat.volume_mm3 / flat.needed_mm3 <= 1.05
    assert 1.0 <= ball.volume_mm3 / ball.needed_mm3 <= 1.25


def test_first_cutter_clears_for_the_ones_that_follow() -> None:
    """With a flat cutter first, the ball that follows finds its nut's way free and cuts no clearance itself."""
    scene = block_scene(0.5, (140.0, 80.0), 60.0)
    y = scene.grid.y_mm[:, None] + 0 * scene.grid.x_mm[None, :]
    piece = np.where(y < 30, np.clip(40 - 4 * (y - 25), 0, 40), -np.inf).astype(np.float32)
    scene = replace(scene, piece_top=piece)
    region = (30.0, 28.0, 110.0, 60.0)
    wants = [Want(4.0, 2.0, region, 0.4, 0.4), Want(2.0, 2.0, region)]
    flat, ball = reach_in_order(scene, [spindle(), spindle(kind="ball")], wants)
    assert flat.clearance.volume_mm3 > 0
    assert ball.clearance.volume_mm3 <= 0.01 * flat.clearance.volume_mm3
    assert not ball.clearance.unreached.any()
    assert np.array_equal(ball.before, flat.after)
    (alone,) = reach_in_order(scene, [spindle(kind="ball")], wants[1:])
    assert alone.clearance.volume_mm3 > 10 * ball.clearance.volume_mm3
