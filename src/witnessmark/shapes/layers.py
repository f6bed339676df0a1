"""A piece parted into layers that are cut one by one and glued upon each other: the solids, and places for pins.

Question  what is each layer between two heights, and where may pins go that hold the layers in place
Frame     the piece's own; heights above the piece's lowest face
Units     mm
Method    a layer is the piece between two planes, less the holes of its pins. Pins stand where there is wood all
          the way up their holes, as far from each other as they can. Three of them: with three no layer fits when
          it lies the wrong way round
Source    how deep a pin goes, how much wood is left beside it: common practice, no source
Valid     upright pins
Refuses   layers that hold nothing of the piece (Refusal)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import manifold3d
import numpy as np
import shapely

from witnessmark.job.errors import refuse
from witnessmark.job.models import PieceLayer

from .rings import Area
from .solid import Solid

SAG_MM = 0.003
BEYOND_MM = 1.0
BESIDE_PIN_MM, BESIDE_RATIO = 2.0, 0.4  # wood left between a hole and any face; so much of its diameter
PINS = 3
GRID_MM = 1.0
CLOSE_PINS = 4.0  # pins nearer to each other than so many of their diameters hold no layer straight
LEVELS = 9


@dataclass(frozen=True)
class Pin:
    """A pin's hole: its axis, and the heights from and to which it runs in one layer."""

    x_mm: float
    y_mm: float
    from_mm: float
    to_mm: float


def layer_of(whole: Solid, from_mm: float, to_mm: float, pins: Sequence[Pin], hole_mm: float, where: str) -> Solid:
    """The part of a piece between two heights above its lowest face, with the holes of its pins."""
    low_mm, high_mm = (float(corner[2]) for corner in whole.bounds_mm)
    if from_mm >= high_mm - low_mm or to_mm <= 0.0:
        what = f"lies beyond the piece, which is {high_mm - low_mm:.2f} mm high"
        raise refuse(where, what, "see from_mm and to_mm of its layer")
    wood = whole.manifold.trim_by_plane((0.0, 0.0, 1.0), low_mm + from_mm)
    wood = wood.trim_by_plane((0.0, 0.0, -1.0), -(low_mm + to_mm))
    for pin in pins:
        count = 4 * math.ceil(math.pi / 4 / math.acos(1.0 - SAG_MM / (hole_mm / 2)))
        z0 = low_mm + pin.from_mm - (BEYOND_MM if pin.from_mm <= from_mm + 1e-6 else 0.0)
        z1 = low_mm + pin.to_mm + (BEYOND_MM if pin.to_mm >= to_mm - 1e-6 else 0.0)
        bore = manifold3d.Manifold.cylinder(z1 - z0, hole_mm / 2, circular_segments=count)
        wood -= bore.translate((pin.x_mm, pin.y_mm, z0))
    if wood.is_empty():
        raise refuse(where, "holds nothing of the piece", "see from_mm and to_mm of its layer")
    return whole.with_wood(wood)


def solid_of_layer(whole: Solid, layer: PieceLayer, where: str) -> Solid:
    """What of a piece a layer of the job is."""
    pins = [Pin(*pin) for pin in layer.pins_mm]
    return layer_of(whole, layer.from_mm, layer.to_mm, pins, layer.hole_mm, where)


def pin_places(whole: Solid, from_mm: float, to_mm: float, hole_mm: float) -> list[tuple[float, float]]:
    """Places (x, y) for pins with wood round their holes between two heights, far from each other; [] if too few."""
    low_mm = float(whole.bounds_mm[0][2])
    heights = low_mm + np.linspace(from_mm + 1e-3, to_mm - 1e-3, LEVELS)
    wood: Area = shapely.intersection_all([whole.section(float(z)) for z in heights])
    room = shapely.buffer(wood, -(hole_mm / 2 + max(BESIDE_PIN_MM, BESIDE_RATIO * hole_mm)), quad_segs=8)
    if room.is_empty:
        return []
    x0, y0, x1, y1 = room.bounds
    x, y = np.meshgrid(np.arange(x0, x1 + GRID_MM, GRID_MM), np.arange(y0, y1 + GRID_MM, GRID_MM))
    inside = shapely.contains_xy(room, x, y)
    points = np.column_stack([x[inside], y[inside]])
    if len(points) < PINS:
        return []
    middle = points.mean(axis=0)
    first = points[np.argmax(np.hypot(*(points - middle).T))]
    chosen = [first]
    away = np.hypot(*(points - first).T)
    while len(chosen) < PINS:
        chosen.append(points[int(np.argmax(away))])
        away = np.minimum(away, np.hypot(*(points - chosen[-1]).T))
    apart = min(math.dist(chosen[i], chosen[j]) for i in range(PINS) for j in range(i))
    if apart < CLOSE_PINS * hole_mm:
        return []
    return [(round(float(px), 1), round(float(py), 1)) for px, py in chosen]
