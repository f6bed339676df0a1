"""The next blank in a fixture that is known already: one reading says whether it lies where the last one lay.

Question  may the programs that were corrected for the last blank be run on this one
Units     mm
Method    the reading against the one that the last pose predicts. Its scatter: the reading, the touched feature, what
          the fixture repeats to, and the last pose's own covariance along the touched face
Source    JCGM 100 for adding variances; 2.576 is the normal deviate of 99 in 100 (textbook)
Valid     a fixture that has not been moved; one face
Refuses   a land (ValueError): it says nothing of x, y and turn
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.placement import Placement, Touch

from .typed import READ_U_MM, axis_of, expected_mm, made_u_mm

BEYOND = 2.576


@dataclass(frozen=True)
class Repeat:
    """``off_mm``: what was read more than predicted; right repeats stay within ``within_mm`` in 99 of 100 cases."""

    expected_mm: float
    off_mm: float
    within_mm: float

    @property
    def holds(self) -> bool:
        return abs(self.off_mm) <= self.within_mm

    def words(self) -> str:
        said = f"read {self.off_mm:+.3f} mm off what the last blank predicts (within {self.within_mm:.3f} expected)"
        if self.holds:
            return f"it lies as the last one lay: {said}"
        return f"it does NOT lie as the last one lay: {said}; clean the fixture and read again, or read every touch"


def repeated(
    place: Placement,
    touch: Touch,
    value_mm: float,
    radius_mm: float,
    pose: tuple[float, float, float],
    covariance: NDArray[np.float64],
    repeats_mm: float,
    read_u_mm: float = READ_U_MM,
) -> Repeat:
    """``pose`` (dx, dy, turn) and ``covariance`` (3, 3) of the last blank; ``repeats_mm``: what the fixture repeats
    to (standard deviation)."""
    if touch.kind == "land":
        raise ValueError("a land says nothing of where the work lies sideways")
    radius_mm = radius_mm if touch.kind == "face" else 0.0
    axis = axis_of(place, touch)
    across = 1 - axis
    point, normal = place.stand.apply(np.array(touch.point_mm)), place.stand.rotation @ np.array(touch.normal)
    c, s = math.cos(pose[2]), math.sin(pose[2])
    turn = np.array([[c, -s], [s, c]])
    face, n = turn @ point[:2] + np.array(place.shift_mm) + np.array(pose[:2]), turn @ normal[:2]
    there = expected_mm(place, touch, radius_mm)
    expected = float((radius_mm + n @ face - n[across] * there[across]) / n[axis])
    row = np.array([n[0], n[1], n[1] * (turn @ point[:2])[0] - n[0] * (turn @ point[:2])[1]])
    pose_mm2 = float(row @ np.asarray(covariance) @ row)
    u_mm = math.sqrt(read_u_mm**2 + made_u_mm(touch) ** 2 + repeats_mm**2 + pose_mm2) / abs(float(n[axis]))
    return Repeat(expected, value_mm - expected, BEYOND * u_mm)
