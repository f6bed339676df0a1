"""Plane geometry of the judge: how wide a cutter is at a height, and distances between straight pieces.

Question  how wide a disc does a cutter cut at a height above its tip; how far apart are two straight pieces;
          which part of a straight edge lies within a distance of a straight piece
Frame     any level plane
Units     mm
Arrays    profile (6,) as in field.profile
Method    the inverse of the cutter's lower surface; distances by projection on the pieces
Source    plane geometry
Valid     exact to float64
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.field.profile import CONE, TAPERED_BALL, disc_radius

__all__ = ["between", "covered_span", "disc_radius", "full_height", "nearest_on"]

Floats = NDArray[np.float64]


@njit(cache=True, error_model="numpy")
def full_height(profile: Floats) -> float:
    """Height above the tip from which the cutter has its full radius."""
    kind = int(profile[0])
    if kind == CONE:
        return profile[1] * profile[3]
    if kind == TAPERED_BALL:
        return profile[5] + max(profile[1] - profile[4], 0.0) * profile[3]
    return profile[2]


@njit(cache=True, error_model="numpy")
def nearest_on(px: float, py: float, ax: float, ay: float, bx: float, by: float) -> tuple[float, float]:
    """(distance, share of the way from a to b) of the point of segment ab that is nearest to p."""
    dx, dy = bx - ax, by - ay
    length2 = dx * dx + dy * dy
    t = 0.0
    if length2 > 0.0:
        t = min(max(((px - ax) * dx + (py - ay) * dy) / length2, 0.0), 1.0)
    ex, ey = ax + t * dx - px, ay + t * dy - py
    return math.sqrt(ex * ex + ey * ey), t


@njit(cache=True, error_model="numpy")
def _cross(ax: float, ay: float, bx: float, by: float) -> float:
    return ax * by - ay * bx


@njit(cache=True, error_model="numpy")
def between(
    ax: float, ay: float, bx: float, by: float, cx: float, cy: float, dx: float, dy: float
) -> tuple[float, float, float]:
    """Segments ab and cd: (distance, share of ab, share of cd) of their nearest points; distance 0 if they cross."""
    rx, ry, sx, sy = bx - ax, by - ay, dx - cx, dy - cy
    denominator = _cross(rx, ry, sx, sy)
    if denominator != 0.0:
        t = _cross(cx - ax, cy - ay, sx, sy) / denominator
        u = _cross(cx - ax, cy - ay, rx, ry) / denominator
        if 0.0 <= t <= 1.0 and 0.0 <= u <= 1.0:
            return 0.0, t, u
    best, share = nearest_on(cx, cy, ax, ay, bx, by)
    at_ab, at_cd = share, 0.0
    distance, share = nearest_on(dx, dy, ax, ay, bx, by)
    if distance < best:
        best, at_ab, at_cd = distance, share, 1.0
    distance, share = nearest_on(ax, ay, cx, cy, dx, dy)
    if distance < best:
        best, at_ab, at_cd = distance, 0.0, share
    distance, share = nearest_on(bx, by, cx, cy, dx, dy)
    if distance < best:
        best, at_ab, at_cd = distance, 1.0, share
    return best, at_ab, at_cd


@njit(cache=True, error_model="numpy")
def _disc_span(px: float, py: float, ux: float, uy: float, cx: float, cy: float, r: float) -> tuple[float, float]:
    along = (cx - px) * ux + (cy - py) * uy
    off = (cx - px) * uy - (cy - py) * ux
    half2 = r * r - off * off
    if half2 < 0.0:
        return np.inf, -np.inf
    half = math.sqrt(half2)
    return along - half, along + half


@njit(cache=True, error_model="numpy")
def covered_span(
    px: float, py: float, ux: float, uy: float, ax: float, ay: float, bx: float, by: float, r: float
) -> tuple[float, float]:
    """From and to, along the line through p in the unit direction u, where it lies within r of segment ab.

    The strip within r of a segment is convex, so that the answer is one span; (inf, -inf) where there is none.
    """
    low, high = _disc_span(px, py, ux, uy, ax, ay, r)
    other_low, other_high = _disc_span(px, py, ux, uy, bx, by, r)
    low, high = min(low, other_low), max(high, other_high)
    length = math.hypot(bx - ax, by - ay)
    if length == 0.0:
        return low, high
    tx, ty = (bx - ax) / length, (by - ay) / length
    # the rectangle between the two discs: 0 <= along ab <= length, -r <= across ab <= r
    from_rect, to_rect = -np.inf, np.inf
    start, rate = (px - ax) * tx + (py - ay) * ty, ux * tx + uy * ty
    from_rect, to_rect = _clipped(from_rect, to_rect, start, rate, 0.0, length)
    start, rate = (py - ay) * tx - (px - ax) * ty, uy * tx - ux * ty
    from_rect, to_rect = _clipped(from_rect, to_rect, start, rate, -r, r)
    if from_rect <= to_rect:
        low, high = min(low, from_rect), max(high, to_rect)
    return low, high


@njit(cache=True, error_model="numpy")
def _clipped(low: float, high: float, start: float, rate: float, least: float, most: float) -> tuple[float, float]:
    """The span [low, high] of s, clipped to least <= start + rate s <= most."""
    if rate == 0.0:
        if start < least or start > most:
            return np.inf, -np.inf
        return low, high
    one, two = (least - start) / rate, (most - start) / rate
    return max(low, min(one, two)), min(high, max(one, two))
