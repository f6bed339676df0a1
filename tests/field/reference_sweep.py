"""A dense and simple second implementation of the sweep, for the tests: no rows, no runs, no closed forms.

Lines: the least value over the move by ternary search (the function is convex), every cell of the grid.
Arcs: the distance to the arc. All in float64.
"""

from __future__ import annotations

import numpy as np

RIM_SLACK_MM = 2e-6


def surface(r, profile):
    """b(r), any array."""
    kind, radius, corner, slope, blend, blend_z = profile
    if kind == 1:
        return slope * r
    if kind == 2:
        ball = corner - np.sqrt(np.maximum(corner**2 - r**2, 0.0))
        return np.where(r <= blend, ball, blend_z + slope * (r - blend))
    over = np.clip(r - (radius - corner), 0.0, corner)
    return corner - np.sqrt(np.maximum(corner**2 - over**2, 0.0))


def along_and_beside(move, x, y):
    """Place along the move, distance beside it, and its length, seen from above."""
    dx, dy = move[3] - move[0], move[4] - move[1]
    length = np.hypot(dx, dy)
    tx, ty = (dx / length, dy / length) if length > 1e-9 else (1.0, 0.0)
    px, py = x - move[0], y - move[1]
    return px * tx + py * ty, np.abs(py * tx - px * ty), length if length > 1e-9 else 0.0


def line_surface(move, x, y, profile, slack=RIM_SLACK_MM):
    """Lowest place of the cutter's surface over each cell, inf where it never comes."""
    a, d, length = along_and_beside(move, x, y)
    rise = 0.0 if length == 0.0 else (move[5] - move[2]) / length
    start = min(move[2], move[5]) if length == 0.0 else move[2]
    rim = profile[1] + slack
    c = np.sqrt(np.maximum(rim**2 - d**2, 0.0))
    lo, hi = np.maximum(0.0, a - c), np.minimum(length, a + c)
    under = (d <= rim) & (lo <= hi)

    def height(u):
        return start + rise * u + surface(np.minimum(np.hypot(u - a, d), profile[1]), profile)

    p, q = lo.copy(), np.where(under, hi, lo)
    for _ in range(45):  # to 1e-8 of the way
        s, t = p + (q - p) / 3, q - (q - p) / 3
        lower = height(s) < height(t)
        p, q = np.where(lower, p, s), np.where(lower, t, q)
    least = np.minimum(np.minimum(height(p), height(q)), np.minimum(height(lo), height(np.where(under, hi, lo))))
    return np.where(under, least, np.inf)


def arc_distance(move, x, y):
    """Distance of each cell from a level arc."""
    sense = 1.0 if move[8] == 1 else -1.0
    px, py = x - move[6], y - move[7]
    around = np.hypot(move[0] - move[6], move[1] - move[7])
    begin = np.arctan2(move[1] - move[7], move[0] - move[6])
    sweep = (sense * (np.arctan2(move[4] - move[7], move[3] - move[6]) - begin)) % (2 * np.pi)
    if np.hypot(move[0] - move[3], move[1] - move[4]) < 1e-9:
        sweep = 2 * np.pi
    turn = (sense * (np.arctan2(py, px) - begin)) % (2 * np.pi)
    ends = np.minimum(np.hypot(x - move[0], y - move[1]), np.hypot(x - move[3], y - move[4]))
    return np.where(turn <= sweep, np.abs(np.hypot(px, py) - around), ends)


def move_surface(move, x, y, profile, slack=RIM_SLACK_MM):
    """Lowest place of the cutter's surface over each cell for a move of any type."""
    if move[8] == 0:
        return line_surface(move, x, y, profile, slack)
    r = arc_distance(move, x, y)
    return np.where(r <= profile[1] + slack, move[2] + surface(np.minimum(r, profile[1]), profile), np.inf)


def remove_reference(heights, grid, moves, profile, slack=RIM_SLACK_MM):
    """A new float64 field."""
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    out = heights.astype(np.float64)
    for move in moves:
        out = np.minimum(out, move_surface(move, x, y, profile, slack))
    return out
