"""Turn a field with the blank: sides up +z or -z and quarter turns about the upright axis.

Question   what does a field of the piece frame look like as the blank stands, and back
Frame      piece frame -> standing frame; both pass their x, y axes through the piece's origin
Units      mm
Arrays     rotation (3, 3) piece -> standing, whole numbers, third row (0, 0, 1) or (0, 0, -1); fields (ny, nx)
Method     a signed swap of rows and columns; the values themselves (heights) are not touched
Source     plane geometry
Valid      exact
Refuses    a rotation that lays the piece's z axis over or is not a quarter turn (ValueError)
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .grid import Grid

Floats = NDArray[np.float64]


def is_over(rotation: Floats) -> bool:
    """Whether the blank stands turned over (-z up)."""
    return bool(np.asarray(rotation)[2, 2] < 0)


def _signs(rotation: Floats) -> tuple[bool, float, float]:
    """Whether x and y swap, and the signs of the standing x and y axes."""
    r = np.asarray(rotation, dtype=np.float64)
    whole = np.rint(r)
    upright = np.array_equal(np.abs(whole[2]), [0, 0, 1]) and np.allclose(r, whole, atol=1e-9)
    if not upright or not np.allclose(whole @ whole.T, np.eye(3)):
        raise ValueError("fields turn only with +z or -z up and by quarter turns")
    swapped = whole[0, 0] == 0
    return (
        (True, float(whole[0, 1]), float(whole[1, 0])) if swapped else (False, float(whole[0, 0]), float(whole[1, 1]))
    )


def turned(field: NDArray[Any], rotation: Floats) -> NDArray[Any]:
    """A field of the piece frame (ny, nx) as it lies in the standing frame (contiguous copy)."""
    swapped, sign_x, sign_y = _signs(rotation)
    out = field.T if swapped else field
    return np.array(out[:: 1 if sign_y > 0 else -1, :: 1 if sign_x > 0 else -1], order="C")


def turned_back(field: NDArray[Any], rotation: Floats) -> NDArray[Any]:
    """A field of the standing frame as it lies in the piece frame (contiguous copy)."""
    swapped, sign_x, sign_y = _signs(rotation)
    out = field[:: 1 if sign_y > 0 else -1, :: 1 if sign_x > 0 else -1]
    return np.array(out.T if swapped else out, order="C")


def turned_grid(grid: Grid, rotation: Floats) -> Grid:
    """The grid of the turned field."""
    swapped, sign_x, sign_y = _signs(rotation)
    out = Grid(grid.y0_mm, grid.x0_mm, grid.pitch_mm, grid.ny, grid.nx) if swapped else grid
    out = out if sign_x > 0 else out.mirrored_x()
    return out if sign_y > 0 else out.mirrored_y()
