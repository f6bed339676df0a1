"""Going down into wood along the track that is to be cut: round a closed one, to and fro on an open one.

A cutter need not cut at its centre for this: it sinks at ``ENTRY_SLOPE`` along the way it is going to cut anyway, so
it is nowhere that it will not be at the end, only higher.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .track import Track

Floats = NDArray[np.float64]

ENTRY_SLOPE_RATIO = math.tan(math.radians(5.0))
MOST_TURNS = 60  # more turns than this on a short track is drilling with the wrong tool

POINT_LIKE_MM = 0.25  # a bore wider than the cutter by less than this is gone down straight


class TooShort(Exception):
    """The track is too short to go down along."""


def ramped(track: Track, lift_mm: float, least_mm: float = 0.0) -> tuple[Floats, Floats]:
    """Way down (n, 3) from ``lift_mm`` above the track's first point, and the full track (m, 3) from its end on.

    ``least_mm``: how far a track must reach along x or y to be gone down along: the diameter of a cutter that does
    not cut at its centre (common practice, no source), so that no pillar is left under it.
    The way down sinks evenly to the first point's height, a closed track's lowest; where the track is higher it is
    followed.
    """
    if lift_mm <= 0.0:
        return track.chain_mm[:1], track.chain_mm
    chain = track.chain_mm
    if float(np.ptp(chain[:, :2], axis=0).max()) < least_mm:
        raise TooShort
    along = _along(chain)
    way_mm = lift_mm / ENTRY_SLOPE_RATIO
    if along[-1] * MOST_TURNS < way_mm:
        raise TooShort
    walked, places = _round(along, way_mm) if track.closed else _to_and_fro(along, way_mm)
    down = _points_at(chain, along, places)
    down[:, 2] = np.maximum(down[:, 2], chain[0, 2] + lift_mm * (1.0 - walked / way_mm))
    if not track.closed:
        return down, chain
    return down, _from_on(chain, along, places[-1])


def is_point_like(track: Track) -> bool:
    """Whether a track is a ring so small that going round it is as good as standing still: a bore of its own size."""
    return track.closed and float(np.ptp(track.points_mm[:, :2], axis=0).max(initial=0.0)) < POINT_LIKE_MM


def plunged(track: Track, lift_mm: float) -> tuple[Floats, Floats]:
    """The same, straight down: for a ring hardly wider than a point, and a cutter that cuts at its centre."""
    chain = track.chain_mm
    return np.vstack([chain[0] + np.array([0.0, 0.0, lift_mm]), chain[0]]), chain


def _along(chain: Floats) -> Floats:
    """Way from the first point in plan, (n,)."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(chain[:, :2], axis=0).T))])


def _points_at(chain: Floats, along: Floats, places: Floats) -> Floats:
    return np.column_stack([np.interp(places, along, chain[:, k]) for k in range(3)])


def _round(along: Floats, way_mm: float) -> tuple[Floats, Floats]:
    """Round and round: the way walked at each corner passed, and the place on the ring there."""
    total = along[-1]
    turns = int(way_mm // total) + 1
    walked = (along[:-1][None, :] + total * np.arange(turns)[:, None]).ravel()
    walked = np.append(walked[walked < way_mm - 1e-9], way_mm)
    return walked, np.asarray(walked % total)


def _to_and_fro(along: Floats, way_mm: float) -> tuple[Floats, Floats]:
    """Forward and back an even number of times, ending at the start."""
    legs = 2 * max(1, math.ceil(way_mm / (2 * along[-1])))
    leg_mm = way_mm / legs
    out = np.append(along[along < leg_mm - 1e-9], leg_mm)
    there, back = out, out[::-1]
    walked, places = [there[:1]], [there[:1]]
    for k in range(legs):
        leg = there if k % 2 == 0 else back
        walked.append(k * leg_mm + np.abs(leg[1:] - leg[0]))
        places.append(leg[1:])
    return np.concatenate(walked), np.concatenate(places)


def _from_on(chain: Floats, along: Floats, place_mm: float) -> Floats:
    """A closed chain begun at a place on it, all the way round to that place."""
    here = _points_at(chain, along, np.array([place_mm]))
    later = chain[:-1][along[:-1] > place_mm + 1e-9]
    earlier = chain[:-1][along[:-1] < place_mm - 1e-9]
    return np.vstack([here, later, earlier, here])
