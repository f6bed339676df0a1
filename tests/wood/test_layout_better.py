"""Layouts made better: all sections of a few parts, cuts that hold for every layout, and parts laid anew."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import LinearConstraint, linprog, milp
from scipy.sparse import csc_array
from sharing_out import partitions

from witnessmark.job.boards import Board, Sawing
from witnessmark.wood.layout.branch import branched
from witnessmark.wood.layout.cut import cost_of, cut_of, saw_of, state_of, take, tidy
from witnessmark.wood.layout.cuts import violated
from witnessmark.wood.layout.dive import dived
from witnessmark.wood.layout.few import _Pool, exact
from witnessmark.wood.layout.highs import Growing, integers
from witnessmark.wood.layout.master import Choice, generate
from witnessmark.wood.layout.moves import climbed
from witnessmark.wood.layout.parts import CutPart, clear_areas, spread
from witnessmark.wood.layout.program import Count, Pricing, Program, Relaxed
from witnessmark.wood.layout.solve import lay_out
from witnessmark.wood.layout.subsets import FAR, narrowest

WOOD = "cherry, black"


@given(st.lists(st.tuples(st.integers(50, 400), st.integers(20, 90)), min_size=1, max_size=5), st.integers(0, 5))
@settings(max_examples=40, deadline=None)
def test_the_narrowest_section_is_what_trying_every_share_of_lanes_finds(sizes, kerf):
    lengths, widths = (np.array(v, dtype=np.int64) for v in zip(*sizes))
    need, longest = narrowest(lengths, widths, kerf)
    for mask in range(1, 1 << len(sizes)):
        items = tuple(i for i in range(len(sizes)) if mask >> i & 1)
        most = max(lengths[i] for i in items)
        widest = [
            sum(max(widths[i] for i in lane) + kerf for lane in lanes)
            for lanes in partitions(items)
            if all(sum(lengths[i] + kerf for i in lane) - kerf <= most for lane in lanes)
        ]
        assert longest[mask] == most
        assert need[mask] == min(widest, default=FAR)


def random_pile(seed: int, parts: int, boards: int) -> Program:
    rng = np.random.default_rng(seed)
    wanted = [
        CutPart(f"p{k}", float(rng.integers(150, 700)), float(rng.integers(35, 130)), 20.0, WOOD)
        for k in range(parts)
    ]
    pile = [
        Board(
            name=f"b{k}",
            length_mm=float(rng.integers(900, 1600)),
            width_mm=float(rng.integers(120, 260)),
            thickness_mm=25.0,
            price=float(rng.integers(15, 45)),
        )
        for k in range(boards)
    ]
    return Program(wanted, clear_areas(pile, Sawing()), 4)


def bounded(program: Program) -> float:
    return generate(program, program.wanted, program.rooms, time.monotonic() + 60.0)[0]


@pytest.mark.parametrize("seed", range(6))
def test_cuts_lift_the_bound_and_never_above_the_best_layout(seed):
    program = random_pile(seed, 9, 4)
    best = exact(program)
    assert best is not None
    bound = bounded(program)
    assert bound <= cost_of(program, best) + 1e-6
    at = program.relaxed(program.wanted, program.rooms)
    for _ in range(5):
        more = violated(program.holds()[: len(at.often)], at.often, set(program.cuts))
        if not more:
            break
        program.cut(more)
        tighter, at = generate(program, program.wanted, program.rooms, time.monotonic() + 60.0, cut=True)
        assert bound - 1e-6 <= tighter <= cost_of(program, best) + 1e-6
        bound = tighter


@pytest.mark.parametrize("seed", range(6))
def test_a_bound_by_branching_is_tighter_and_never_above_the_best_layout(seed):
    """With time enough it is the best layout's cost, or very near (what parts lie together is not branched on)."""
    program = random_pile(seed, 9, 4)
    best = exact(program)
    assert best is not None
    least = cost_of(program, best)
    bounds = [bounded(program)]
    cut_too = program.again()

    def told(bound: float) -> bool:
        bounds.append(bound)
        return len(bounds) > 60

    branched(cut_too, time.monotonic() + 20.0, told)
    assert np.all(np.diff(bounds) >= -1e-6)
    assert bounds[0] < bounds[-1] <= least + 1e-6
    assert least - bounds[-1] < 0.5 * (least - bounds[0]) + 1e-9


def test_a_count_may_want_sections_that_were_not_found_yet():
    """One part, by the program from the cheap board; at least one section of the dear one: it is what that costs."""
    boards = [
        Board(name=name, length_mm=900.0, width_mm=100.0, thickness_mm=25.0, price=price)
        for name, price in (("cheap", 9.0), ("dear", 27.0))
    ]
    program = Program([CutPart("p", 400.0, 80.0, 20.0, WOOD)], clear_areas(boards, Sawing(end_mm=0, edge_mm=0)), 4)
    cheap = bounded(program)
    assert cheap == pytest.approx(9.0 * 404 / 900, rel=1e-3)
    dear = next(k for k, kind in enumerate(program.kinds) if program.price[k] == max(program.price))
    one = Count(dear, 0)
    program.count(one)
    rooms, until = program.rooms, time.monotonic() + 60.0
    forced, _ = generate(program, program.wanted, rooms, until, limits={one: (1.0, np.inf)})
    assert forced == pytest.approx(3 * cheap, rel=1e-3)
    assert generate(program, program.wanted, rooms, until, limits={one: (-np.inf, 0.0)})[0] == pytest.approx(cheap)
    assert generate(program, program.wanted, rooms, until, limits={one: (9.0, np.inf)})[0] > 10 * forced  # no room


