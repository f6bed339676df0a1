"""Removing wood: the exact volume that a cutter sweeps, taken from a height field.

Question  how high is the wood at each cell after these moves
Frame     standing frame; rows along +y, columns along +x, heights at cell centres
Units     mm
Arrays    heights (ny, nx) float32, lowered in place; -inf is a cell without wood and stays so
          moves (n, 9) float64: from x, y, z; to x, y, z; centre x, y; type (0 line, 1 arc counter-clockwise,
          2 arc clockwise; arcs level; an arc that ends where it starts is a full turn)
          profile (6,) float64 from field.profile
Method    H = min(H, least over the move of z_tip + b(distance)); field.sweep_rows, one row at a time
Source    plane geometry, derived here
Valid     flat, ball, bull, cone and tapered ball: exact at cell centres for lines of any slope and level arcs, to
          float32 rounding of the height and 2e-6 mm sideways. Between cell centres the caller owns the margin:
          bracket with profiles grown and shrunk by pitch / sqrt(2)
Refuses   ValueError: arrays of the wrong shape or type, places that are not numbers, arcs that are not level
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .grid import Grid, Heights
from .strips import STRIP, chain_reach, run_strips, share_out
from .sweep_moves import cut_move
from .sweep_rows import LANES, RIM_SLACK_MM

Floats = NDArray[np.float64]

LEVEL_MM = 1e-9


def remove(heights: Heights, grid: Grid, moves: Floats, profile: Floats, threads: int | None = None) -> None:
    """Cut ``moves`` with ``profile`` out of ``heights`` in place; the result depends on neither order nor threads."""
    moves, profile = checked(heights, grid, moves, profile)
    if grid.nx < LANES:  # the row kernels need whole vectors: work on a wider copy
        wider = Grid(grid.x0_mm, grid.y0_mm, grid.pitch_mm, LANES, grid.ny)
        padded = wider.full(-np.inf)
        padded[:, : grid.nx] = heights
        remove(padded, wider, moves, profile, threads)
        heights[:] = padded[:, : grid.nx]
        return
    frame = frame_of(grid)
    back, ahead = chain_reach(moves, profile, True)
    first, members = share_out(moves, profile[1] + RIM_SLACK_MM, frame[1], grid.pitch_mm, grid.ny, STRIP)

    def work(k: int) -> None:
        mine = members[first[k] : first[k + 1]]
        _cut_strip(heights, frame, moves, mine, profile, back, ahead, k * STRIP, min(grid.ny, (k + 1) * STRIP))

    run_strips(work, np.diff(first), threads)


def frame_of(grid: Grid) -> tuple[float, float, float]:
    """x of column 0, y of row 0 (cell centres) and pitch, mm."""
    return (grid.x0_mm + 0.5 * grid.pitch_mm, grid.y0_mm + 0.5 * grid.pitch_mm, float(grid.pitch_mm))


def checked(heights: Heights, grid: Grid, moves: Floats, profile: Floats) -> tuple[Floats, Floats]:
    """The moves and profile as contiguous float64, or ValueError."""
    moves = np.ascontiguousarray(moves, dtype=np.float64)
    profile = np.ascontiguousarray(profile, dtype=np.float64)
    if heights.shape != grid.shape or heights.dtype != np.float32 or not heights.flags.c_contiguous:
        raise ValueError(f"heights must be contiguous float32 of shape {grid.shape}")
    if moves.ndim != 2 or moves.shape[1] != 9 or profile.shape != (6,):
        raise ValueError("moves must be (n, 9) and the profile (6,)")
    lines = moves[:, 8] == 0.0
    if not (np.isfinite(moves[:, :6]).all() and np.isfinite(moves[~lines]).all()):
        raise ValueError("a move's place is not a number")
    if not np.isin(moves[:, 8], (0.0, 1.0, 2.0)).all():
        raise ValueError("a move's type must be 0, 1 or 2")
    if (np.abs(moves[~lines, 2] - moves[~lines, 5]) > LEVEL_MM).any():
        raise ValueError("an arc is not level: turn it into chords first (field.chords)")
    return moves, profile


@njit(cache=True, nogil=True, error_model="numpy")
def _cut_strip(heights, frame, moves, mine, profile, back, ahead, row_from, row_to):
    for i in mine:
        cut_move(heights, None, frame, moves[i], profile, back[i], ahead[i], row_from, row_to)
