"""Columns of the same wood along another axis, and the wood that two sets of columns share.

Question  what columns stand on the blank when it is laid on an end or an edge
Frame     any; ``turn`` takes the old frame to the new one, whose z is the old x or y axis, either way
Units     mm
Arrays    turn (3, 3): one 1 or -1 in each row and column; columns as in field.columns, k = row * nx + column
Method    the old columns' intervals mark the cells of the new frame's slices whose middles lie in them; runs of
          marked cells are the new intervals, their ends on the sides of the cells, or on the blank's own end
Source    plane geometry
Valid     new intervals end within half a pitch of the wood's true end along the new axis, as long as walls are not
          thinner than a pitch; sideways they hold at the cells' middles, like all columns
Refuses   turns that leave z upright, columns on different grids (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .columns import Columns
from .grid import Grid, Heights

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


def along_another(columns: Columns, turn: Floats) -> Columns:
    """The wood of ``columns`` as columns of the frame to which ``turn`` leads."""
    m = np.rint(np.asarray(turn)).astype(np.int64)
    if abs(m[2, 2]) == 1 or not np.array_equal(m @ m.T, np.eye(3)):
        raise ValueError("columns along another axis: the new z is the old x or y")
    grid, pitch = columns.grid, columns.grid.pitch_mm
    along = 0 if m[2, 0] else 1  # the old axis that the new columns follow
    x0, y0, x1, y1 = columns.ends_mm
    old_from, old_to = (x0, y0, columns.z_from_mm), (x1, y1, columns.z_to_mm)
    layers = max(1, math.ceil((columns.z_to_mm - columns.z_from_mm) / pitch - 1e-9))
    middle_z = (columns.z_from_mm + columns.z_to_mm) / 2
    counts = (grid.nx, grid.ny, layers)
    origin = (grid.x0_mm, grid.y0_mm, middle_z - layers * pitch / 2)
    new = [_axis(m[row], origin, counts, pitch) for row in (0, 1)]
    new_grid = Grid(new[0][1], new[1][1], pitch, new[0][2], new[1][2])
    z_across = bool(m[0, 2])  # whether the new x runs along the old z (else the new y does)
    flipped = (new[0][0] < 0, new[1][0] < 0)
    ends = [_ends(m[row], old_from, old_to) for row in range(3)]
    shape = (new_grid.ny, new_grid.nx)
    place = (float(origin[2]), pitch, float((x0, y0)[along]), float((x1, y1)[along]), float(origin[along]))
    wood = (columns.first, columns.low, columns.high, grid.nx, grid.ny, layers, along, int(m[2, along]), place)
    first = np.zeros(shape[0] * shape[1] + 1, dtype=np.int32)
    nothing = np.empty(0, dtype=np.float32)
    _runs(*wood, z_across, flipped[0], flipped[1], shape[1], first, nothing, nothing, False)
    np.cumsum(first, out=first)
    low, high = (np.empty(int(first[-1]), dtype=np.float32) for _ in range(2))
    _runs(*wood, z_across, flipped[0], flipped[1], shape[1], first, low, high, True)
    return Columns(
        new_grid, ends[2][0], ends[2][1], first, low, high, (ends[0][0], ends[1][0], ends[0][1], ends[1][1])
    )


def shared(one: Columns, other: Columns) -> Columns:
    """The wood that stands in both."""
    if one.grid.shape != other.grid.shape:
        raise ValueError(f"columns of shape {one.grid.shape} and {other.grid.shape} are not over the same cells")
    cells = one.grid.nx * one.grid.ny
    wood = (one.first, one.low, one.high, other.first, other.low, other.high)
    first = np.zeros(cells + 1, dtype=np.int32)
    nothing = np.empty(0, dtype=np.float32)
    _shared(*wood, first, nothing, nothing, False)
    np.cumsum(first, out=first)
    low, high = (np.empty(int(first[-1]), dtype=np.float32) for _ in range(2))
    _shared(*wood, first, low, high, True)
    return replace(one, first=first, low=low, high=high)


def _axis(
    row: NDArray[np.int64], origin_mm: tuple[float, ...], counts: tuple[int, ...], pitch_mm: float
) -> tuple[int, float, int]:
    """A new axis: its sign, where its cells begin, how many there are."""
    old = int(np.flatnonzero(row)[0])
    sign = int(row[old])
    begin = origin_mm[old] if sign > 0 else -(origin_mm[old] + counts[old] * pitch_mm)
    return sign, float(begin), counts[old]


def _ends(row: NDArray[np.int64], from_mm: tuple[float, ...], to_mm: tuple[float, ...]) -> tuple[float, float]:
    old = int(np.flatnonzero(row)[0])
    low, high = sorted((float(row[old]) * from_mm[old], float(row[old]) * to_mm[old]))
    return low, high


@njit(cache=True, error_model="numpy", nogil=True)
def _runs(
    first: Ints,
    low: Heights,
    high: Heights,
    nx: int,
    ny: int,
    layers: int,
    along: int,
    sense: int,
    place: tuple[float, float, float, float, float],
    z_across: bool,
    flip_x: bool,
    flip_y: bool,
    new_nx: int,
    new_first: Ints,
    new_low: Heights,
    new_high: Heights,
    fill: bool,
) -> None:
    """Count the runs of every new cell into new_first[1:], or, when that has been summed, write them."""
    z0, pitch, end_from, end_to, along0 = place
    steps, slices = (nx, ny) if along == 0 else (ny, nx)
    there = np.zeros((layers, steps), dtype=np.bool_)
    new_ny = (new_first.size - 1) // new_nx
    for b in range(slices):
        there[:] = False
        for i in range(steps):
            k = b * nx + i if along == 0 else i * nx + b
            for m in range(first[k], first[k + 1]):
                one = max(math.ceil((low[m] - z0) / pitch - 0.5), 0)
                last = min(math.ceil((high[m] - z0) / pitch - 0.5) - 1, layers - 1)
                for layer in range(one, last + 1):
                    there[layer, i] = True
        for layer in range(layers):
            column, row = (layer, b) if z_across else (b, layer)
            column = new_nx - 1 - column if flip_x else column
            row = new_ny - 1 - row if flip_y else row
            cell = row * new_nx + column
            at = new_first[cell]
            count = 0
            i = 0
            while i < steps:  # the runs, the first along the new z first
                j = i if sense > 0 else steps - 1 - i
                if not there[layer, j]:
                    i += 1
                    continue
                begin = i
                while i < steps and there[layer, i if sense > 0 else steps - 1 - i]:
                    i += 1
                if fill:
                    one, last = (begin, i) if sense > 0 else (steps - i, steps - begin)
                    start = max(along0 + one * pitch, end_from)
                    end = min(along0 + last * pitch, end_to)
                    new_low[at + count] = start if sense > 0 else -end
                    new_high[at + count] = end if sense > 0 else -start
                count += 1
            if not fill:
                new_first[cell + 1] = count


@njit(cache=True, error_model="numpy", nogil=True)
def _shared(
    first: Ints,
    low: Heights,
    high: Heights,
    other_first: Ints,
    other_low: Heights,
    other_high: Heights,
    new_first: Ints,
    new_low: Heights,
    new_high: Heights,
    fill: bool,
) -> None:
    """Count what both share of every cell into new_first[1:], or, when that has been summed, write it."""
    for k in range(first.size - 1):
        a, b, count = first[k], other_first[k], 0
        at = new_first[k]
        while a < first[k + 1] and b < other_first[k + 1]:
            start, end = max(low[a], other_low[b]), min(high[a], other_high[b])
            if end > start:
                if fill:
                    new_low[at + count], new_high[at + count] = start, end
                count += 1
            if high[a] < other_high[b]:
                a += 1
            else:
                b += 1
        if not fill:
            new_first[k + 1] = count
