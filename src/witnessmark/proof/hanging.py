"""Wood that hangs over the piece's open faces: what an undercut, or a cut from the side, has left in the air.

Question  where does wood stand over a face that lies open, with air between
Frame     of the axis that is upright; for z the piece frame
Units     mm
Method    cell by cell: the made top is higher than the drawn one by more than the allowance, and of the height
          between them more than the allowance is air. Cells within two of the rim of such a place are left out:
          beside walls the walls' own judge is exact
Source    plane geometry
Valid     on the cells' middles; places narrower than five cells are the walls' business
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion

from witnessmark.field.columns import Columns
from witnessmark.field.drop import top_centre
from witnessmark.job.frames import side_rotation

from .floors import FloorFaults

Floats = NDArray[np.float64]

RIM_CELLS = 2


def hanging_wood(after: Columns, triangles: Floats, allowance_mm: float) -> dict[int, FloorFaults]:
    """By the side from which the face lies open (1, -1): places on the lower end of wood that hangs over it, and how
    high above the face it reaches."""
    found = {}
    for up, side in ((1, "+z"), (-1, "-z")):
        rotation = side_rotation(side)
        lift_mm = after.z_from_mm if up > 0 else -after.z_to_mm  # from the standing frame down to the seen one
        top, grid = after.top(rotation)
        wanted, _ = top_centre(np.ascontiguousarray(triangles @ rotation.T), grid)
        wanted = (wanted - np.float32(lift_mm)).astype(np.float32)
        over = np.isfinite(wanted) & (top > wanted + np.float32(allowance_mm))
        between = after.within(np.where(over, wanted, np.inf), np.where(over, top, -np.inf), rotation)
        over[over] = top[over] - wanted[over] - between[over] > allowance_mm
        row, column = np.nonzero(binary_erosion(over, iterations=RIM_CELLS))
        if len(row):
            z = after.top(rotation, beneath=True)[0][row, column].astype(np.float64) + lift_mm
            seen = np.column_stack([grid.x_mm[column], grid.y_mm[row], z])
            by_mm = (top - wanted)[row, column].astype(np.float64)
            found[up] = FloorFaults(seen * np.array([1.0, up, up]), by_mm)
    return found
