"""Kernels over columns of wood: cutting intervals away, and joining those that touch into pieces of wood.

Question   what is left of each column; which intervals hang together
Frame      piece frame; cell k = row * nx + column holds the intervals first[k] .. first[k + 1]
Units      mm
Arrays     first (ny * nx + 1) int32; low, high (m,) float32, rising within a cell and not touching
Method     two passes (count, then fill); connected components by union-find with path halving over the four sides
           of each column, two intervals being joined if they overlap by more than a given height
Source     Galler, B. A. and Fisher, M. J. (1964), An improved equivalence algorithm, Communications of the ACM 7(5)
           (from memory)
Valid      exact on the columns
Refuses    nothing: the caller checks once
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .grid import Heights

Ints = NDArray[np.int32]
Labels = NDArray[np.int32]

SLIVER_MM = 1e-4  # a rest thinner than this is rounding, not wood


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def _rests(low: float, high: float, cut_from: float, cut_to: float) -> tuple[bool, float, bool, float]:
    """What a cut leaves of low .. high: a lower rest up to .., an upper rest from .. (an untouched one is lower)."""
    if cut_from >= cut_to or cut_to <= low or cut_from >= high:
        return True, high, False, high
    return cut_from - low > SLIVER_MM, cut_from, high - cut_to > SLIVER_MM, cut_to


@njit(cache=True, error_model="numpy", nogil=True)
def count_left(
    first: Ints, low: Heights, high: Heights, cut_from: Heights, cut_to: Heights, left: Ints, k_from: int, k_to: int
) -> None:
    """left[k] = how many intervals of cell k remain when cut_from[k] .. cut_to[k] is cut away."""
    for k in range(k_from, k_to):
        count = 0
        for m in range(first[k], first[k + 1]):
            lower, _, upper, _ = _rests(low[m], high[m], cut_from[k], cut_to[k])
            count += int(lower) + int(upper)
        left[k] = count


@njit(cache=True, error_model="numpy", nogil=True)
def fill_left(
    first: Ints,
    low: Heights,
    high: Heights,
    cut_from: Heights,
    cut_to: Heights,
    new_first: Ints,
    new_low: Heights,
    new_high: Heights,
    k_from: int,
    k_to: int,
) -> None:
    """Write the remaining intervals of cells k_from .. k_to."""
    for k in range(k_from, k_to):
        n = new_first[k]
        for m in range(first[k], first[k + 1]):
            lower, lower_to, upper, upper_from = _rests(low[m], high[m], cut_from[k], cut_to[k])
            if lower:
                new_low[n] = low[m]
                new_high[n] = lower_to
                n += 1
            if upper:
                new_low[n] = upper_from
                new_high[n] = high[m]
                n += 1


@njit(cache=True, error_model="numpy", nogil=True)
def lower_ends(first: Ints, low: Heights, end: Heights) -> None:
    """Bottom of every column; inf where it is empty."""
    for k in range(end.size):
        end[k] = low[first[k]] if first[k + 1] > first[k] else np.inf


@njit(cache=True, error_model="numpy", nogil=True)
def upper_ends(first: Ints, high: Heights, end: Heights) -> None:
    """Top of every column; -inf where it is empty."""
    for k in range(end.size):
        end[k] = high[first[k + 1] - 1] if first[k + 1] > first[k] else -np.inf


@njit(cache=True, error_model="numpy", nogil=True)
def between(first: Ints, low: Heights, high: Heights, lower: Heights, upper: Heights, much: Heights) -> None:
    """much[k] = the height of wood of cell k between lower[k] and upper[k]."""
    for k in range(much.size):
        total = np.float32(0.0)
        for m in range(first[k], first[k + 1]):
            total += max(min(high[m], upper[k]) - max(low[m], lower[k]), np.float32(0.0))
        much[k] = total


@njit(cache=True, error_model="numpy", nogil=True)
def union(parent: Labels, a: int, b: int) -> None:
    """Join the sets of a and b; the smaller number leads."""
    while parent[a] != a:
        parent[a] = parent[parent[a]]
        a = parent[a]
    while parent[b] != b:
        parent[b] = parent[parent[b]]
        b = parent[b]
    if a < b:
        parent[b] = a
    else:
        parent[a] = b


@njit(cache=True, error_model="numpy", nogil=True)
def _join_columns(
    first: Ints, low: Heights, high: Heights, parent: Labels, k: int, neighbour: int, least_mm: float
) -> None:
    """Join the intervals of two columns side by side that overlap by more than least_mm."""
    a, b = first[k], first[neighbour]
    a_end, b_end = first[k + 1], first[neighbour + 1]
    while a < a_end and b < b_end:
        if min(high[a], high[b]) - max(low[a], low[b]) > least_mm:
            union(parent, a, b)
        if high[a] < high[b]:
            a += 1
        else:
            b += 1


@njit(cache=True, error_model="numpy", nogil=True)
def join(first: Ints, low: Heights, high: Heights, nx: int, least_mm: float, parent: Labels) -> int:
    """Number the connected pieces of wood 0 .. count - 1, in ``parent`` (m,), and return the count."""
    for m in range(parent.size):
        parent[m] = m
    cells = first.size - 1
    for k in range(cells):
        if k % nx > 0:
            _join_columns(first, low, high, parent, k, k - 1, least_mm)
        if k >= nx:
            _join_columns(first, low, high, parent, k, k - nx, least_mm)
    count = 0
    for m in range(parent.size):  # a leader always comes before those it leads
        if parent[m] == m:
            parent[m] = -1 - count
            count += 1
        else:
            parent[m] = parent[parent[m]]
    for m in range(parent.size):
        parent[m] = -1 - parent[m]
    return count


@njit(cache=True, error_model="numpy", nogil=True)
def survey(
    first: Ints,
    low: Heights,
    high: Heights,
    nx: int,
    label: Labels,
    held: NDArray[np.bool_],
    support_z: float,
    rests_within: float,
    over: bool,
    is_held: NDArray[np.bool_],
    volume: NDArray[np.float64],
    box: NDArray[np.float64],
    thick: NDArray[np.float64],
) -> None:
    """For every piece of wood: whether a held interval belongs to it, its height summed over cells, the box of
    cells and heights that it fills (c, 6: row, column, z from; row, column, z to), and where it is thickest
    (c, 4: row, column, middle z, thickness). An interval is held in a held cell if its end that faces the support
    lies within ``rests_within`` of it.
    """
    for k in range(first.size - 1):
        j, i = k // nx, k % nx
        for m in range(first[k], first[k + 1]):
            c = label[m]
            stands = support_z - high[m] if over else low[m] - support_z
            if held[k] and stands <= rests_within:
                is_held[c] = True
            height = high[m] - low[m]
            volume[c] += height
            box[c, 0], box[c, 3] = min(box[c, 0], j), max(box[c, 3], j)
            box[c, 1], box[c, 4] = min(box[c, 1], i), max(box[c, 4], i)
            box[c, 2], box[c, 5] = min(box[c, 2], low[m]), max(box[c, 5], high[m])
            if height > thick[c, 3]:
                thick[c, 0], thick[c, 1] = j, i
                thick[c, 2], thick[c, 3] = 0.5 * (low[m] + high[m]), height
