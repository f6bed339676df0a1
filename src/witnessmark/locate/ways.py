"""Finding the work without readings: by the board's holes, by pins in bored holes, or along a fence against a stop.

Question  where does the work lie, and how sure is that, if something else than an indicator has placed it
Frame     program frame for the pose; places in the standing frame
Units     mm, radians
Method    two things fix shift and turn: two bolts, two pins, or a fence (y and turn) and a stop (x). What each lets
          go gives a shift at the middle between them, and a turn by their distance; said about the origin as in pose
Source    JCGM 100: a play of c to either side that may lie anywhere has the standard uncertainty c / sqrt(3)
Valid     play and scatter small against the distance
Refuses   two pins in one place (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Point = tuple[float, float]

FENCE_U_MM = 0.03  # how true a planed edge lies against a fence (common practice, no source)
STOP_U_MM = 0.05  # how well a shift against a stop is known by rule or block (common practice, no source)


@dataclass(frozen=True, eq=False)
class Way:
    """``pose``: dx, dy, turn off the plan about the standing frame's origin; ``covariance`` (3, 3) of it."""

    words: str
    pose: tuple[float, float, float]
    covariance: Floats


def by_holes(one_mm: Point, other_mm: Point, repeats_mm: float) -> Way:
    """Two bolts in the board's holes, each of which repeats to ``repeats_mm`` (standard deviation) in x and y."""
    words = f"by the board's holes alone, which repeat to {repeats_mm:g} mm"
    return Way(words, (0.0, 0.0, 0.0), _two_points(one_mm, other_mm, repeats_mm))


def by_pins(one_mm: Point, other_mm: Point, play_mm: float) -> Way:
    """Two dowel pins in bored holes; ``play_mm``: how much wider the hole is than the pin."""
    words = f"by two pins with {play_mm:g} mm of play"
    return Way(words, (0.0, 0.0, 0.0), _two_points(one_mm, other_mm, play_mm / 2 / math.sqrt(3.0)))


def by_stop(start_mm: Point, length_mm: float, along: int, off_mm: float) -> Way:
    """Along a fence, shifted by ``off_mm`` more than planned; ``along``: 0 for x, 1 for y; the edge that lies against
    the fence begins at ``start_mm`` and is ``length_mm`` long."""
    middle = list(start_mm)
    middle[along] += length_mm / 2
    variance = [FENCE_U_MM**2 / 2, FENCE_U_MM**2 / 2, 2 * (FENCE_U_MM / length_mm) ** 2]
    variance[along] = STOP_U_MM**2
    pose = (off_mm, 0.0, 0.0) if along == 0 else (0.0, off_mm, 0.0)
    words = f"along the fence against the stop, {off_mm:+.2f} mm off its plan"
    return Way(words, pose, _about_origin(np.diag(variance), np.array(middle)))


def _two_points(one_mm: Point, other_mm: Point, u_mm: float) -> Floats:
    """Each held to ``u_mm`` in x and y."""
    apart_mm = math.dist(one_mm, other_mm)
    if apart_mm < 1.0:
        raise ValueError("two places as near to each other as this fix no turn")
    middle = (np.array(one_mm) + np.array(other_mm)) / 2
    return _about_origin(np.diag([u_mm**2 / 2, u_mm**2 / 2, 2 * (u_mm / apart_mm) ** 2]), middle)


def _about_origin(covariance: Floats, middle_mm: Floats) -> Floats:
    """The covariance of a pose about a place as that of the pose about the origin."""
    carry = np.eye(3)
    carry[0, 2], carry[1, 2] = middle_mm[1], -middle_mm[0]
    return np.asarray(carry @ covariance @ carry.T)
