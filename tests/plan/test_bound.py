"""The bound on the number of placements."""

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from witnessmark.plan.bound import fewest


def brute(covers: np.ndarray) -> int:
    reachable = covers.any(axis=0)
    for count in range(covers.shape[0] + 1):
        for chosen in itertools.combinations(range(covers.shape[0]), count):
            if covers[list(chosen)].any(axis=0)[reachable].all():
                return count
    raise AssertionError("all candidates together cover what is reachable")


@given(hnp.arrays(np.bool_, st.tuples(st.integers(1, 6), st.integers(1, 12))))
@settings(max_examples=40, deadline=None)
def test_fewest_agrees_with_trying_every_subset(covers: np.ndarray) -> None:
    """The integer program finds the same number as trying every subset, and its choice does cover."""
    cover = fewest(covers)
    assert cover.count == brute(covers)
    assert covers[list(cover.chosen)].any(axis=0)[~cover.uncovered].all() or cover.count == 0
    assert (cover.uncovered == ~covers.any(axis=0)).all()


def test_two_windows_over_a_long_piece_need_two() -> None:
    """Windows of 300 on a piece of 416 need two placements (ceil((L - o)/(T - o)), derived)."""
    along = np.arange(-208, 209)
    shifts = np.arange(-75, 100, 25)
    covers = np.abs(along[None, :] - shifts[:, None]) <= 150
    assert fewest(covers).count == 2


def test_preference_settles_ties_only() -> None:
    """Of equally few candidates the preferred ones are taken, never more of them."""
    covers = np.array([[1, 1, 0, 0], [0, 0, 1, 1], [1, 1, 0, 0], [1, 0, 0, 0]], dtype=bool)
    cover = fewest(covers, np.array([5.0, 1.0, 0.0, 0.0]))
    assert cover.chosen == (1, 2)
