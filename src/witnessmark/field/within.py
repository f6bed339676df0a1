"""Whether places lie in wood, and the first of many moves that keeps all of them in it.

Question   are all of these places, moved rigidly about z, within wood
Frame      that of the columns
Units      mm, radians
Arrays     places (n, 3); moves (m, 4): dx, dy, dz, turn about ``middle`` (2,)
Method     each place looked up in the intervals of the column it falls in; a move is given up at its first place
           without wood, and the next move begins with the place that stopped the last
Source     none needed
Valid      exact in z, to the cell sideways
Refuses    nothing
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .columns import Columns

Floats = NDArray[np.float64]
Wood = tuple[NDArray[np.int32], NDArray[np.float32], NDArray[np.float32], int, int, float, float, float]


def places_without_wood(columns: Columns, places_mm: Floats, beside_cells: int = 0) -> NDArray[np.int64]:
    """The numbers of the places (n, 3) that lie in no wood, not even in that of so many cells beside."""
    inside = np.empty(len(places_mm), dtype=np.bool_)
    _look(np.ascontiguousarray(places_mm, dtype=np.float64), _wood(columns), beside_cells, inside)
    return np.flatnonzero(~inside)


def first_move_within(
    columns: Columns, places_mm: Floats, moves: Floats, middle_mm: Floats, beside_cells: int = 0
) -> int:
    """The first of the moves (m, 4) that leaves all places (n, 3) in wood, or beside it; -1 where none does."""
    places = np.ascontiguousarray(places_mm, dtype=np.float64)
    moves = np.ascontiguousarray(moves, dtype=np.float64)
    return int(_first(places, moves, middle_mm[0], middle_mm[1], _wood(columns), beside_cells))


def _wood(columns: Columns) -> Wood:
    grid = columns.grid
    cells = (grid.nx, grid.ny, grid.x0_mm, grid.y0_mm, grid.pitch_mm)
    return (columns.first, columns.low, columns.high, *cells)


@njit(cache=True, inline="always")
def _in_wood(x, y, z, wood, beside):  # type: ignore[no-untyped-def]
    first, low, high, nx, ny, x0, y0, pitch = wood
    i, j = int(np.floor((x - x0) / pitch)), int(np.floor((y - y0) / pitch))
    for b in range(max(0, j - beside), min(ny, j + beside + 1)):
        for a in range(max(0, i - beside), min(nx, i + beside + 1)):
            cell = b * nx + a
            for k in range(first[cell], first[cell + 1]):
                if low[k] <= z <= high[k]:
                    return True
    return False


@njit(cache=True, nogil=True)
def _look(places: Floats, wood: Wood, beside: int, inside: NDArray[np.bool_]) -> None:
    for n in range(places.shape[0]):
        inside[n] = _in_wood(places[n, 0], places[n, 1], places[n, 2], wood, beside)


@njit(cache=True, nogil=True)
def _first(places: Floats, moves: Floats, mx: float, my: float, wood: Wood, beside: int) -> int:
    count = places.shape[0]
    last = 0
    for m in range(moves.shape[0]):
        c, s = np.cos(moves[m, 3]), np.sin(moves[m, 3])
        fits = True
        for k in range(count):
            n = last + k  # the place that stopped the last move, and those after it, first
            if n >= count:
                n -= count
            x, y = places[n, 0] - mx, places[n, 1] - my
            at_x, at_y = c * x - s * y + mx + moves[m, 0], s * x + c * y + my + moves[m, 1]
            if not _in_wood(at_x, at_y, places[n, 2] + moves[m, 2], wood, beside):
                last, fits = n, False
                break
        if fits:
            return m
    return -1
