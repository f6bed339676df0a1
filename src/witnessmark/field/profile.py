"""The cutter's lower surface b(r) above its tip, as a small vector that kernels understand.

Question  how high above the tip is the cutter's surface at radius r
Units     mm
Arrays    profile (6,) float64: [kind, radius, corner radius, cone slope k, radius r0 and height h0 of the blend]
          kind 0: flat, bull or ball: flat to radius - corner, then a quarter circle of the corner radius
          kind 1: cone of slope k = dz/dr (V cutter, drill point)
          kind 2: tapered ball: a ball of the corner radius up to (r0, h0), then a cone of slope k
          kind 3: disc of a T-slot cutter: flat underneath, h0 thick, with nothing that cuts above it. The sweeps of
          field.sweep and field.watch take none: field.undercut does
Source    plane geometry
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

ROUND, CONE, TAPERED_BALL, DISC = 0, 1, 2, 3


def profile_vector(
    kind: str,
    diameter_mm: float,
    corner_radius_mm: float = 0.0,
    included_angle_deg: float = 0.0,
    thickness_mm: float = 0.0,
) -> NDArray[np.float64]:
    """The profile of a cutter of the job's kinds: flat, ball, bull, v, drill, tapered_ball, t_slot.

    For a tapered ball ``diameter_mm`` is the greatest diameter and the corner radius that of the ball;
    ``thickness_mm`` is that of a T-slot cutter's disc.
    """
    radius_mm = diameter_mm / 2
    half_rad = math.radians(included_angle_deg) / 2
    if kind == "flat":
        return np.array([ROUND, radius_mm, 0.0, 0.0, radius_mm, 0.0])
    if kind == "t_slot":
        return np.array([DISC, radius_mm, 0.0, 0.0, radius_mm, thickness_mm])
    if kind == "ball":
        return np.array([ROUND, radius_mm, radius_mm, 0.0, 0.0, 0.0])
    if kind == "bull":
        return np.array([ROUND, radius_mm, corner_radius_mm, 0.0, radius_mm - corner_radius_mm, 0.0])
    if kind in ("v", "drill"):
        return np.array([CONE, radius_mm, 0.0, 1.0 / math.tan(half_rad), 0.0, 0.0])
    if kind == "tapered_ball":
        blend_radius_mm = corner_radius_mm * math.cos(half_rad)
        blend_height_mm = corner_radius_mm * (1.0 - math.sin(half_rad))
        slope = 1.0 / math.tan(half_rad)
        return np.array([TAPERED_BALL, radius_mm, corner_radius_mm, slope, blend_radius_mm, blend_height_mm])
    raise ValueError(f"unknown cutter kind {kind!r}")


def shrunken(profile: NDArray[np.float64], by_mm: float) -> tuple[NDArray[np.float64], float] | None:
    """A profile and a lift of its tip: within ``by_mm`` of any place under it, the cutter's surface is no higher.

    What the lifted, shrunken cutter sweeps at a cell's centre, the cutter sweeps over the whole cell (``by_mm`` its
    half diagonal). A corner's sphere or torus keeps its middle; a cone is raised. None where nothing is left.
    """
    radius, corner, slope = float(profile[1]), float(profile[2]), float(profile[3])
    if radius <= by_mm:
        return None
    less = profile.copy()
    less[1] = radius - by_mm
    if int(profile[0]) == ROUND:
        flat = radius - corner
        lift = max(0.0, by_mm - flat)
        less[2], less[4] = corner - lift, flat - by_mm + lift
        return less, lift
    return less, slope * by_mm  # a cone, and a tapered ball nowhere steeper than its cone


@njit(cache=True, inline="always")
def surface_height(r: float, profile: NDArray[np.float64]) -> float:
    """b(r) for 0 <= r <= radius."""
    kind = int(profile[0])
    if kind == CONE:
        return profile[3] * r
    corner = profile[2]
    if kind == TAPERED_BALL:
        if r > profile[4]:
            return profile[5] + profile[3] * (r - profile[4])
        return corner - math.sqrt(max(corner * corner - r * r, 0.0))
    over = r - (profile[1] - corner)
    if over <= 0.0 or corner == 0.0:
        return 0.0
    return corner - math.sqrt(max(corner * corner - over * over, 0.0))


@njit(cache=True, error_model="numpy")
def disc_radius(h: float, profile: NDArray[np.float64]) -> float:
    """Radius of the disc that is cut at height h above the tip; -1 below the tip, and above a disc."""
    if h < 0.0:
        return -1.0
    kind = int(profile[0])
    if kind == DISC:
        return profile[1] if h <= profile[5] else -1.0
    radius, corner, slope = profile[1], profile[2], profile[3]
    if kind == CONE:
        return min(radius, h / slope)
    if kind == TAPERED_BALL:
        if h > profile[5]:
            return min(radius, profile[4] + (h - profile[5]) / slope)
        return math.sqrt(max(2.0 * corner * h - h * h, 0.0))
    if h >= corner:
        return radius
    return radius - corner + math.sqrt(max(2.0 * corner * h - h * h, 0.0))
