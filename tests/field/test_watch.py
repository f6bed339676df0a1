"""The whole assembly watched in time: contact found where it is, and nowhere else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_watch import watch_reference

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.field.sweep import remove
from witnessmark.field.watch import TOUCH_MM, first_contact, remove_and_watch

FLAT = profile_vector("flat", 6.0)
BALL = profile_vector("ball", 6.0)
SHANK_NUT = np.array([[3.0, 12.0, 20.0], [8.0, 20.0, 40.0]])
STOUT = np.array([[4.5, 7.0, 12.0], [8.0, 12.0, 40.0]])  # a shank wider than the cutter, and a nut close above
GRID = Grid(0.0, 0.0, 0.5, 120, 90)


def line(start, end):
    return [*start, *end, 0.0, 0.0, 0.0]


def chain(points):
    points = np.asarray(points, dtype=np.float64)
    return np.hstack([points[:-1], points[1:], np.zeros((len(points) - 1, 3))])


def split(move, parts):
    """A move in equal parts that join exactly."""
    return chain(np.asarray(move[:3]) + np.linspace(0, 1, parts + 1)[:, None] * np.subtract(move[3:6], move[:3]))


def blocky(rng, grid):
    """Wood with steps in it: low terraces, and one in eight stands tall."""
    shape = (grid.ny // 9 + 1, grid.nx // 9 + 1)
    coarse = np.where(rng.random(shape) < 0.125, rng.uniform(6, 14, shape), rng.uniform(-6, 3, shape))
    return np.kron(coarse, np.ones((9, 9)))[: grid.ny, : grid.nx].astype(np.float32)


def random_walk(rng, count):
    points = np.array([30.0, 22.0, 2.0]) + np.cumsum(rng.normal(0, [5, 5, 2.5], (count + 1, 3)), 0)
    points[2, :2] = points[1, :2]  # one upright move
    points[4, 2] = points[3, 2]  # one level move
    return np.clip(points, [5, 5, -9], [55, 40, 8])


@pytest.mark.parametrize(
    "profile", [FLAT, BALL, profile_vector("bull", 6.0, 1.5), profile_vector("v", 8.0, 0.0, 90.0)]
)
def test_contacts_and_heights_agree_with_stepping_through_time(profile):
    """The deepest contact of each move is that of a cutter stood at places 0.02 mm apart, within that step's rise."""
    contacts = np.zeros(0)
    for seed in range(3):
        rng = np.random.default_rng(seed)
        wood = blocky(rng, GRID)
        moves = chain(random_walk(rng, 8))
        moves = np.vstack([moves, [40, 20, -2, 20, 20, -2, 30, 20, 1], [20, 20, -3, 30, 30, -3, 30, 20, 2]])
        expected, deepest = watch_reference(wood, GRID, moves, profile, STOUT)
        result = wood.copy()
        watch = remove_and_watch(result, GRID, moves, profile, 12.0, STOUT)
        theirs = np.where(deepest > TOUCH_MM, deepest, 0.0)
        run = np.hypot(*(moves[:, 3:5] - moves[:, :2]).T)
        steepness = np.abs(moves[:, 5] - moves[:, 2]) / np.maximum(1e-9, run)
        within = 0.02 * np.minimum(1.0, steepness) + 1e-4
        close_call = np.abs(deepest - TOUCH_MM) <= within  # stepping cannot say on which side of the tolerance
        assert ((np.abs(watch.contact_mm - theirs) <= within) | close_call).all()
        assert (result <= expected + 1e-4).all()  # stepped cutting leaves ridges; the sweep's own tests are sharper
        contacts = np.append(contacts, theirs)
    assert (contacts > 0.0).sum() > 8
    assert (contacts == 0.0).sum() > 8


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), parts=st.integers(2, 40), kind=st.sampled_from(["flat", "ball", "bull", "v"]))
def test_splitting_moves_changes_no_verdict(seed, parts, kind):
    """Every move in pieces: same heights, same deepest contact, same step, same place, same height met."""
    rng = np.random.default_rng(seed)
    profile = profile_vector(kind, 6.0, 1.5, 90.0)
    wood = blocky(rng, GRID)
    moves = chain(random_walk(rng, 5))
    whole, pieces = wood.copy(), wood.copy()
    one = remove_and_watch(whole, GRID, moves, profile, 12.0, STOUT)
    many = remove_and_watch(pieces, GRID, np.vstack([split(move, parts) for move in moves]), profile, 12.0, STOUT)
    assert np.abs(whole - pieces).max() < 1e-3
    by = many.contact_mm.reshape(-1, parts)
    assert np.abs(one.contact_mm - by.max(axis=1)).max() < 1e-3
    upright = (moves[:, :2] == moves[:, 3:5]).all(axis=1)
    assert np.abs(one.engaged_mm - many.engaged_mm.reshape(-1, parts).max(axis=1))[~upright].max() < 2e-3
    assert (one.engaged_mm[1:][upright[1:]] == 0.0).all()


