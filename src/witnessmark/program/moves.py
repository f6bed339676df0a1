"""A motion table carried back into the standing frame, as rows that the field kernels take.

Frame   standing -> program turns by ``turn_rad`` about +z, then shifts by (dx, dy); here the other way
Arrays  rows (k, 9) float64: from x, y, z; to x, y, z; centre x, y (0 where none); 0 line, 1 arc counter-clockwise,
        2 arc clockwise (arcs level). In the order of the table; dwells make no row, a full circle makes two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .motion import ARC_CCW, ARC_CW, DWELL, MotionTable

LINE, COUNTER_CLOCKWISE, CLOCKWISE = 0.0, 1.0, 2.0


@dataclass(frozen=True)
class Carried:
    """``parent`` (k,): the motion that each row comes from. ``chorded``: motions that make no row here, because
    they are arcs that climb or stand in another plane and must be cut into chords first.
    """

    rows: NDArray[np.float64]
    parent: NDArray[np.int64]
    chorded: NDArray[np.int64]


def moved(table: MotionTable, by_mm: tuple[float, float, float]) -> MotionTable:
    """The same motions in a frame in which the table's own zero lies at ``by_mm``."""
    if by_mm == (0.0, 0.0, 0.0):
        return table
    by = np.array(by_mm)
    return replace(table, start_mm=table.start_mm + by, end_mm=table.end_mm + by, centre_mm=table.centre_mm + by)


def back_to_standing(
    points_mm: NDArray[np.float64], dx_mm: float, dy_mm: float, turn_rad: float = 0.0
) -> NDArray[np.float64]:
    """Places (..., 3) of the program frame in the standing frame, mm; z is the same in both."""
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    x, y = points_mm[..., 0] - dx_mm, points_mm[..., 1] - dy_mm
    return np.stack([c * x + s * y, c * y - s * x, points_mm[..., 2]], axis=-1)


def carried_back(table: MotionTable, dx_mm: float, dy_mm: float, turn_rad: float = 0.0) -> Carried:
    """The table's lines and level arcs as rows of the standing frame."""
    arc = (table.kind == ARC_CW) | (table.kind == ARC_CCW)
    level = (table.plane == 17) & (table.start_mm[:, 2] == table.end_mm[:, 2])
    usable = (table.kind != DWELL) & (~arc | level)
    full = usable & arc & np.all(table.start_mm[:, :2] == table.end_mm[:, :2], axis=1)
    parent = np.repeat(np.arange(len(table)), usable.astype(np.int64) + full)
    rows = np.zeros((len(parent), 9))
    rows[:, 0:3] = back_to_standing(table.start_mm[parent], dx_mm, dy_mm, turn_rad)
    rows[:, 3:6] = back_to_standing(table.end_mm[parent], dx_mm, dy_mm, turn_rad)
    centre = back_to_standing(table.centre_mm[parent], dx_mm, dy_mm, turn_rad)[:, :2]
    rows[:, 6:8] = np.where(arc[parent, None], centre, 0.0)
    way = np.where(table.kind == ARC_CCW, COUNTER_CLOCKWISE, CLOCKWISE)
    rows[:, 8] = np.where(arc, way, LINE)[parent]
    _split_circles(rows, parent, full)
    return Carried(rows, parent, np.flatnonzero(arc & ~level))


def _split_circles(rows: NDArray[np.float64], parent: NDArray[np.int64], full: NDArray[np.bool_]) -> None:
    """Give each full circle's two rows the point opposite its start to meet at."""
    first = np.flatnonzero(full[parent])[::2]
    opposite = 2.0 * rows[first, 6:8] - rows[first, 0:2]
    rows[first, 3:5] = opposite
    rows[first + 1, 0:2] = opposite
