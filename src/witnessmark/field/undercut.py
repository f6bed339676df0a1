"""What a T-slot or keyseat cutter takes: a disc under wood that stays, so from .. to out of every column.

Question  between which heights does the disc sweep over each cell, in parts of a program where that is one stretch
Frame     standing frame; rows along +y, columns along +x
Units     mm
Arrays    moves (n, 9) float64 as in field.sweep, the tip being the disc's underside; fields (ny, nx) float32
Method    over a cell one straight or level move sweeps from its least tip to its greatest tip and the thickness: both
          are sweeps of a flat cutter, the second one upside down. Moves in a row whose tips differ by no more than
          the thickness overlap one another at every cell that they share, so that they make one stretch too, if none
          of them falls or none of them rises: then it is known which of a cell's visits came first
Source    plane geometry, derived here
Valid     as field.sweep: exact at cell centres for lines of any slope and level arcs
Refuses   ValueError, as field.sweep
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from .grid import Grid, Heights
from .profile import profile_vector
from .sweep import remove

Floats = NDArray[np.float64]

FAR_MM = 1e6


def stretches(moves: Floats, thickness_mm: float) -> Iterator[slice]:
    """Parts of the moves, in order, within each of which the disc sweeps one stretch over every cell, rising or
    falling all the way (from move to move too)."""
    low, high = np.minimum(moves[:, 2], moves[:, 5]), np.maximum(moves[:, 2], moves[:, 5])
    start = 0
    while start < len(moves):
        lowest, highest, end = low[start], high[start], start + 1
        rises, falls = _ways(moves[start, 2], moves[start, 5], False, False)
        while end < len(moves):
            lowest, highest = min(lowest, low[end]), max(highest, high[end])
            rises, falls = _ways(moves[end - 1, 5], moves[end, 2], rises, falls)
            rises, falls = _ways(moves[end, 2], moves[end, 5], rises, falls)
            if highest - lowest > thickness_mm or (rises and falls):
                break
            end += 1
        yield slice(start, end)
        start = end


def _ways(from_mm: float, to_mm: float, rises: bool, falls: bool) -> tuple[bool, bool]:
    return rises or to_mm > from_mm, falls or to_mm < from_mm


def swept(grid: Grid, moves: Floats, radius_mm: float, thickness_mm: float) -> tuple[Heights, Heights]:
    """From and to over each cell for the moves of one stretch; inf and -inf where the disc does not come."""
    flat = profile_vector("flat", 2 * radius_mm)
    low, high = grid.full(FAR_MM), grid.full(FAR_MM)
    remove(low, grid, moves, flat)
    over = moves.copy()
    over[:, [2, 5]] = -(moves[:, [2, 5]] + thickness_mm)
    remove(high, grid, over, flat)
    low[low == np.float32(FAR_MM)] = np.inf
    np.negative(high, out=high)
    high[high == np.float32(-FAR_MM)] = -np.inf
    return low, high
