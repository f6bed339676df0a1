"""The assembly watched by stepping through time: at each instant test, then cut. For the tests.

Nothing is shared with the interval reasoning of the kernels: the cutter stands at many places along each move.
"""

from __future__ import annotations

import numpy as np
from reference_sweep import RIM_SLACK_MM, surface


def places(move, step_mm=0.02):
    """Tip places (k, 3) along a line or a level arc, ends included."""
    start, end = move[:3], move[3:6]
    if move[8] == 0:
        count = max(2, int(np.ceil(np.linalg.norm(end - start) / step_mm)) + 1)
        return start + np.linspace(0, 1, count)[:, None] * (end - start)
    sense = 1.0 if move[8] == 1 else -1.0
    r = np.hypot(*(start[:2] - move[6:8]))
    begin = np.arctan2(start[1] - move[7], start[0] - move[6])
    sweep = (sense * (np.arctan2(end[1] - move[7], end[0] - move[6]) - begin)) % (2 * np.pi)
    turn = begin + sense * np.linspace(0, sweep, int(np.ceil(sweep * r / step_mm)) + 2)
    return np.stack([move[6] + r * np.cos(turn), move[7] + r * np.sin(turn), np.full(len(turn), start[2])], 1)


def watch_reference(heights, grid, moves, profile, steps, graze_mm=0.02, step_mm=0.02):
    """Heights after (float64) and the deepest contact of each move with any step (n,), -inf where none."""
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    wood = heights.astype(np.float64)
    deepest = np.full(len(moves), -np.inf)
    for k, move in enumerate(moves):
        for tip in places(move, step_mm):
            r = np.hypot(x - tip[0], y - tip[1])
            under = r <= profile[1] + RIM_SLACK_MM
            for radius, low, _ in steps:
                touched = (r <= radius - graze_mm) & ~under
                if touched.any():
                    deepest[k] = max(deepest[k], wood[touched].max() - tip[2] - low)
            cut = tip[2] + surface(np.minimum(r, profile[1]), profile)
            wood = np.where(under, np.minimum(wood, cut), wood)
    return wood, deepest
