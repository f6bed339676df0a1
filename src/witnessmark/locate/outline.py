"""Where steps can show: places on the outline of the piece within what a placement finishes.

Frame   standing
Units   mm
Arrays  places (n, 3) at z 0 and outward normals (n, 3)
Method  the piece's silhouette, walked in steps
Source  plane geometry
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.placement import Placement
from witnessmark.shapes.solid import Solid

Floats = NDArray[np.float64]

EVERY_MM = 5.0
FAR_MM = 1e5


def outline_places(place: Placement, standing_piece: Solid) -> tuple[Floats, Floats]:
    """Every 5 mm of the outline inside the placement's region; none where it finishes no outline."""
    points: list[tuple[float, float, float]] = []
    normals: list[tuple[float, float, float]] = []
    region = shapely.box(*np.clip(np.array(place.region_mm), -FAR_MM, FAR_MM).tolist())
    for part in shapely.get_parts(standing_piece.silhouette()):
        ring = part.exterior
        runs = np.arange(0.0, ring.length, EVERY_MM)
        ends = [shapely.get_coordinates(shapely.line_interpolate_point(ring, runs + by)) for by in (-0.25, 0.25)]
        for (x0, y0), (x1, y1) in zip(*(end.tolist() for end in ends)):
            x, y, length = (x0 + x1) / 2, (y0 + y1) / 2, math.hypot(x1 - x0, y1 - y0)
            if length > 0.0 and region.covers(shapely.Point(x, y)):
                points.append((x, y, 0.0))
                normals.append(((y1 - y0) / length, -(x1 - x0) / length, 0.0))
    return np.array(points).reshape(-1, 3), np.array(normals).reshape(-1, 3)
