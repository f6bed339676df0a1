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
Floats = NDArray[np.float64]

MOST_CHOICES = 20_000
MANY = 200  # candidates; with more a choice that meets a bound of its own is taken, without the integer program


@dataclass(frozen=True, eq=False)
class Cover:
    """The fewest candidates that cover everything coverable; ``uncovered`` marks elements nobody reaches."""

    count: int
    chosen: tuple[int, ...]
    uncovered: Bools


def signatures(covers: Bools) -> tuple[Bools, NDArray[np.int64]]:
    """Elements (m) reached by the same candidates (n) are one row: unique rows (k, n) and their counts (k,)."""
    bits = np.packbits(covers, axis=0).T
    if bits.shape[1] <= 8:
        words = np.zeros((bits.shape[0], 8), dtype=np.uint8)
        words[:, : bits.shape[1]] = bits
        which = words.view(np.int64).ravel()
    else:  # comparing long rows is slow; finding each among those known is not
        known: dict[bytes, int] = {}
        rows = (row.tobytes() for row in np.ascontiguousarray(bits))
        which = np.fromiter((known.setdefault(row, len(known)) for row in rows), np.int64, bits.shape[0])
    _, first, counts = np.unique(which, return_index=True, return_counts=True)
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
    if count > MANY:
        quick = greedy(rows, np.zeros(count) if preference is None else preference)
        if quick is not None:
            return Cover(len(quick), tuple(quick), ~reachable)
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
    if count == 0 or math.comb(covers.shape[0], count) > MOST_CHOICES:
        return []
    rows, _ = signatures(covers[:, covers.any(axis=0)])
    chosen = np.array(list(combinations(range(covers.shape[0]), count)))
    done = rows[:, chosen].any(axis=2).all(axis=0)
    found = chosen[done]
    order = np.argsort(preference[found].sum(axis=1), kind="stable")
    return [tuple(int(i) for i in found[k]) for k in order[:most]]


def least_by_windows(points_mm: Floats, windows_mm: Floats) -> int:
    """A cheap bound: so many points (m, 2) lie so far apart that no window (n, 4: x, y from, x, y to) holds two.

    Such points need a placement each. They are taken row by row, each with all that could share a window with it; on
    a filled rectangle and windows shifted alike along both axes none are more.
    """
    order = np.lexsort((points_mm[:, 0], points_mm[:, 1]))
    left, count = points_mm[order], 0
    while len(left):
        x, y = left[0]
        low, high = windows_mm[:, :2], windows_mm[:, 2:]
        holds = windows_mm[((low <= (x, y)) & (high >= (x, y))).all(axis=1)]
        if not len(holds):
            left = left[1:]
            continue
        shares = (left >= holds[:, :2].min(axis=0)) & (left <= holds[:, 2:].max(axis=0))
        left, count = left[~shares.all(axis=1)], count + 1
    return count


def packed(rows: Bools) -> list[int]:
    """Rows (k, n) no two of which share a candidate: as many placements are needed as there are rows here."""
    left, taken = np.arange(rows.shape[0]), []
    while left.size:
        taken.append(int(left[0]))
        left = left[~rows[np.ix_(left, np.flatnonzero(rows[left[0]]))].any(axis=1)]
    return taken


def greedy(rows: Bools, preference: Floats) -> list[int] | None:
    """A choice of as many candidates as ``packed`` shows to be needed, shifted to preferred ones; None where not met.

    For each packed row in turn, of the candidates that cover it the one that covers most of what is left.
    """
    left, chosen = np.ones(rows.shape[0], dtype=bool), []
    for row in packed(rows):
        choices = np.flatnonzero(rows[row])
        gain = rows[np.ix_(left, choices)].sum(axis=0)
        chosen.append(int(choices[np.lexsort((preference[choices], -gain))[0]]))
        left &= ~rows[:, chosen[-1]]
    if left.any():
        return None
    for k in range(len(chosen)):
        others = rows[:, chosen[:k] + chosen[k + 1 :]].any(axis=1)
        able = np.flatnonzero(rows[~others].all(axis=0))
        chosen[k] = int(able[np.argmin(preference[able])])
    return sorted(chosen)
