"""Thin wood: walls that give way while they are finished, and walls, lips and lobes that a hand breaks off.

Question  where is a piece too weak for its cutter or for use, and what would be enough
Units     mm, N, MPa
Arrays    sections: the piece in level slices, areas of shapely
Method    walls: a plate that stands on the floor (``plate``), stiffness across the grain. Lobes: what a line along
          the grain parts from the rest is bent off by a push at its far end; the section that tears runs along the
          grain, all of the piece's slices together (beam theory)
Source    strength across the grain: the catalog's (Wood Handbook, table 5-3); the push, ``HAND_N``, and the margin
           ``ENOUGH_RATIO`` are our own choice. Strength across the grain varies by a fifth and more about its
          table (Wood Handbook ch. 5: coefficient of variation 25 percent for tension across, from memory)
Valid     wood without knots and checks; slow loads; not a drop on the floor
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.catalog import Species
from witnessmark.shapes.rings import Area
from witnessmark.shapes.solid import Solid

from .plate import edge_moves_mm, foot_bends_mpa

HAND_N = 20.0
FINGER_MM = 10.0
ENOUGH_RATIO = 2.0
USUAL_ACROSS_RATIO = 0.06  # stiffness across the grain of that along it, where a wood has no value (common practice)
USUAL_MOE_GPA = 10.0
SLICES = 24
STEP_MM = 2.0
LEAST_LOBE_MM = 8.0
NEAR_MM = 25.0  # weak places nearer to each other than this are one
COARSE_MM = 0.1


@dataclass(frozen=True, eq=False)
class Slice:
    """What a piece is between two heights."""

    z_from_mm: float
    z_to_mm: float
    area: Area


@dataclass(frozen=True)
class Weak:
    """A weak place: where, strength over the stress of a push, how wide the wood is, how far the lobe stands out, and
    where it ends."""

    x_mm: float
    y_mm: float
    margin_ratio: float
    wide_mm: float
    long_mm: float
    tip_mm: tuple[float, float]


def slices_of(solid: Solid, count: int = SLICES) -> tuple[Slice, ...]:
    """A piece in level slices, as it is in the middle of each."""
    low, high = (float(bound[2]) for bound in solid.bounds_mm)
    ends = np.linspace(low, high, count + 1)
    found = []
    for z_from, z_to in zip(ends[:-1].tolist(), ends[1:].tolist()):
        area = shapely.simplify(solid.section((z_from + z_to) / 2), COARSE_MM)
        found.append(Slice(z_from, z_to, area))
    return tuple(found)


def across_mpa(wood: Species) -> float:
    """Stiffness across the grain, the lesser of the two directions."""
    ratio = wood.elastic_tangential_ratio or USUAL_ACROSS_RATIO
    return (wood.moe_gpa or USUAL_MOE_GPA) * 1000.0 * ratio


def wall_gives_mm(push_n: float, high_mm: float, thick_mm: float, wood: Species) -> float:
    """How far a wall's top gives way to a cutter."""
    return edge_moves_mm(push_n, high_mm, thick_mm, across_mpa(wood))


def wall_for_mm(push_n: float, high_mm: float, thick_mm: float, wood: Species, most_mm: float) -> float:
    """The thickness at which it gives way by no more than ``most_mm``."""
    return float(thick_mm * (wall_gives_mm(push_n, high_mm, thick_mm, wood) / most_mm) ** (1.0 / 3.0))


def band_for_mm(push_n: float, high_mm: float, thick_mm: float, wood: Species, most_mm: float) -> float:
    """The height of a band that gives way by no more, where the wood below it is still thick."""
    return float(high_mm * math.sqrt(most_mm / wall_gives_mm(push_n, high_mm, thick_mm, wood)))


def wall_margin_ratio(high_mm: float, thick_mm: float, wood: Species) -> float | None:
    """Strength at the foot of a wall over the stress of a hand's push on its top; None: no strength is known."""
    if wood.tension_across_mpa is None:
        return None
    return wood.tension_across_mpa / foot_bends_mpa(HAND_N, high_mm, thick_mm, FINGER_MM)


