"""Sharing out a program among strips of rows, so that threads never meet.

Question  which moves touch which strip of rows; how much of each move its neighbours in the chain already cover
Frame     standing frame; a strip is STRIP rows along +y
Units     mm
Arrays    moves (n, 9) float64; first (strips + 1,) int64 and members (first[-1],) int64: the moves of strip k in
          the order of the program are members[first[k]:first[k + 1]]
Method    A rising or level move (m >= 0) is lowest at its start for every cell behind the start: the move
          before, which ends there, has cut that already. So with moves joined end to start a cell needs looking
          at only where its lowest point lies inside the move or at one joint, charged to one of the two moves:
          ``back`` reaches behind the start, ``ahead`` beyond the end. For a ball on a slope the lowest point
          lies at most R m / sqrt(1 + m^2) uphill; for other cutters nothing is left out on that side.
Source    derived here; tests compare with every cell looked at
Valid     exact for every profile that never falls with the radius
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .sweep_moves import UPRIGHT_MM, arc_shape
from .threads import pool, thread_count

WORTH_A_THREAD = 100  # moves
STRIP = 128  # rows; also the side of the coarse tiles of field.watch

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@njit(cache=True, error_model="numpy")
def chain_reach(moves: Floats, profile: Floats, leave_ahead: bool) -> tuple[Floats, Floats]:
    """How far behind the start and beyond the end each move must be looked at, (n,) and (n,) mm.

    With ``leave_ahead`` false every move is looked at to its full end, as a watch in time needs.
    """
    n = moves.shape[0]
    radius = profile[1]
    full = 2.0 * radius + 1.0
    back, ahead = np.full(n, full), np.full(n, full)
    own_back, own_ahead = np.full(n, full), np.full(n, full)
    tx, ty = np.zeros(n), np.zeros(n)
    ball = int(profile[0]) == 0 and profile[2] == radius
    line = np.zeros(n, dtype=np.bool_)
    for i in range(n):
        dx, dy = moves[i, 3] - moves[i, 0], moves[i, 4] - moves[i, 1]
        length = math.sqrt(dx * dx + dy * dy)
        if moves[i, 8] != 0.0 or length < UPRIGHT_MM:
            continue
        line[i] = True
        tx[i], ty[i] = dx / length, dy / length
        m = (moves[i, 5] - moves[i, 2]) / length
        uphill = radius * abs(m) / math.sqrt(1.0 + m * m) if ball else full
        own_back[i] = 0.0 if m >= 0.0 else uphill
        own_ahead[i] = 0.0 if m <= 0.0 else uphill
    for i in range(n):
        if not line[i]:
            continue
        if i > 0 and joined(moves, i):
            back[i] = own_back[i]
        if leave_ahead and i + 1 < n and joined(moves, i + 1):
            turn = 0.0
            if line[i + 1]:
                turn = radius * math.sqrt((tx[i] - tx[i + 1]) ** 2 + (ty[i] - ty[i + 1]) ** 2) - own_back[i + 1]
            ahead[i] = max(own_ahead[i], turn + 1e-6)
    return back, ahead


@njit(cache=True, inline="always")
def joined(moves, i):
    """Whether move i starts exactly where move i - 1 ended."""
    return moves[i, 0] == moves[i - 1, 3] and moves[i, 1] == moves[i - 1, 4] and moves[i, 2] == moves[i - 1, 5]


@njit(cache=True, error_model="numpy")
def rows_touched(move, reach, y_first, pitch, ny):
    """First and last row (or an empty range) within ``reach`` of a move's axis."""
    lo, hi = min(move[1], move[4]), max(move[1], move[4])
    if move[8] != 0.0:
        shape = arc_shape(move)
        lo, hi = move[7] + shape[10], move[7] + shape[11]
    first = math.ceil((lo - reach - y_first) / pitch - 1e-6)
    last = math.floor((hi + reach - y_first) / pitch + 1e-6)
    return max(0, first), min(ny - 1, last)


@njit(cache=True, error_model="numpy")
def share_out(moves: Floats, reach: float, y_first: float, pitch: float, ny: int, strip: int) -> tuple[Ints, Ints]:
    """The members of each strip in program order: (first, members)."""
    strips = (ny + strip - 1) // strip
    first = np.zeros(strips + 2, dtype=np.int64)
    for i in range(moves.shape[0]):
        j0, j1 = rows_touched(moves[i], reach, y_first, pitch, ny)
        if j0 <= j1:
            for k in range(j0 // strip, j1 // strip + 1):
                first[k + 2] += 1
    for k in range(2, strips + 2):
        first[k] += first[k - 1]
    members = np.empty(first[strips + 1], dtype=np.int64)
    for i in range(moves.shape[0]):
        j0, j1 = rows_touched(moves[i], reach, y_first, pitch, ny)
        if j0 <= j1:
            for k in range(j0 // strip, j1 // strip + 1):
                members[first[k + 1]] = i
                first[k + 1] += 1
    return first[: strips + 1], members


def run_strips(work: Callable[[int], None], load: Ints, threads: int | None) -> None:
    """Call ``work(strip)`` for every strip with moves, the fullest first; work must release the GIL to gain.

    What is soon done is done here: handing it to a thread would take longer. ``threads``: exactly so many (tests).
    """
    busy = [int(k) for k in np.argsort(-load, kind="stable") if load[k] > 0]
    count = min(threads or thread_count(), len(busy))
    if count <= 1 or (threads is None and int(load.sum()) < WORTH_A_THREAD):
        for k in busy:
            work(k)
    elif threads is None:
        list(pool().map(work, busy))
    else:
        with ThreadPoolExecutor(count) as own:
            list(own.map(work, busy))
