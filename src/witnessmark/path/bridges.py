"""Bridges: short stretches of wood left standing across the cut, so that what is cut free stays where it is.

Every track of every cutter goes over them, with flanks; no straight feed between tracks runs through one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely

from witnessmark.job.placement import Bridge

from .track import Floats, Track

FLANK_SLOPE_RATIO = math.tan(math.radians(30.0))
SHY_MM = 0.02  # the axis stays this much further off a bridge than the cutter's radius


class Bridges:
    """What one cutter of this radius has to go over."""

    def __init__(self, bridges: Sequence[Bridge], radius_mm: float) -> None:
        self._bridges = bridges
        self._radius_mm = radius_mm

    @cached_property
    def _zones(self) -> list[tuple[shapely.Geometry, float]]:
        """Where the axis must not be lower, and the height there."""
        zones = []
        for bridge in self._bridges:
            zone = shapely.buffer(shapely.Polygon(bridge.outline_mm), self._radius_mm + SHY_MM, quad_segs=16)
            shapely.prepare(zone)
            zones.append((zone, bridge.z_to_mm))
        return zones

    def over(self, track: Track) -> Track:
        """The track, raised where it would cut a bridge, with 30 degree flanks to both sides; else the same one."""
        for zone, top_mm in self._zones:
            track = _over(track, zone, top_mm)
        return track

    def in_the_way(self, from_mm: Floats, to_mm: Floats) -> bool:
        """Whether a straight feed between two places (3,) would cut a bridge."""
        low_mm = min(float(from_mm[2]), float(to_mm[2]))
        way = shapely.LineString([from_mm[:2], to_mm[:2]])
        return any(low_mm < top_mm and shapely.intersects(zone, way) for zone, top_mm in self._zones)


def _over(track: Track, zone: shapely.Geometry, top_mm: float) -> Track:
    chain = track.chain_mm
    if float(chain[:, 2].min()) >= top_mm or len(chain) < 2:
        return track
    line = shapely.LineString(chain[:, :2])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(chain[:, :2], axis=0).T))])
    spans = _spans(line, zone)
    if not len(spans):
        return track
    if track.closed:  # the flanks of a span near the seam run over it
        spans = np.vstack([spans - along[-1], spans, spans + along[-1]])
    flank_mm = (top_mm - float(chain[:, 2].min())) / FLANK_SLOPE_RATIO
    knees = np.concatenate([spans.ravel(), spans[:, 0] - flank_mm, spans[:, 1] + flank_mm])
    knees = knees[(knees > 0.0) & (knees < along[-1])]
    places = np.unique(np.round(np.concatenate([along, knees]), 9))
    points = np.column_stack([np.interp(places, along, chain[:, k]) for k in range(3)])
    away = np.maximum(spans[:, 0] - places[:, None], places[:, None] - spans[:, 1]).clip(min=0.0).min(axis=1)
    points[:, 2] = np.maximum(points[:, 2], top_mm - FLANK_SLOPE_RATIO * away)
    return Track(points[:-1] if track.closed else points, track.closed)


def _spans(line: shapely.LineString, zone: shapely.Geometry) -> Floats:
    """(k, 2) from and to along the line, where it runs within the zone."""
    found = []
    walked = 0.0
    corners = shapely.get_coordinates(line)
    for a, b in pairwise(corners):
        step_mm = float(np.hypot(*(b - a)))
        inside = shapely.intersection(shapely.LineString([a, b]), zone) if step_mm > 0.0 else None
        if inside is not None and not inside.is_empty:
            for part in shapely.get_parts(inside):
                ends = np.hypot(*(shapely.get_coordinates(part) - a).T)
                found.append((walked + float(ends.min()), walked + float(ends.max())))
        walked += step_mm
    return np.array(found).reshape(-1, 2)
