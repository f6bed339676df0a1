"""Many places with wood left on a floor: a sample may fail a proof, but never pass it."""

import numpy as np
import pytest

from witnessmark.proof import end
from witnessmark.proof.bridges import BridgeWood
from witnessmark.proof.floors import FloorFaults

ALLOWED_MM, COUNT = 0.1, 3 * end.MOST_LOOKED_AT


class Judge:
    """Every place has half a millimetre of wood before it on the level."""

    def wood_before(self, at_mm):
        return np.full(len(at_mm), 0.5)


class Easing:
    """No cutter could take that much, but at the places named."""

    ups = (1,)

    def __init__(self, avoidable):
        self._avoidable, self.looked_at = avoidable, 0

    def unavoidable(self, at_mm, _lean, _shy_mm):
        self.looked_at += len(at_mm)
        return np.where(np.isin(at_mm[:, 0], self._avoidable), 0.0, 0.5), np.full(len(at_mm), 3.0)


def faults():
    at = np.column_stack([np.arange(COUNT, dtype=float), np.zeros(COUNT), np.zeros(COUNT)])
    return FloorFaults(at, np.linspace(2.0, 0.2, COUNT))


def left_with(avoidable):
    easing = Easing(avoidable)
    left = end._all_floor_left(faults(), Judge(), easing, ALLOWED_MM, BridgeWood((), 3.0, 0.0))
    return left, easing


@pytest.mark.parametrize("place", [0, 1, COUNT // 2, COUNT // 2 + 1, COUNT - 2, COUNT - 1])
def test_one_place_at_fault_among_thousands_that_are_not_is_found(place):
    left, _ = left_with([float(place)])
    assert left.at_mm[left.eased_mm == 0][:, 0].tolist() == [float(place)]


def test_where_a_sample_fails_no_more_is_looked_at():
    left, easing = left_with(list(np.arange(COUNT, dtype=float)))
    assert (left.eased_mm == 0).all()
    assert easing.looked_at <= end.MOST_LOOKED_AT + 1
