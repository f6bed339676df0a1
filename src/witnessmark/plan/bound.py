"""The bound first: how few placements could do, whatever their order.

Less wood never raises a floor, so what a candidate reaches when all wood but the piece is gone is the most it can
ever reach. The fewest candidates whose best floors together cover all that is wanted is then a bound that no real
order of placements can beat.

Source: minimum set cover as an integer program, solved by HiGHS through scipy.optimize.milp.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

Bools = NDArray[np.bool_]

MOST_CHOICES = 20_000


@dataclass(frozen=True, eq=False)
class Cover:
    """The fewest candidates that cover everything coverable; ``uncovered`` marks elements nobody reaches."""

    count: int
    chosen: tuple[int, ...]
    uncovered: Bools


def signatures(covers: Bools) -> tuple[Bools, NDArray[np.int64]]:
    """Elements (m) reached by the same candidates (n) are one row: unique rows (k, n) and their counts (k,)."""
    packed = np.packbits(covers.T, axis=1)
    _, first, counts = np.unique(packed, axis=0, return_index=True, return_counts=True)
    return covers.T[first], counts


def fewest(covers: Bools, preference: NDArray[np.float64] | None = None) -> Cover:
    """Minimum set cover over ``covers`` (n candidates, m elements); ties go to the least summed preference.

    ``preference`` (n,) is scaled so that it can never outweigh one placement.
    """
    reachable: Bools = np.asarray(covers.any(axis=0))
    rows, _ = signatures(covers[:, reachable])
    if rows.shape[0] == 0:
        return Cover(0, (), ~reachable)
    count = covers.shape[0]
    cost = np.ones(count)
    if preference is not None and np.ptp(preference) > 0:
        cost = cost + 0.5 / (count + 1) * (preference - preference.min()) / np.ptp(preference)
    answer = milp(
        cost,
        constraints=LinearConstraint(rows.astype(np.float64), lb=1.0),
        integrality=np.ones(count),
        bounds=Bounds(0, 1),
    )
    chosen = tuple(int(i) for i in np.flatnonzero(answer.x > 0.5))
    return Cover(len(chosen), chosen, ~reachable)


def covers_of_size(covers: Bools, count: int, preference: NDArray[np.float64], most: int) -> list[tuple[int, ...]]:
    """Choices of ``count`` candidates that cover all that is coverable, the most preferred first, at most ``most``.

    Every choice is looked at where there are few enough (``MOST_CHOICES``); otherwise none is listed and the integer
    program's own choice must do.
    """
    rows, _ = signatures(covers[:, covers.any(axis=0)])
    if count == 0 or math.comb(covers.shape[0], count) > MOST_CHOICES:
        return []
    chosen = np.array(list(combinations(range(covers.shape[0]), count)))
    done = rows[:, chosen].any(axis=2).all(axis=0)
    found = chosen[done]
    order = np.argsort(preference[found].sum(axis=1), kind="stable")
    return [tuple(int(i) for i in found[k]) for k in order[:most]]