def weak_lobes(slices: Sequence[Slice], grain: str, wood: Species, enough_ratio: float = ENOUGH_RATIO) -> list[Weak]:
    """Lobes that break off along the grain (axis x or y), the weakest first; nothing where it runs upright."""
    if wood.tension_across_mpa is None or grain not in ("x", "y"):
        return []
    turned = [Slice(s.z_from_mm, s.z_to_mm, _along_x(s.area, grain)) for s in slices]
    whole = shapely.union_all([s.area for s in turned])
    if whole.is_empty:
        return []
    x0, y0, x1, y1 = whole.bounds
    found: list[Weak] = []
    for y in np.arange(y0 + STEP_MM / 2, y1, STEP_MM).tolist():
        for low, high in ((y, y1 + 1.0), (y0 - 1.0, y)):
            part = shapely.intersection(whole, shapely.box(x0 - 1.0, low, x1 + 1.0, high))
            for lobe in shapely.get_parts(part):
                weak = _weak(lobe, whole, y, turned, wood.tension_across_mpa)
                if weak is not None and weak.margin_ratio < enough_ratio:
                    found.append(weak)
    return _apart(sorted((_back(weak, grain) for weak in found), key=lambda weak: weak.margin_ratio))


def _weak(
    lobe: shapely.Polygon, whole: Area, at_mm: float, slices: Sequence[Slice], strength_mpa: float
) -> Weak | None:
    """A lobe held along one stretch of the line at ``y``, as a weak place; None for what is held otherwise."""
    if lobe.geom_type != "Polygon" or lobe.area > whole.area / 2:
        return None
    line = shapely.LineString([(lobe.bounds[0] - 1.0, at_mm), (lobe.bounds[2] + 1.0, at_mm)])
    root = shapely.intersection(shapely.boundary(lobe), line)
    stretches = [part for part in shapely.get_parts(shapely.line_merge(root)) if part.length > 1e-6]
    long_mm = max(lobe.bounds[3] - at_mm, at_mm - lobe.bounds[1])
    if len(stretches) != 1 or long_mm < LEAST_LOBE_MM:
        return None
    rows = []
    for piece in slices:
        for cut in shapely.get_parts(shapely.intersection(stretches[0], piece.area)):
            if cut.length > 1e-6:
                middle = (piece.z_from_mm + piece.z_to_mm) / 2
                rows.append((cut.length, cut.centroid.x, piece.z_to_mm - piece.z_from_mm, middle))
    if not rows:
        return None
    section = np.array(rows)
    stout = section[section[:, 0] > section[:, 0].max() / 2]  # a thin web tears first, and the rest still holds
    bears_mm3 = max(_bears_mm3(section), _bears_mm3(stout))
    margin_ratio = strength_mpa * bears_mm3 / (HAND_N * long_mm)
    middle_x = float(np.average(section[:, 1], weights=section[:, 0]))
    corners = shapely.get_coordinates(lobe)
    tip = corners[np.argmax(np.abs(corners[:, 1] - at_mm))]
    return Weak(middle_x, at_mm, margin_ratio, float(stretches[0].length), long_mm, (float(tip[0]), float(tip[1])))


def _bears_mm3(section: NDArray[np.float64]) -> float:
    """Section modulus of rectangles (n, 4: width, middle x, height, middle z), up or sideways, whichever is less."""
    wide, x, high, z = section.T
    area = wide * high
    mean_x, mean_z = (x * area).sum() / area.sum(), (z * area).sum() / area.sum()
    lift = (wide * high**3 / 12 + area * (z - mean_z) ** 2).sum() / (np.abs(z - mean_z) + high / 2).max()
    swing = (high * wide**3 / 12 + area * (x - mean_x) ** 2).sum() / (np.abs(x - mean_x) + wide / 2).max()
    return float(min(lift, swing))


def _along_x(area: Area, grain: str) -> Area:
    """The area with its grain along x."""
    return area if grain == "x" else shapely.transform(area, lambda xy: xy[:, ::-1])


def _back(weak: Weak, grain: str) -> Weak:
    if grain == "x":
        return weak
    return Weak(weak.y_mm, weak.x_mm, weak.margin_ratio, weak.wide_mm, weak.long_mm, weak.tip_mm[::-1])


def _apart(weak: Sequence[Weak]) -> list[Weak]:
    """Of places near each other, and of those through one lobe, only the weakest."""
    kept: list[Weak] = []
    for place in weak:
        near = [math.hypot(place.x_mm - k.x_mm, place.y_mm - k.y_mm) < NEAR_MM for k in kept]
        same = [math.dist(place.tip_mm, k.tip_mm) < NEAR_MM for k in kept]
        if not any(near) and not any(same):
            kept.append(place)
    return kept
