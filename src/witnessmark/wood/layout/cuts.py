"""Cuts that make the linear program's bound tighter: of three parts, no more than one section holds two or more.

Question  which sets of three parts does a solution of the linear program use too often
Method    Chvatal-Gomory cuts of rank 1 over three rows with multipliers 1/2, parts that are wanted once: every
          section that holds at least two of the three counts once, and all that are sawn count at most one together.
          (Parts may be left out of a section, so that some best layout saws each just once: for that one it holds)
Source    Jepsen, Petersen, Spoorendonk and Pisinger, Subset-row inequalities applied to the vehicle-routing problem
          with time windows, Operations Research 56 (2008) 497-511 (from memory)
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LEAST_OVER = 0.03
MOST_ROUND, MOST_OF_PART = 30, 6

Triple = tuple[int, int, int]


def violated(holds: NDArray[np.float64], often: NDArray[np.float64], known: set[Triple]) -> list[Triple]:
    """New triples used too often, the worst first. holds (s, n): whether a section holds a part that is wanted once;
    often (s,): how often the program uses it."""
    used = often > 1e-6
    a, w = holds[used], often[used]
    pairs = (a * w[:, None]).T @ a
    threes = np.einsum("s,si,sj,sk->ijk", w, a, a, a, optimize=True)
    over = pairs[:, :, None] + pairs[:, None, :] + pairs[None, :, :] - 2.0 * threes - 1.0
    n = holds.shape[1]
    i, j, k = np.nonzero(over > LEAST_OVER)
    rising = (i < j) & (j < k)
    found = sorted(zip((-over[i, j, k])[rising].tolist(), i[rising], j[rising], k[rising]))
    count = np.zeros(n, dtype=np.int64)
    chosen: list[Triple] = []
    for _, *three in found:
        triple = (int(three[0]), int(three[1]), int(three[2]))
        if triple in known or count[list(triple)].max() >= MOST_OF_PART:
            continue
        count[list(triple)] += 1
        chosen.append(triple)
        if len(chosen) >= MOST_ROUND:
            break
    return chosen
