"""A cutter's path as one unbroken chain of strokes, in the standing frame.

Every stroke starts where the last one ended, so a path cannot jump. The writer turns strokes into text.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

RAPID, CUT, ENTRY = 0, 1, 2  # a rapid joining move; cutting at the feed; going down into wood at the entry feed


@dataclass(frozen=True)
class Strokes:
    """points_mm (n + 1, 3): the tip's places; mode (n,) int8: how stroke i goes from point i to i + 1.

    All strokes are straight; the writer may replace runs of them by arcs within its tolerance.
    """

    points_mm: NDArray[np.float64]
    mode: NDArray[np.int8]

    def __post_init__(self) -> None:
        if self.points_mm.shape != (len(self.mode) + 1, 3):
            raise ValueError("a chain of n strokes has n + 1 points")

    def __len__(self) -> int:
        return len(self.mode)
