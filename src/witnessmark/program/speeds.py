"""How fast each motion begins and ends when the controller looks ahead.

Question  given each motion's length, greatest speed and acceleration, and the greatest speed through each corner,
          what are the speeds at the corners, and how long does each motion take?
Frame     none: along the path
Units     mm, mm/s, mm/s2, s
Arrays    length, cruise, acceleration (n,) float64, all above 0; corner (n + 1,) float64 >= 0: the greatest speed at
          each end of a motion (corner[0] and corner[n] are usually 0). Out: seconds (n,) float64
Method    backward: v[i] = min(corner[i], sqrt(v[i+1]^2 + 2 a s)); then forward the same; each motion is a trapezoid
          between its end speeds, or a triangle where it is too short to reach its cruising speed
Source    trapezoidal velocity profile: Biagiotti and Melchiorri 2008 (from memory)
Valid     no limit on jerk, and the controller looks ahead as far as is needed; real ones take somewhat longer
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def trapezoid_s(length: float, cruise: float, acceleration: float, v0: float, v1: float) -> float:
    """Seconds over a length from speed v0 to v1 with one cruising speed between; v0, v1 <= cruise."""
    peak = min(cruise, math.sqrt(acceleration * length + 0.5 * (v0 * v0 + v1 * v1)))
    speeding = (peak * peak - v0 * v0) / (2.0 * acceleration)
    slowing = (peak * peak - v1 * v1) / (2.0 * acceleration)
    cruising = max(length - speeding - slowing, 0.0)
    return (2.0 * peak - v0 - v1) / acceleration + cruising / peak


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def motion_seconds(
    length: NDArray[np.float64],
    cruise: NDArray[np.float64],
    acceleration: NDArray[np.float64],
    corner: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Seconds of each motion of a chain; see the head of this module."""
    n = len(length)
    speed = corner.copy()
    for i in range(n - 1, -1, -1):
        speed[i] = min(speed[i], math.sqrt(speed[i + 1] ** 2 + 2.0 * acceleration[i] * length[i]))
    seconds = np.empty(n)
    for i in range(n):
        speed[i + 1] = min(speed[i + 1], math.sqrt(speed[i] ** 2 + 2.0 * acceleration[i] * length[i]))
        seconds[i] = trapezoid_s(length[i], cruise[i], acceleration[i], speed[i], speed[i + 1])
    return seconds
