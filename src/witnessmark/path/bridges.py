"""Bridges: short stretches of wood left standing across a cut, so that what is cut free stays where it is."""

from __future__ import annotations

import math

import numpy as np

from .track import Floats, Track

FLANK_SLOPE_RATIO = math.tan(math.radians(30.0))


def with_bridges(track: Track, count: int, length_mm: float, top_mm: float) -> Track:
    """A level track raised to ``top_mm`` over ``count`` stretches, evenly apart, with 30 degree flanks.

    ``length_mm`` is the axis's way at full height: the bridge wanted plus the cutter's diameter. Fewer bridges are
    made where the track has no room for all; none if it has room for none.
    """
    chain = track.chain_mm
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(chain[:, :2], axis=0).T))])
    rise_mm = top_mm - float(chain[0, 2])
    each_mm = length_mm + 2 * rise_mm / FLANK_SLOPE_RATIO
    count = min(count, int(along[-1] // (1.5 * each_mm)))
    if count < 1 or rise_mm <= 0.0:
        return track
    middles = (np.arange(count) + 0.5) * along[-1] / count
    knees = (middles[:, None] + np.array([-each_mm / 2, -length_mm / 2, length_mm / 2, each_mm / 2])).ravel()
    places = np.unique(np.round(np.concatenate([along, knees]), 9))
    points = np.column_stack([np.interp(places, along, chain[:, k]) for k in range(3)])
    points[:, 2] += np.interp(places, knees, np.tile([0.0, rise_mm, rise_mm, 0.0], count))
    return Track(_opened(points) if track.closed else points, track.closed)


def _opened(points: Floats) -> Floats:
    """A closed chain without its repeated first point."""
    return points[:-1]