@pytest.mark.parametrize("kerf", [0, 3])
def test_a_part_as_long_as_the_board_is_laid_and_bounded(kerf):
    parts = [CutPart("p", 900.0, 80.0, 20.0, WOOD), *(CutPart(f"q{k}", 150.0, 45.0, 20.0, WOOD) for k in range(12))]
    board = Board(name="b", length_mm=900.0, width_mm=180.0, thickness_mm=25.0, price=9.0, count=2)
    layout = lay_out(parts, clear_areas(spread([board]), Sawing(kerf_mm=kerf, end_mm=0, edge_mm=0)), kerf, 2.0)
    assert not layout.left_over
    assert layout.bound <= layout.cost <= 1.6 * layout.bound


@given(st.integers(0, 1000))
@settings(max_examples=15, deadline=None)
def test_moving_parts_about_finds_nothing_cheaper_than_the_best_layout(seed):
    """What is found by chance is of the kind that the bound is of."""
    program = random_pile(seed, 8, 3)
    best = exact(program)
    assert best is not None
    state = state_of(program, tidy(program, []))
    cost, _ = climbed(saw_of(program), state, cost_of(program, tidy(program, [])), 20, seed)
    keeps_its_room(program, cut_of(program, state))
    assert cost >= cost_of(program, best) - 1e-6


def test_of_a_section_whose_longest_part_is_not_wanted_only_what_fits_is_taken():
    """A lane of two parts, 290 and 200 long, beside a part of 500 that is not wanted any more."""
    parts = [CutPart(f"p{k}", length, 50.0, 20.0, WOOD) for k, length in enumerate((500.0, 290.0, 200.0))]
    board = Board(name="b", length_mm=900.0, width_mm=200.0, thickness_mm=25.0, price=10.0)
    program = Program(parts, clear_areas([board], Sawing()), 4)
    section = program.section_of(0, [[0], [1, 2]])
    wanted = np.array([0, 1, 1])
    taken = take(program, section, wanted)
    assert taken == program.section_of(0, [[1]])
    assert wanted.tolist() == [0, 0, 1]
    assert take(program, section, np.array([0, 0, 0])) is None


def test_some_cuts_are_found_where_three_parts_are_shared_by_halves():
    """Three sections of two parts each, used by half: what no layout can do."""
    holds = np.array([[1.0, 1.0, 0.0], [0.0, 1.0, 1.0], [1.0, 0.0, 1.0]])
    assert violated(holds, np.array([0.5, 0.5, 0.5]), set()) == [(0, 1, 2)]
    assert violated(holds, np.array([0.5, 0.5, 0.5]), {(0, 1, 2)}) == []
    assert violated(holds, np.array([1.0, 0.0, 0.0]), set()) == []


@pytest.mark.parametrize("seed", range(8))
def test_the_best_section_with_fines_is_what_trying_every_set_of_parts_finds(seed):
    program = random_pile(seed, 9, 3)
    rng = np.random.default_rng(seed + 100)
    cuts = [tuple(sorted(rng.permutation(9)[:3].tolist())) for _ in range(10)]
    program.cut(cuts)
    worth, rent = rng.uniform(4.0, 16.0, 9), rng.uniform(0.0, 0.003, len(program.kinds))
    fines = rng.uniform(0.0, 3.0, len(cuts))
    charge = np.zeros((len(program.kinds), max(program.room) + 1))
    at = Relaxed(0.0, np.zeros(0), worth, rent, fines, charge)
    pool = _Pool.of(program, list(range(9)), list(program.room))
    best = np.zeros(len(program.kinds))
    for mask, area, length, cost in zip(pool.mask.tolist(), pool.area.tolist(), pool.length.tolist(), pool.cost):
        parts, kind = [k for k in range(9) if mask >> k & 1], program.kind_of[area]
        paid = sum(fine for fine, cut in zip(fines, cuts) if len({*cut} & {*parts}) >= 2)
        best[kind] = max(best[kind], worth[parts].sum() - cost - rent[kind] * length - paid)
    assert best.any()
    for kind in range(len(program.kinds)):
        pricing = Pricing.of(program, kind, program.wanted, at)
        found = pricing.best(pricing.order)[1] if pricing else 0.0
        assert found == pytest.approx(best[kind], abs=1e-9)


