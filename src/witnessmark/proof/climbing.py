"""Arcs that climb, or stand in another plane, as chords: what the kernels for level arcs cannot take.

Source  NIST IR 6556 (2000) for the planes and the sense of turning (from memory): in each plane an arc turns
        counter-clockwise (G3) as seen from the positive end of the third axis; the third axis moves evenly
Valid   a chord leaves its arc by at most CHORD_MM
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from witnessmark.program.motion import ARC_CCW, MotionTable

from .passes import CHORD_MM

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}


def climbing_chords(table: MotionTable, motions: Ints) -> tuple[Floats, Ints]:
    """Chords (k, 6) from x, y, z to x, y, z, program frame, of these arcs of the table, and the motion of each."""
    parts, owners = [np.empty((0, 6))], [np.empty(0, dtype=np.int64)]
    for motion in motions.tolist():
        points = _points(table, motion)
        parts.append(np.hstack([points[:-1], points[1:]]))
        owners.append(np.full(len(points) - 1, motion, dtype=np.int64))
    return np.concatenate(parts), np.concatenate(owners)


def _points(table: MotionTable, motion: int) -> Floats:
    one, two, along = _AXES[int(table.plane[motion])]
    start, end, centre = table.start_mm[motion], table.end_mm[motion], table.centre_mm[motion]
    from_rad = math.atan2(start[two] - centre[two], start[one] - centre[one])
    to_rad = math.atan2(end[two] - centre[two], end[one] - centre[one])
    turn = 1.0 if table.kind[motion] == ARC_CCW else -1.0
    sweep_rad = (turn * (to_rad - from_rad)) % (2 * math.pi)
    if sweep_rad < 1e-12 or (start[one] == end[one] and start[two] == end[two]):
        sweep_rad = 2 * math.pi
    sweep_rad = turn * (sweep_rad + 2 * math.pi * int(table.turns[motion]))
    radii = [math.hypot(p[one] - centre[one], p[two] - centre[two]) for p in (start, end)]
    step_rad = 2 * math.acos(max(1 - CHORD_MM / max(*radii, CHORD_MM), 0.0))
    share = np.linspace(0.0, 1.0, max(2, math.ceil(abs(sweep_rad) / step_rad) + 1))
    points = np.empty((len(share), 3))
    radius = radii[0] + share * (radii[1] - radii[0])
    points[:, one] = centre[one] + radius * np.cos(from_rad + sweep_rad * share)
    points[:, two] = centre[two] + radius * np.sin(from_rad + sweep_rad * share)
    points[:, along] = start[along] + share * (end[along] - start[along])
    points[0], points[-1] = start, end
    return points
