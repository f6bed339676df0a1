"""What a program asks of the cutter while it cuts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.models import Cutter
from witnessmark.program.motion import DWELL, PROBE, RAPID, MotionTable

CUT_MM = 1e-3  # less is rounding, not wood


def peak_bite_mm(table: MotionTable, cut_mm: NDArray[np.float64], cutter: Cutter) -> float:
    """The most that a tooth moves on by in a motion that cuts wood: feed / (rpm * flutes), by definition; mm.

    ``cut_mm`` (n,): the height of wood that each motion takes. 0 where none is cut at a feed, the spindle turning.
    """
    at_feed = ~np.isin(table.kind, (RAPID, DWELL, PROBE))
    cutting = at_feed & (cut_mm > CUT_MM) & (table.spindle_rpm != 0.0)
    if not cutting.any():
        return 0.0
    teeth_min = np.abs(table.spindle_rpm[cutting]) * cutter.flutes
    return float(np.max(np.nan_to_num(table.feed_mm_min[cutting], nan=0.0) / teeth_min))
