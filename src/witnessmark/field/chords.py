"""Arcs that climb, or stand in another plane, as chords for the sweeps.

Question  which straight moves stand in for arcs that the sweeps do not take
Frame     any right-handed frame; the planes' senses are those of the program (see Source)
Units     mm
Arrays    start_mm, end_mm, centre_mm (n, 3) float64 (the centre's place along the third axis is not used);
          plane (n,) 17, 18 or 19; counter_clockwise (n,) bool; turns (n,) whole turns beyond the first
          -> rows (m, 9) float64 as field.sweep takes them, type 0; parent (m,) int64: the arc each comes from
Method    equal parts of the angle; a straight line between two points of a curve p(f) leaves it by at most
          max |p''| / 8 (linear interpolation), here r angle^2 / 8. The third axis moves evenly with the angle,
          and so does the radius where start and end lie at slightly different distances from the centre.
Source    NIST IR 6556 (2000) for planes and senses (from memory): counter-clockwise as seen from the positive
          end of the third axis, which is z (17), y (18), x (19); the interpolation bound is textbook
Valid     within ``within_mm`` everywhere; neighbours join exactly, first and last points are the arc's own
Refuses   ValueError: a plane other than 17, 18, 19; a place that is not a number; a ``within_mm`` not above 0
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CHORD_MM = 0.002
SAME_MM = 1e-9  # an arc whose ends lie nearer than this, seen along the third axis, goes all the way round

_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}  # first, second and third axis of each plane


def chords(
    start_mm: Floats,
    end_mm: Floats,
    centre_mm: Floats,
    plane: NDArray[np.integer],
    counter_clockwise: NDArray[np.bool_],
    turns: NDArray[np.integer],
    within_mm: float = CHORD_MM,
) -> tuple[Floats, Ints]:
    """Straight rows (m, 9) within ``within_mm`` of n arcs, and the arc (m,) that each belongs to."""
    start, end, centre = (np.asarray(a, dtype=np.float64).reshape(-1, 3) for a in (start_mm, end_mm, centre_mm))
    axes = _axes_of(np.asarray(plane))
    from_first, from_second, _ = _picked(start - centre, axes)
    to_first, to_second, _ = _picked(end - centre, axes)
    if not (np.isfinite([from_first, from_second, to_first, to_second]).all() and within_mm > 0.0):
        raise ValueError("an arc's place is not a number, or the chords' tolerance is not above 0")
    begin_rad, sweep_rad = _sweep(from_first, from_second, to_first, to_second, counter_clockwise, turns)
    begin_r, end_r = np.hypot(from_first, from_second), np.hypot(to_first, to_second)
    step_rad = np.sqrt(8.0 * within_mm / np.maximum(np.maximum(begin_r, end_r), within_mm))
    parts = np.maximum(1, np.ceil(np.abs(sweep_rad) / step_rad - 1e-12)).astype(np.int64)
    parent = np.repeat(np.arange(len(start)), parts)
    nth = np.arange(len(parent)) - np.repeat(np.cumsum(parts) - parts, parts)

    def points(share: Floats) -> Floats:
        turn = begin_rad[parent] + share * sweep_rad[parent]
        radius = begin_r[parent] + share * (end_r - begin_r)[parent]
        out = start[parent] + share[:, None] * (end - start)[parent]  # right along the third axis
        which, row = axes[parent], np.arange(len(parent))
        out[row, which[:, 0]] = centre[parent, which[:, 0]] + radius * np.cos(turn)
        out[row, which[:, 1]] = centre[parent, which[:, 1]] + radius * np.sin(turn)
        return np.where((share == 0.0)[:, None], start[parent], np.where((share == 1.0)[:, None], end[parent], out))

    rows = np.zeros((len(parent), 9))
    rows[:, :3], rows[:, 3:6] = points(nth / parts[parent]), points((nth + 1) / parts[parent])
    return rows, parent


def _axes_of(plane: NDArray[np.integer]) -> Ints:
    if not np.isin(plane, (17, 18, 19)).all():
        raise ValueError("a plane is 17, 18 or 19")
    return np.array([_AXES[int(p)] for p in plane.ravel()], dtype=np.int64).reshape(-1, 3)


def _picked(places: Floats, axes: Ints) -> tuple[Floats, Floats, Floats]:
    picked = np.take_along_axis(places, axes, axis=1)
    return picked[:, 0], picked[:, 1], picked[:, 2]


def _sweep(
    from_first: Floats,
    from_second: Floats,
    to_first: Floats,
    to_second: Floats,
    counter_clockwise: NDArray[np.bool_],
    turns: NDArray[np.integer],
) -> tuple[Floats, Floats]:
    """Angle of the start, and the signed angle swept, rad."""
    begin_rad = np.arctan2(from_second, from_first)
    sense = np.where(np.asarray(counter_clockwise), 1.0, -1.0)
    sweep_rad = (sense * (np.arctan2(to_second, to_first) - begin_rad)) % (2 * np.pi)
    same = np.hypot(to_first - from_first, to_second - from_second) < SAME_MM
    sweep_rad = np.where(same, 2 * np.pi, sweep_rad)
    return begin_rad, sense * (sweep_rad + 2 * np.pi * np.asarray(turns, dtype=np.float64))
