"""What was done to a piece along one axis that stood upright."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import Columns
from witnessmark.field.profile import DISC

from .floors import Cuts
from .passes import Passes


@dataclass(frozen=True, eq=False)
class Work:
    """Passes by ``up`` (1: the axis points up, -1: down), cuts by ``up`` for the floors, what they leave of the blank
    (in the axis' frame), profiles (c, 6) of the cutters, and where each motion is written."""

    passes: dict[int, Passes]
    cuts: dict[int, tuple[Cuts, ...]]
    own: Columns
    profiles: NDArray[np.float64]
    named: Callable[[int, int], tuple[str, str, int]]  # (program, motion) -> placement, file, line

    @property
    def undercuts(self) -> bool:
        """Whether a T-slot cutter was at work."""
        discs = np.flatnonzero(self.profiles[:, 0] == DISC)
        return any(bool(np.isin(some.cutter, discs).any()) for some in self.passes.values())
