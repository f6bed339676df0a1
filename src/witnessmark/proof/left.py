"""Wood left beyond the allowance, and what of it is excused."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Left:
    """n places (n, 3) in the piece frame, and the wood before each along the normal (n,).

    ``eased_mm`` (n,): the radius of the cutter that had to leave it, infinite where a bridge does, 0 for a fault.
    """

    at_mm: Floats
    by_mm: Floats
    eased_mm: Floats

    def __len__(self) -> int:
        return len(self.by_mm)

    def kept(self, rows: NDArray[np.int64]) -> Left:
        return Left(self.at_mm[rows], self.by_mm[rows], self.eased_mm[rows])

    @property
    def fails(self) -> bool:
        """Whether any place is a fault."""
        return bool((self.eased_mm == 0).any())

    @property
    def worst_fault_mm(self) -> float:
        return float(self.by_mm[self.eased_mm == 0].max(initial=0.0))

    @staticmethod
    def joined(parts: list[Left]) -> Left:
        """All of several."""
        return Left(
            np.concatenate([np.empty((0, 3)), *(part.at_mm for part in parts)]),
            np.concatenate([np.empty(0), *(part.by_mm for part in parts)]),
            np.concatenate([np.empty(0), *(part.eased_mm for part in parts)]),
        )
