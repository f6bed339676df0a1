"""A solid with upright walls over an outline."""

from __future__ import annotations

import manifold3d
import numpy as np
import shapely

from witnessmark.job.errors import refuse

from .rings import Area
from .solid import Solid


def upright(area: Area, thickness_mm: float, z_from_mm: float = 0.0) -> Solid:
    """The outline (holes included) as a solid of this thickness; refused where there is nothing to raise."""
    if area.is_empty or thickness_mm <= 0:
        raise refuse("outline", "encloses nothing, or has no thickness", "draw a closed outline and give a thickness")
    rings = []
    for polygon in shapely.get_parts(area):
        oriented = shapely.geometry.polygon.orient(polygon)
        rings += [np.asarray(ring.coords)[:-1] for ring in (oriented.exterior, *oriented.interiors)]
    section = manifold3d.CrossSection(rings, manifold3d.FillRule.Positive)
    return Solid(section.extrude(thickness_mm).translate((0.0, 0.0, z_from_mm)))
