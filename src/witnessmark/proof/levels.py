"""The heights at which walls are judged: where something changes, and regularly between.

Flat cutters: just above and just below each height at which they worked. Round ones: where they touch the wall
(R - R sin lean above the tip), and the top of the ridge that two passes leave between them on a wall of that lean.
Where the cuts of both sides nearly meet: half way between them, where a web may be left.
The piece: just above and just below the heights at which its steep faces begin and end.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.profile import DISC

from .passes import Passes
from .plane import full_height

Floats = NDArray[np.float64]

JUST_MM = 0.01
APART_MM = 0.02  # levels closer than this are one
EVERY_MM = 0.5
LEAST_RUN_MM = 2.0  # heights at which a cutter ran less than this on the level are left to the regular levels
MOST_TIPS = 240
MOST_HEIGHTS = 60
_LEANS = 3


def judged_levels(triangles: Floats, passes: dict[int, Passes], profiles: Floats) -> Floats:
    """Heights in the piece frame, mm, rising; ``passes`` by ``up`` (+1, -1)."""
    bottom, top = float(triangles[:, :, 2].min()), float(triangles[:, :, 2].max())
    leans = _leans_rad(triangles)
    ridges: list[Floats] = []
    touching: list[Floats] = []
    ends: dict[int, list[Floats]] = {1: [np.empty(0)], -1: [np.empty(0)]}
    for up, some in passes.items():
        for cutter in np.unique(some.cutter):
            tips = _tips(some.kept(some.cutter == cutter))
            ends[up].append(up * tips)
            for levels, kept in zip(_of_cutter(tips, profiles[cutter], leans), (ridges, touching)):
                kept.append(up * levels)
            if profiles[cutter, 0] == DISC:
                tops = tips + profiles[cutter, 5]
                touching += [up * (tops - JUST_MM), up * (tops + JUST_MM)]
    ridges.append(_webs(np.unique(np.concatenate(ends[1])), np.unique(np.concatenate(ends[-1]))))
    levels = np.empty(0)
    for more in (ridges, _piece_heights(triangles), touching, [np.arange(bottom + JUST_MM, top, EVERY_MM)]):
        levels = _with(levels, np.concatenate([np.empty(0), *more]))
    return levels[(levels > bottom) & (levels < top)]


def _webs(from_above: Floats, from_below: Floats) -> Floats:
    """Half way between where the cuts of one side and of the other end, where a thin web may be left between."""
    gap = from_above[:, None] - from_below[None, :]
    above, below = np.nonzero((gap > APART_MM) & (gap < 2 * EVERY_MM))
    return (from_above[above] + from_below[below]) / 2


def _with(levels: Floats, more: Floats) -> Floats:
    """Rising levels and those of ``more`` that are not too close to one of them or to each other."""
    kept: list[float] = []
    for level in np.sort(more).tolist():
        i = int(np.searchsorted(levels, level))
        clear = (i == 0 or level - levels[i - 1] >= APART_MM) and (i == len(levels) or levels[i] - level >= APART_MM)
        if clear and (not kept or level - kept[-1] >= APART_MM - 1e-9):
            kept.append(level)
    return np.sort(np.concatenate([levels, kept]))


def _tips(passes: Passes) -> Floats:
    """Heights (times up) at which a cutter ran level, the longest runs, rising."""
    ends = passes.ends
    level = np.abs(ends[:, 2] - ends[:, 5]) < 1e-6
    if not level.any():
        return np.empty(0)
    run = np.hypot(ends[level, 3] - ends[level, 0], ends[level, 4] - ends[level, 1])
    heights, where = np.unique(np.round(ends[level, 2], 3), return_inverse=True)
    lengths = np.bincount(where, weights=run)
    longest = np.argsort(-lengths, kind="stable")[:MOST_TIPS]
    return np.sort(heights[longest[lengths[longest] >= LEAST_RUN_MM]])


def _of_cutter(tips: Floats, profile: Floats, leans_rad: list[float]) -> tuple[Floats, Floats]:
    """Heights (times up) where a cutter leaves ridges or the edges of steps, and where it touches."""
    full = full_height(profile)
    if not len(tips) or full == 0.0:
        return tips - JUST_MM, tips + JUST_MM
    ridges, touching = [np.empty(0)], [tips + JUST_MM]
    for lean in leans_rad or [0.0]:
        touching.append(tips + full * (1.0 - math.sin(lean)))
        ridges.append(_ridges(tips[:-1], tips[1:], full, lean))
    return np.concatenate(ridges), np.concatenate(touching)


def _ridges(lower: Floats, upper: Floats, round_mm: float, lean_rad: float) -> Floats:
    """Heights of the ridges between passes whose rounding (radius ``round_mm``) touches a wall of that lean.

    Where two rounds meet; or, above the lower one's middle, where the upper round meets the upright path of the
    lower one's side.
    """
    half = (upper - lower) / math.cos(lean_rad) / 2
    meeting = np.sqrt(np.maximum(round_mm**2 - half**2, 0.0)) * math.sin(lean_rad)
    ridge = (lower + upper) / 2 + round_mm - meeting
    across = np.clip(round_mm - (upper - lower) * math.tan(lean_rad), 0.0, round_mm)
    beside = upper + round_mm - np.sqrt(round_mm**2 - across**2)
    return np.where(ridge > lower + round_mm, beside, ridge)


def _leans_rad(triangles: Floats) -> list[float]:
    """The commonest leans off vertical of the steep faces, by area, to a degree."""
    cross = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    area = np.linalg.norm(cross, axis=1)
    lean_deg = np.degrees(np.arcsin(np.clip(np.abs(cross[:, 2]) / np.where(area > 0, area, 1.0), 0.0, 1.0)))
    steep = (lean_deg < 45.0) & (area > 0)
    if not steep.any():
        return []
    nearest = np.round(lean_deg[steep]).astype(np.int64)
    weight = np.bincount(nearest, weights=area[steep])
    commonest = np.argsort(-weight)[:_LEANS]
    means = np.bincount(nearest, weights=area[steep] * lean_deg[steep]) / np.where(weight > 0, weight, 1.0)
    return [math.radians(float(means[i])) for i in commonest if weight[i] > 0.1 * weight.sum()]


def _piece_heights(triangles: Floats) -> list[Floats]:
    heights, counts = np.unique(np.round(triangles[:, :, 2], 3), return_counts=True)
    often = heights[np.argsort(-counts, kind="stable")[:MOST_HEIGHTS]]
    return [often - JUST_MM, often + JUST_MM]
