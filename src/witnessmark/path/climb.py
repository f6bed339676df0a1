"""Which way round a wall is cut.

Seen from above the spindle turns clockwise (M3). A tooth to the right of the axis then moves backwards, as the wood
does relative to a cutter moving forwards: tooth and wood go the same way, which is climb cutting. So a climbing
cutter travels with the wall on its right hand. (Plane geometry; climb, or down, milling as textbooks define it.)
"""

from __future__ import annotations

import numpy as np
import shapely

LOOK_ASIDE_MM = 0.02


def climbing(line: shapely.LineString, wall: shapely.Geometry) -> shapely.LineString:
    """The line along a wall's border, run so that the (prepared) wall lies on its right."""
    xy = shapely.get_coordinates(line)
    steps = np.diff(xy, axis=0)
    k = int(np.argmax((steps**2).sum(axis=1)))
    along = steps[k] / np.linalg.norm(steps[k])
    middle = (xy[k] + xy[k + 1]) / 2
    right = middle + LOOK_ASIDE_MM * np.array([along[1], -along[0]])
    left = middle - LOOK_ASIDE_MM * np.array([along[1], -along[0]])
    wall_on_right = shapely.distance(wall, shapely.Point(right)) < shapely.distance(wall, shapely.Point(left))
    return line if wall_on_right else shapely.reverse(line)
