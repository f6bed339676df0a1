"""What a program asks of the cutter while it cuts.

Question  how much wood goes in a minute, how deep and how wide each motion cuts, and how far each tooth moves on
Units     mm, mm3, mm3/min, s
Arrays    one value for each of the n motions: cut_mm (the greatest height of wood taken at any place), removed_mm3,
          seconds (of the time model), ways in mm
Method    bite = feed / (rpm * flutes), and width = volume / (way * depth), by definition; the volume's rate is a
          straight function of time within a motion, so that the most in any second lies between two of its corners
Source    definitions (see job.loads for the bite's usual range)
Valid     volumes by cells of the grid: a motion shorter than a few cells has a width that is some cells' accident
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.models import Cutter
from witnessmark.program.motion import ARC_CCW, ARC_CW, DWELL, PROBE, RAPID, MotionTable

Floats = NDArray[np.float64]

CUT_MM = 1e-3  # less is rounding, not wood
WINDOW_S = 1.0  # the peak of removal is that of any whole second


@dataclass(frozen=True, eq=False)
class Taken:
    """What each motion took of the wood: greatest height at any place (n,), and volume (n,)."""

    depth_mm: Floats
    removed_mm3: Floats

    def add(self, parent: NDArray[np.int64], depth_mm: Floats, removed_mm3: Floats) -> None:
        """What rows took, each belonging to a motion."""
        np.maximum.at(self.depth_mm, parent, depth_mm)
        np.add.at(self.removed_mm3, parent, removed_mm3)


def peak_bite_mm(table: MotionTable, cut_mm: Floats, cutter: Cutter) -> float:
    """The most that a tooth moves on by in a motion that cuts wood: feed / (rpm * flutes), by definition; mm.

    ``cut_mm`` (n,): the height of wood that each motion takes. 0 where none is cut at a feed, the spindle turning.
    """
    at_feed = ~np.isin(table.kind, (RAPID, DWELL, PROBE))
    cutting = at_feed & (cut_mm > CUT_MM) & (table.spindle_rpm != 0.0)
    if not cutting.any():
        return 0.0
    teeth_min = np.abs(table.spindle_rpm[cutting]) * cutter.flutes
    return float(np.max(np.nan_to_num(table.feed_mm_min[cutting], nan=0.0) / teeth_min))


def widths_mm(table: MotionTable, taken: Taken, way_mm: Floats, cutter: Cutter) -> Floats:
    """Mean width of cut of each motion, (n,): volume over way and depth, at most the cutter's diameter.

    0 in air, and for motions steeper than 45 degrees: they go down, not along.
    """
    run_mm, rise_mm = np.hypot(*(table.end_mm - table.start_mm)[:, :2].T), (table.end_mm - table.start_mm)[:, 2]
    along = np.isin(table.kind, (ARC_CW, ARC_CCW)) | (run_mm > np.abs(rise_mm))
    face_mm2 = way_mm * taken.depth_mm
    cutting = along & (taken.depth_mm > CUT_MM) & (face_mm2 > 0.0)
    wide = np.divide(taken.removed_mm3, face_mm2, out=np.zeros(len(face_mm2)), where=cutting)
    return np.minimum(wide, cutter.diameter_mm)


def peak_removal_mm3_min(removed_mm3: Floats, seconds: Floats) -> float:
    """The most wood taken in any whole second of the run (in all of it, where it is shorter), as mm3/min."""
    ends_s, volume_mm3 = _along(removed_mm3, seconds)
    whole_s = float(ends_s[-1])
    if whole_s <= 0.0:
        return 0.0
    window_s = min(WINDOW_S, whole_s)
    starts_s = np.concatenate([ends_s, ends_s - window_s])
    starts_s = starts_s[(starts_s >= 0.0) & (starts_s <= whole_s - window_s)]
    gone = np.interp(starts_s + window_s, ends_s, volume_mm3) - np.interp(starts_s, ends_s, volume_mm3)
    return float(gone.max(initial=0.0)) * 60.0 / window_s


def removed_by_minute_mm3(removed_mm3: Floats, seconds: Floats) -> tuple[float, ...]:
    """How much wood goes in each minute of the run, the last one begun included."""
    ends_s, volume_mm3 = _along(removed_mm3, seconds)
    marks_s = 60.0 * np.arange(math.ceil(float(ends_s[-1]) / 60.0 - 1e-9) + 1)
    return tuple(float(v) for v in np.diff(np.interp(marks_s, ends_s, volume_mm3)))


def _along(removed_mm3: Floats, seconds: Floats) -> tuple[Floats, Floats]:
    """Time and wood taken at the start and at the end of each motion, rising; what takes no time takes no wood."""
    return np.concatenate([[0.0], np.cumsum(seconds)]), np.concatenate([[0.0], np.cumsum(removed_mm3)])
