"""The narrowest section for every set of a few parts: all sections there are, for an exact choice among them.

Question  how wide is the narrowest section, as long as its longest part, that holds just these parts
Units     whole mm; widths count a kerf after each lane
Arrays    lengths, widths (n,) int64; answers (2**n,) int64, by the set as a bit mask
Method    dynamic programming over sets: the lane that holds a set's first part, and the narrowest rest
Valid     n up to some 12 (3**n steps)
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

FAR = np.int64(1) << 40

Ints = NDArray[np.int64]


@njit(cache=True, error_model="numpy", nogil=True)
def lane_sizes(lengths: Ints, widths: Ints, kerf: int) -> tuple[Ints, Ints, Ints]:
    """For every set: its length in one lane (a kerf after each part), its widest part, its longest part."""
    n = lengths.size
    along = np.zeros(1 << n, dtype=np.int64)
    wide = np.zeros(1 << n, dtype=np.int64)
    longest = np.zeros(1 << n, dtype=np.int64)
    for mask in range(1, 1 << n):
        low = mask & -mask
        i = 0
        while (low >> i) != 1:
            i += 1
        rest = mask ^ low
        along[mask] = along[rest] + lengths[i] + kerf
        wide[mask] = max(wide[rest], widths[i])
        longest[mask] = max(longest[rest], lengths[i])
    return along, wide, longest


@njit(cache=True, error_model="numpy", nogil=True)
def narrowest_at(along: Ints, wide: Ints, longest: Ints, kerf: int, length: int) -> tuple[Ints, Ints]:
    """For every set of parts no longer than ``length``: the least width in lanes of that length, and the lane that
    holds its first part; FAR where a part is longer."""
    count = along.size
    need = np.full(count, FAR, dtype=np.int64)
    lane = np.zeros(count, dtype=np.int64)
    need[0] = 0
    for mask in range(1, count):
        if longest[mask] > length:
            continue
        low = mask & -mask
        rest = mask ^ low
        sub = rest
        while True:
            own = sub | low
            if along[own] <= length + kerf:
                whole = wide[own] + kerf + need[mask ^ own]
                if whole < need[mask]:
                    need[mask] = whole
                    lane[mask] = own
            if sub == 0:
                break
            sub = (sub - 1) & rest
    return need, lane


@njit(cache=True, error_model="numpy", nogil=True)
def narrowest(lengths: Ints, widths: Ints, kerf: int) -> tuple[Ints, Ints]:
    """For every set: the least width of a section as long as its longest part, and that length."""
    along, wide, longest = lane_sizes(lengths, widths, kerf)
    need = np.full(along.size, FAR, dtype=np.int64)
    for length in np.unique(lengths):
        found, _ = narrowest_at(along, wide, longest, kerf, length)
        for mask in range(1, along.size):
            if longest[mask] == length:
                need[mask] = found[mask]
    return need, longest
