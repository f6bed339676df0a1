"""Two plainer examples: a shallow dish that flares far, and a straight-walled box. By formula; piece frame, mm."""

from __future__ import annotations

import math

from .offsets import rounded_rectangle
from .solid import Solid

OVERCUT_MM = 1.0  # how far the hollow runs on beyond the rim


def shallow_dish(
    *,
    size_x_mm: float = 360.0,
    size_y_mm: float = 260.0,
    height_mm: float = 40.0,
    flare_deg: float = 38.0,
    wall_mm: float = 10.0,
    floor_mm: float = 10.0,
    rim_corner_radius_mm: float = 60.0,
) -> Solid:
    """An open dish, z = 0 the foot; walls lean outward by ``flare_deg`` off vertical right up to the rim.

    ``wall_mm`` is measured square to the wall, so that the wall is as thick as the floor.
    """
    rim = rounded_rectangle(size_x_mm, size_y_mm, rim_corner_radius_mm)
    lean = math.tan(math.radians(flare_deg))
    level_wall_mm = wall_mm / math.cos(math.radians(flare_deg))
    outside = rim.loft([(0.0, height_mm * lean), (height_mm, 0.0)], "dish")
    floor_inward_mm = level_wall_mm + (height_mm - floor_mm) * lean
    over_inward_mm = level_wall_mm - OVERCUT_MM * lean
    hollow = rim.loft([(floor_mm, floor_inward_mm), (height_mm + OVERCUT_MM, over_inward_mm)], "hollow")
    return Solid(outside.manifold - hollow.manifold)


def straight_box(
    *,
    size_x_mm: float = 340.0,
    size_y_mm: float = 120.0,
    height_mm: float = 70.0,
    wall_mm: float = 10.0,
    hollow_mm: float = 40.0,
    outer_corner_radius_mm: float = 8.0,
    hollow_corner_radius_mm: float = 4.0,
) -> Solid:
    """An open box with upright walls, z = 0 the foot.

    The hollow is ``hollow_mm`` deep: between upright walls a cutter goes no deeper than it sticks out of its nut.
    """
    outside = rounded_rectangle(size_x_mm, size_y_mm, outer_corner_radius_mm).loft(
        [(0.0, 0.0), (height_mm, 0.0)], "box"
    )
    inner = rounded_rectangle(size_x_mm - 2 * wall_mm, size_y_mm - 2 * wall_mm, hollow_corner_radius_mm)
    hollow = inner.loft([(height_mm - hollow_mm, 0.0), (height_mm + OVERCUT_MM, 0.0)], "hollow")
    return Solid(outside.manifold - hollow.manifold)
