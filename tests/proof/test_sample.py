"""Many places under suspicion: a sample may fail a proof, but never pass it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.field.grid import Grid
from witnessmark.proof import floors, walls
from witnessmark.proof.edges import Edges
from witnessmark.proof.floors import FloorFaults, FloorJudge
from witnessmark.proof.left import Left
from witnessmark.proof.sample import looked_at, sample
from witnessmark.proof.walls import Places, WallJudge

COUNT = 5000


def suspects(count=COUNT):
    at = np.column_stack([np.arange(count, dtype=float), np.zeros(count), np.zeros(count)])
    return FloorFaults(at, np.linspace(2.0, 0.2, count))


def found(at_fault, most=1000):
    """What is found where only some rows are at fault, and how many rows were looked at."""
    seen = []

    def look(some):
        seen.append(len(some))
        return some.kept(np.isin(some.at_mm[:, 0], at_fault))

    return looked_at(suspects(), most, FloorFaults.kept, look, lambda some: len(some) > 0), sum(seen)


@pytest.mark.parametrize("place", [0, 1, COUNT // 2, COUNT // 2 + 1, COUNT - 2, COUNT - 1])
def test_one_place_at_fault_among_thousands_that_are_not_is_found(place):
    some, _ = found([float(place)])
    assert some.at_mm[:, 0].tolist() == [float(place)]


def test_where_a_sample_fails_no_more_is_looked_at():
    some, looked = found(np.arange(COUNT, dtype=float))
    assert looked == len(some) <= 1000


@given(count=st.integers(0, 400), most=st.integers(3, 100))
def test_a_sample_is_no_larger_than_asked_for_and_holds_the_worst(count, most):
    by = suspects(count).by_mm
    rows = sample(by, most)
    assert len(np.unique(rows)) == len(rows) <= most
    if count:
        assert np.isin(np.argmax(by), rows)
    if count <= most:
        assert len(rows) == count


def test_a_sliver_at_fault_on_a_floor_full_of_excused_wood_fails(monkeypatch):
    """Half a millimetre is left on a whole floor; all but one cell of it is excused."""
    monkeypatch.setattr(floors, "MOST_FLAGGED", 50)
    floor = np.array([[[0.0, 0, 0], [20, 0, 0], [20, 20, 0]], [[0.0, 0, 0], [20, 20, 0], [0, 20, 0]]])
    grid = Grid.over(0.0, 0.0, 20.0, 20.0, 0.5)
    judge = FloorJudge(1, floor, (), 0.5, 0.05, 0.1)
    for cell in (0, 1, 777, 1598):
        place = np.array([grid.x_mm[cell % grid.nx], grid.y_mm[cell // grid.nx]])

        def excused(faults, place=place):
            bad = np.hypot(*(faults.at_mm[:, :2] - place).T) < 1e-6
            return Left(faults.at_mm, faults.by_mm, np.where(bad, 0.0, 3.0))

        left = judge.judged(np.full(grid.shape, 0.5, dtype=np.float32), grid, excused).left
        assert left.fails
        assert left.at_mm[left.eased_mm == 0][:, :2] == pytest.approx(place[None])


def block_edges(count):
    """The middle of a wall at x = 0, its normal towards -x, as ``count`` edges of 1 mm at one height."""
    y = np.arange(count, dtype=float)
    zero, one = np.zeros(count), np.ones(count)
    return np.column_stack([zero, y, zero, y + 1]), np.column_stack([-one, zero])


def test_one_stretch_at_fault_on_walls_full_of_excused_wood_fails(monkeypatch):
    """A wall that was never cut stands behind its wood for its whole length; all but one stretch is excused."""
    monkeypatch.setattr(walls, "MOST_FLAGGED", 40)
    count = 100
    ends, normals = block_edges(count)
    upright, level = np.zeros(count, dtype=np.int8), np.zeros(count, dtype=np.int64)
    edges = Edges(ends, normals, np.ones(count), upright, level, np.array([5.0]), np.zeros(count, dtype=np.int64))
    monkeypatch.setattr(walls, "wall_edges", lambda *_: edges)
    judge = WallJudge(np.zeros((1, 3, 3)), (), (-10.0, -10.0, 10.0, 110.0), (0.0, 10.0), 0.05, 0.1)
    for bad in (0, 1, 50, 98, 99):

        def excused(places: Places, bad=bad):
            return np.where(np.floor(places.at_mm[:, 1]) == bad, 0.0, 3.0)

        left = judge.judged(np.array([5.0]), excused).left
        assert left.fails
        assert np.unique(np.floor(left.at_mm[left.eased_mm == 0][:, 1])).tolist() == [float(bad)]
    assert not judge.judged(np.array([5.0]), lambda places: np.full(len(places), 3.0)).left.fails
