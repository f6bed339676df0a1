"""The wood between programs, whichever of its six sides is up.

Along each axis that stands upright in some placement the wood is kept as columns of its own, cut only by what was cut
standing so: those cuts stay exact along the axis for good. What stands is what all of them share; what was cut
standing on another axis is brought over at the grid's pitch (field.recolumn).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Heights
from witnessmark.field.recolumn import along_another, shared
from witnessmark.job.frames import axis_rotation

Floats = NDArray[np.float64]

SAME_MM = 1e-4  # a top lowered by less was not cut


class Wood:
    """``columns``: the wood in the frame of the axis that is upright now (``axis``: x, y or z)."""

    def __init__(self, columns: Columns) -> None:
        self.axis = "z"
        self.columns = columns
        self._cut: dict[str, Columns] = {"z": columns}

    def stand(self, up: str) -> None:
        """Have side ``up`` on top, or the one beneath: the frame is that of the axis."""
        axis = up[1]
        if axis == self.axis:
            return
        if axis not in self._cut:
            self._cut[axis] = _whole(self._cut["z"], axis)
        self.columns = self._cut[axis]
        for other, cut in self._cut.items():
            if other != axis:
                turn = axis_rotation("+" + axis) @ axis_rotation("+" + other).T
                self.columns = shared(self.columns, along_another(cut, turn))
        self.axis = axis

    def lowered(self, heights: Heights, rotation: Floats) -> None:
        """Cut down to a top field, as ``Columns.lowered``."""
        if len(self._cut) == 1:
            self.columns = self._cut[self.axis] = self.columns.lowered(heights, rotation)
            return
        top, _ = self.columns.top(rotation)
        cut = np.where(heights < top - np.float32(SAME_MM), heights, np.float32(np.inf))
        self.columns = self.columns.lowered(heights, rotation)
        self._cut[self.axis] = self._cut[self.axis].lowered(cut, rotation)

    def without(self, from_heights: Heights, to_heights: Heights, rotation: Floats) -> None:
        """Take a stretch out of every column, as ``Columns.without``."""
        own = self._cut[self.axis]
        alone = own is self.columns
        self.columns = self.columns.without(from_heights, to_heights, rotation)
        self._cut[self.axis] = self.columns if alone else own.without(from_heights, to_heights, rotation)

    def cut_along(self, axis: str) -> Columns:
        """The blank as only what was cut with that axis upright leaves it, in the axis' frame: exact along it."""
        return self._cut[axis]

    def in_piece_frame(self) -> Columns:
        """What is left, as columns along the piece's z; this stands on that axis then."""
        self.stand("+z")
        return self.columns


def _whole(columns: Columns, axis: str) -> Columns:
    """The uncut blank of z-columns as columns of another axis' frame."""
    block = Columns.block(columns.grid, columns.z_from_mm, columns.z_to_mm, None, columns.ends_mm)
    return along_another(block, axis_rotation("+" + axis))