@pytest.mark.parametrize("parts", [1, 2, 400])
def test_a_rib_ahead_of_the_nut_is_found(parts):
    """One long move towards a rib that the cutter will reach later: the nut meets it first, split or not."""
    grid = Grid(0.0, 0.0, 0.25, 480, 160)
    wood = grid.full(0.0)
    wood[72:88, 320:340] = 18.0  # a rib 5 mm long that the cutter, 6 mm wide, will take away whole
    moves = split(line((10.0, 20.0, -4.0), (110.0, 20.0, -4.0)), parts)
    watch = remove_and_watch(wood, grid, moves, FLAT, 12.0, SHANK_NUT)
    assert watch.contact_mm.max() == pytest.approx(18.0 - (-4.0 + 20.0), abs=1e-5)
    hit = np.flatnonzero(watch.contact_step == 1)
    assert len(hit) > 0
    assert (watch.contact_xyz[hit, 0] > 80.0).all()
    assert (watch.contact_xyz[hit, 0] < 85.0).all()
    assert watch.contact_xyz[hit[0], 2] == pytest.approx(16.0)
    if parts == 400:
        # the nut (less the graze) comes to the rib's first cell near the axis; the cutter to its last one beside it
        first = 80.125 - np.sqrt(7.98**2 - 0.125**2)
        last = 84.875 - np.sqrt(3.0**2 - 1.875**2)
        assert hit[0] == int((first - 10) * 4)
        assert hit[-1] == int((last - 10) * 4)


def test_wood_under_the_nut_that_is_lower_than_it_is_no_contact():
    """A rib 0.1 mm below the nut's underside is passed; 0.1 mm above it is not."""
    for height, contact in ((15.9, False), (16.1, True)):
        wood = GRID.full(0.0)
        wood[:, 60:70] = height
        moves = np.array([line((10.0, 22.0, -4.0), (50.0, 22.0, -4.0))])
        watch = remove_and_watch(wood, GRID, moves, FLAT, 12.0, SHANK_NUT)
        assert (watch.contact_step[0] >= 0) == contact


def test_a_plunge_beside_a_wall_meets_it_by_the_closed_form():
    """A nut of radius 8 going down at 5 mm from a wall touches it as soon as its underside is below the top."""
    wood = GRID.full(0.0)
    wood[:, :40] = 15.0  # wall up to x = 20
    for x, contact in ((25.0, 15.0 - (-8.0 + 20.0)), (28.5, 0.0)):
        watch = remove_and_watch(
            wood.copy(), GRID, np.array([line((x, 22.0, 10.0), (x, 22.0, -8.0))]), FLAT, 12.0, SHANK_NUT
        )
        assert watch.contact_mm[0] == pytest.approx(contact, abs=1e-5)
    assert watch.cut_depth_mm[0] == pytest.approx(8.0, abs=1e-5)


def test_a_shank_as_wide_as_the_cutter_does_not_touch_the_wall_it_follows():
    """Slotting deeper than the flutes: no contact of the equal shank, but wood met above the flutes is told."""
    moves = chain([[10, 22, 5], [10, 22, -15], [50, 22, -15]])
    watch = remove_and_watch(GRID.full(0.0), GRID, moves, FLAT, 12.0, SHANK_NUT[:1])
    assert (watch.contact_step == -1).all()
    assert watch.engaged_mm == pytest.approx([0.0, 15.0], abs=1e-5)
    assert watch.beyond_flutes_mm == pytest.approx([0.0, 3.0], abs=1e-5)


def test_a_shank_wider_than_the_cutter_meets_the_wall():
    """A 3 mm cutter on a 6 mm shank, 12 mm flutes, 15 mm down a slot: the shank is 3 mm into the wood."""
    moves = np.array([line((10.0, 22.0, -15.0), (50.0, 22.0, -15.0))])
    steps = np.array([[3.0, 12.0, 30.0]])
    watch = remove_and_watch(GRID.full(0.0), GRID, moves, profile_vector("flat", 3.0), 12.0, steps)
    assert watch.contact_step[0] == 0
    assert watch.contact_mm[0] == pytest.approx(3.0, abs=1e-5)


def test_wood_left_behind_a_falling_move_is_met_at_its_lowered_height():
    """The tip falls 2 in 1: the nut comes down on a ridge that the cutter has already lowered, by 2 (g - c) - 6."""
    steps = np.array([[8.0, 6.0, 40.0]])
    wood = GRID.full(-90.0)
    ridge = np.abs(GRID.y_mm - 22.0) < 2.5
    wood[ridge, 58:64] = 1.0  # x 29 to 32: further on, or behind, the nut would come down before the cutter
    watch = remove_and_watch(wood, GRID, np.array([line((29.0, 22.0, 0.0), (49.0, 22.0, -40.0))]), FLAT, 40.0, steps)
    beside = np.abs(GRID.y_mm - 22.0)[ridge]
    expected = 2 * (np.sqrt(7.98**2 - beside**2) - np.sqrt((3 + 2e-6) ** 2 - beside**2)) - 6
    assert watch.contact_mm[0] == pytest.approx(expected.max(), abs=1e-4)
    assert watch.contact_xyz[0, 0] < 32.0