def keeps_its_room(program: Program, cut) -> None:
    """Every part once, no section too wide, no board too short."""
    parts = [program.forms[i].part for section, _ in cut.sawn for lane in section.lanes for i in lane]
    left = [program.forms[i].part for i in cut.missing]
    counts = np.bincount(parts + left, minlength=len(program.parts))
    assert counts.tolist() == program.wanted.tolist()
    used: dict[int, int] = {}
    for section, area in cut.sawn:
        used[area] = used.get(area, 0) + section.length + program.kerf
        wide = sum(max(program.forms[i].width for i in lane) + program.kerf for lane in section.lanes) - program.kerf
        assert wide <= program.kinds[section.kind][0]
        assert section.length == max(program.forms[i].length for lane in section.lanes for i in lane)
        assert all(program.lane_length(lane) <= section.length for lane in section.lanes)
    assert all(length <= program.room[area] for area, length in used.items())


@pytest.mark.parametrize("seed", [11, 12])
def test_parts_moved_about_never_cost_more_and_each_is_sawn_once(seed):
    program = random_pile(seed, 24, 8)
    bound = bounded(program)
    choice = Choice.of(program, program.relaxed(program.wanted, program.rooms))
    assert choice is not None
    start = tidy(program, choice.solved(0.5))
    state = state_of(program, start)
    cost, _ = climbed(saw_of(program), state, cost_of(program, start), 20, seed)
    cut = cut_of(program, state)
    keeps_its_room(program, cut)
    assert cost == pytest.approx(cost_of(program, cut))
    assert bound - 1e-6 <= cost <= cost_of(program, start) + 1e-6


@given(st.integers(0, 1000))
@settings(max_examples=10, deadline=None)
def test_from_nothing_parts_come_to_lie_on_boards_with_room(seed):
    """Parts that may be turned, some of them several times; what a few tries find is a layout."""
    rng = np.random.default_rng(seed)
    wanted = [
        CutPart(
            f"p{k}", float(rng.integers(80, 400)), float(rng.integers(35, 130)), 20.0, WOOD,
            int(rng.integers(1, 4)), bool(rng.integers(2)),
        )
        for k in range(5)
    ]  # fmt: skip
    pile = [
        Board(name=f"b{k}", length_mm=900.0, width_mm=float(rng.integers(100, 200)), thickness_mm=25.0, price=10.0)
        for k in range(3)
    ]
    program = Program(wanted, clear_areas(pile, Sawing()), 4)
    start = tidy(program, [])
    state = state_of(program, start)
    cost, _ = climbed(saw_of(program), state, cost_of(program, start), 5, seed)
    cut = cut_of(program, state)
    keeps_its_room(program, cut)
    assert cost == pytest.approx(cost_of(program, cut))
    assert cost < cost_of(program, start)


def test_a_layout_from_the_program_holds_every_part_there_is_room_for():
    program = random_pile(13, 24, 8)
    bound = bounded(program)
    cut = dived(program, np.random.default_rng(1), time.monotonic() + 60.0)
    keeps_its_room(program, cut)
    assert not cut.missing
    assert bound - 1e-6 <= cost_of(program, cut) <= 1.4 * bound


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_a_program_that_grows_is_solved_as_one_that_was_whole_from_the_start(seed):
    """Against scipy's linprog on the same program (a general reference library)."""
    rng = np.random.default_rng(seed)
    matrix, cost = rng.integers(0, 3, (6, 25)).astype(float), rng.random(25) + 0.2
    high = np.concatenate([np.full(4, np.inf), rng.integers(5, 9, 2).astype(float)])
    low = np.concatenate([np.ones(4), np.full(2, -np.inf)])
    growing = Growing(low, high)
    for row in range(4):
        growing.add(50.0, [row], [1.0])
    for k in range(25):
        rows = np.flatnonzero(matrix[:, k]).tolist()
        growing.add(float(cost[k]), rows, matrix[rows, k].tolist())
        if k % 7 == 0:
            growing.solve()
    found, values, dual = growing.solve()
    every = np.column_stack([np.vstack([np.eye(4), np.zeros((2, 4))]), matrix])
    costs = np.concatenate([np.full(4, 50.0), cost])
    whole = linprog(
        costs, A_ub=np.vstack([-every[:4], every[4:]]), b_ub=np.concatenate([-low[:4], high[4:]]), method="highs"
    )
    assert found == pytest.approx(whole.fun)
    assert costs @ values == pytest.approx(found)
    assert np.all(costs - every.T @ dual >= -1e-7)  # no column pays any more


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_whole_numbers_cost_what_scipy_finds(seed):
    rng = np.random.default_rng(seed)
    matrix, cost = rng.integers(0, 3, (5, 20)).astype(float), rng.random(20) + 0.1
    low, high = np.concatenate([np.ones(3), np.full(2, -np.inf)]), np.array([np.inf] * 3 + [6.0, 6.0])
    found = integers(cost, csc_array(matrix), low, high, 20.0, 0.0)
    whole = milp(cost, constraints=LinearConstraint(matrix, low, high), integrality=np.ones(20))
    if whole.x is None:
        assert found is None
    else:
        assert found is not None
        assert found[1]
        assert float(cost @ found[0]) == pytest.approx(whole.fun)
