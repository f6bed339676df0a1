"""Which moves come over a rectangle: a quick look before a close one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]


def rows_over(rows: Floats, box_mm: Box, reach_mm: float) -> NDArray[np.bool_]:
    """Moves (n, 9) that may come within ``reach_mm`` of a rectangle (x, y from; x, y to); arcs by their circle."""
    arc = rows[:, 8] != 0
    radius = np.where(arc, np.hypot(rows[:, 0] - rows[:, 6], rows[:, 1] - rows[:, 7]), 0.0)
    over = np.ones(len(rows), dtype=bool)
    for axis in (0, 1):
        one, other, centre = rows[:, axis], rows[:, axis + 3], rows[:, axis + 6]
        low = np.where(arc, centre - radius, np.minimum(one, other))
        high = np.where(arc, centre + radius, np.maximum(one, other))
        over &= (high + reach_mm >= box_mm[axis]) & (low - reach_mm <= box_mm[axis + 2])
    return over