def test_a_level_move_never_meets_the_wood_it_has_lowered():
    """The same ridge on the level: the nut passes over what the cutter leaves."""
    wood = GRID.full(-90.0)
    wood[np.abs(GRID.y_mm - 22.0) < 2.5, : int(32 / 0.5)] = 1.0
    move = np.array([line((29.0, 22.0, -4.9), (49.0, 22.0, -4.9))])
    watch = remove_and_watch(wood, GRID, move, FLAT, 40.0, np.array([[8.0, 6.0, 40.0]]))
    assert watch.contact_step[0] == -1


def test_a_rapid_in_the_air_finds_and_cuts_nothing():
    """Above all wood nothing is met, cut or touched, and the heights keep their bits."""
    rng = np.random.default_rng(1)
    wood = blocky(rng, GRID)
    before = wood.copy()
    watch = remove_and_watch(wood, GRID, np.array([line((5, 5, 20.0), (55, 40, 25.0))]), BALL, 12.0, SHANK_NUT)
    assert np.array_equal(wood, before)
    assert watch.contact_step[0] == -1
    assert watch.cut_depth_mm[0] == 0.0
    assert watch.engaged_mm[0] == 0.0


@pytest.mark.parametrize("profile", [FLAT, BALL, profile_vector("tapered_ball", 6.0, 1.0, 20.0)])
def test_neither_threads_nor_where_strips_begin_nor_chains_change_anything(profile):
    """One thread or two, rows added below, order kept or shuffled: the same bits of height, the same verdicts."""
    rng = np.random.default_rng(7)
    tall = Grid(0.0, 0.0, 0.25, 200, 420)
    deep = Grid(0.0, -77 * 0.25, 0.25, 200, 497)
    points = np.array([25.0, 50.0, 0.0]) + rng.uniform(-1, 1, (60, 3)) * [20, 45, 7]
    moves = chain(points)
    wood = blocky(rng, tall)
    results = []
    for threads in (1, 2):
        heights = wood.copy()
        watch = remove_and_watch(heights, tall, moves, profile, 12.0, SHANK_NUT, threads=threads)
        results.append((heights, watch))
    shifted = np.vstack([np.full((77, 200), -np.inf, dtype=np.float32), wood])
    results.append((shifted, remove_and_watch(shifted, deep, moves, profile, 12.0, SHANK_NUT)))
    first = results[0][1]
    for heights, watch in results[1:]:
        assert np.abs(heights[-420:] - results[0][0]).max() < 1e-5
        assert np.array_equal(watch.contact_step, first.contact_step)
        assert np.abs(watch.contact_mm - first.contact_mm).max() < 1e-5
        assert np.abs(watch.cut_depth_mm - first.cut_depth_mm).max() < 1e-3
        assert watch.removed_mm3 == pytest.approx(first.removed_mm3, abs=1e-2)
        gone = np.where(np.isfinite(wood), wood - heights[-420:], 0.0).sum(dtype=np.float64) * 0.25**2
        assert watch.removed_mm3.sum() == pytest.approx(gone, rel=1e-5)
    plain, shuffled = wood.copy(), wood.copy()
    remove(plain, tall, moves, profile, threads=2)
    remove(shuffled, tall, moves[rng.permutation(len(moves))], profile, threads=1)
    assert np.abs(plain - results[0][0]).max() < 2e-3
    assert np.abs(plain - shuffled).max() < 2e-3


def test_hardware_is_met_by_any_part_and_nothing_is_removed():
    """A clamp 30 high: the cutter meets it, the nut passes over a low bolt, the far move touches nothing."""
    tops = GRID.full(-np.inf)
    tops[40:50, 60:70] = 30.0  # x 30..35, y 20..25
    tops[70:74, 20:24] = 8.0  # x 10..12, y 35..37
    before = tops.copy()
    steps = np.array([[3.0, 0.0, 20.0], [8.0, 20.0, 40.0]])
    moves = np.array(
        [
            line((10, 22, -5), (50, 22, -5)),
            line((10, 10, -5), (50, 10, -5)),
            line((5, 31, -5), (20, 31, -5)),
            line((10, 15, 5), (50, 15, 5)),
        ]
    )
    watch = first_contact(tops, GRID, moves, steps)
    assert watch.contact_step.tolist() == [0, -1, -1, 1]
    assert watch.contact_mm[:1] == pytest.approx([35.0])
    assert watch.contact_mm[3] == pytest.approx(5.0)
    assert np.array_equal(tops, before)


def test_a_field_narrower_than_a_vector_works():
    """Fields of fewer columns than a vector has lanes are cut and watched all the same."""
    grid = Grid(0.0, 0.0, 0.5, 7, 40)
    wood, plain = grid.full(0.0), grid.full(0.0)
    moves = np.array([line((1.7, 2.0, -3.0), (1.7, 18.0, -3.0))])
    watch = remove_and_watch(wood, grid, moves, BALL, 12.0, np.array([[8.0, 2.0, 9.0]]))
    remove(plain, grid, moves, BALL)
    assert wood.min() == pytest.approx(-3.0, abs=0.02)
    assert np.abs(wood - plain).max() < 1e-5
    assert watch.contact_mm[0] == pytest.approx(1.0, abs=1e-5)
