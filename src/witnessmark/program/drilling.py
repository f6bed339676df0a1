"""Runs of strokes that drill a hole, as the canned cycle that stands for them.

Question  which strokes are one hole, and what are its R, Z and Q?
Frame     program frame
Units     counts of the format's least decimal
Arrays    points (n + 1, 3) int64; mode (n,) int8
Method    in at the entry feed, out by a rapid to where it began; by pecks: back in by a rapid, on at the entry feed,
          out again. Z is the deepest, Q the deepest peck but the first: no peck of the cycle takes more at once
Source    G81 and G83: NIST IR 6556 (from memory)
Valid     the cycle moves on the same upright line between the same ends; its pecks begin at R, not at the wood
Refuses   nothing
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from witnessmark.path.strokes import ENTRY, RAPID

Counts = NDArray[np.int64]


@dataclass(frozen=True)
class Hole:
    """Strokes ``first`` up to, not with, ``after``; ``peck`` 0: in one go."""

    first: int
    after: int
    clear: int
    bottom: int
    peck: int


def holes_in(points: Counts, mode: NDArray[np.int8]) -> Iterator[Hole]:
    """Every hole among the strokes, in order."""
    i, n = 0, len(mode)
    while i + 1 < n:
        after, bottoms = _pecks(points, mode, i)
        if not bottoms:
            i += 1
            continue
        clear, bottom = int(points[i, 2]), bottoms[-1]
        peck = max((above - below for above, below in pairwise(bottoms)), default=0)
        yield Hole(i, after, clear, bottom, peck)
        i = after


def _pecks(points: Counts, mode: NDArray[np.int8], at: int) -> tuple[int, list[int]]:
    """The stroke after the hole that begins at a stroke, and how deep each peck goes; none where it is no hole."""
    clear, n = int(points[at, 2]), len(mode)
    bottoms: list[int] = []
    while at + 1 < n and _upright(points, at) and _upright(points, at + 1):
        step = at
        if bottoms:  # back in by a rapid that ends above the last bottom
            if mode[at] != RAPID or not bottoms[-1] < points[at + 1, 2] < clear:
                break
            step = at + 1
            if step + 1 >= n or not _upright(points, step + 1):
                break
        low = int(points[step + 1, 2])
        goes_in = mode[step] == ENTRY and low < points[step, 2] and (not bottoms or low < bottoms[-1])
        if not goes_in or mode[step + 1] != RAPID or points[step + 2, 2] != clear:
            break
        bottoms.append(low)
        at = step + 2
    return at, bottoms


def _upright(points: Counts, stroke: int) -> bool:
    return bool((points[stroke, :2] == points[stroke + 1, :2]).all())
