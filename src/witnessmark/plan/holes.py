"""Upright round holes that a drill of the job fits: found in the piece's sections, drilled from the side that is up.

A hole through the piece is drilled from both sides, each past the middle by the drill's point, so that no cone is
left at its end and no drill has to come out into the board. Blind holes end flat in the model and pointed under a
drill: they are not drilled here, and that is said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from manifold3d import Manifold, OpType

from witnessmark.job.models import Cutter
from witnessmark.path.drill import SAME_MM
from witnessmark.path.request import Hole
from witnessmark.shapes.rings import area_of_section
from witnessmark.shapes.solid import Solid

LEVEL_MM = 1.0
EXACT_MM = 0.002
PLUG_MM = 0.1  # wider than the hole, into the wood, so that no gap is left round it
PLUG_SIDES = 64
ROUND_RATIO = 0.01  # how far the way round may differ from a circle's of the same area
OVERLAP_MM = 0.5


@dataclass(frozen=True)
class Bore:
    """A round upright hole of the standing piece: axis, diameter, lower and upper end, open at which."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    low_mm: float
    high_mm: float
    open_below: bool
    open_above: bool


def drilled(
    piece: Solid, cutters: Sequence[Cutter], lowest_tip_mm: float
) -> tuple[tuple[Hole, ...], tuple[str, ...]]:
    """The holes to drill in a standing piece, and what is to be said of those that are not."""
    drills = [cutter for cutter in cutters if cutter.kind == "drill"]
    holes, notes = [], []
    for bore in bores_in(piece, [drill.diameter_mm for drill in drills]):
        drill = drill_of(drills, bore.diameter_mm)
        where = f"hole of {bore.diameter_mm:.1f} mm at x {bore.x_mm:.1f} y {bore.y_mm:.1f}"
        if not bore.open_above:
            continue
        if not bore.open_below:
            notes.append(f"{where} is blind: a drill's point leaves no flat bottom, so it is not drilled")
            continue
        bottom_mm = max(lowest_tip_mm, (bore.low_mm + bore.high_mm) / 2 - point_mm(drill) - OVERLAP_MM)
        holes.append(Hole(bore.x_mm, bore.y_mm, bore.high_mm, bottom_mm, bore.diameter_mm))
    return tuple(holes), tuple(notes)


def plugged(piece: Solid, holes: Sequence[Hole], cutters: Sequence[Cutter]) -> Solid:
    """The piece as all cutters but drills see it: holes that a drill gets down are filled flush with their mouths."""
    drills = [cutter for cutter in cutters if cutter.kind == "drill"]
    plugs = [
        Manifold.cylinder(
            hole.mouth_z_mm - hole.bottom_z_mm, hole.diameter_mm / 2 + PLUG_MM, -1.0, PLUG_SIDES
        ).translate((hole.x_mm, hole.y_mm, hole.bottom_z_mm))
        for hole in holes
        if hole.mouth_z_mm - hole.bottom_z_mm <= drill_of(drills, hole.diameter_mm).flute_length_mm
    ]
    return piece.with_wood(Manifold.batch_boolean([piece.manifold, *plugs], OpType.Add)) if plugs else piece


def drill_of(drills: Sequence[Cutter], diameter_mm: float) -> Cutter:
    """The one that comes nearest to a hole's diameter."""
    return min(drills, key=lambda drill: abs(drill.diameter_mm - diameter_mm))


def point_mm(drill: Cutter) -> float:
    """How far a drill's point stands below where it has its full diameter."""
    return drill.diameter_mm / 2 / math.tan(math.radians(drill.included_angle_deg) / 2)


def bores_in(piece: Solid, diameters_mm: Sequence[float]) -> list[Bore]:
    """Round upright holes of these diameters (within ``SAME_MM``), each from its lowest to its highest level."""
    if not diameters_mm:
        return []
    low_mm, high_mm = (float(corner[2]) for corner in piece.bounds_mm)
    count = max(1, math.ceil((high_mm - low_mm) / LEVEL_MM))
    step_mm = (high_mm - low_mm) / count
    found: dict[tuple[int, int], list[tuple[int, float, float, float]]] = {}
    for k in range(count):
        for x, y, diameter in _rounds(piece.section(low_mm + (k + 0.5) * step_mm)):
            if any(abs(diameter - wanted) <= SAME_MM for wanted in diameters_mm):
                found.setdefault((round(x * 5), round(y * 5)), []).append((k, x, y, diameter))
    bores = []
    for rows in found.values():
        levels = np.array([row[0] for row in rows])
        x, y, diameter = (float(np.mean([row[i] for row in rows])) for i in (1, 2, 3))
        if len(levels) != levels.max() - levels.min() + 1:
            continue
        from_mm, to_mm = low_mm + float(levels.min()) * step_mm, low_mm + float(levels.max() + 1) * step_mm
        near = _near(piece, x, y, diameter)
        from_mm = _end_mm(near, diameter, from_mm + step_mm / 2, max(low_mm, from_mm - step_mm / 2))
        to_mm = _end_mm(near, diameter, to_mm - step_mm / 2, min(high_mm, to_mm + step_mm / 2))
        place = shapely.Point(x, y)
        above = shapely.intersects(piece.shadow_above(to_mm + EXACT_MM), place)
        below = any(
            shapely.intersects(piece.section(low_mm + (k + 0.5) * step_mm), place) for k in range(int(levels.min()))
        )
        bores.append(Bore(x, y, diameter, from_mm, to_mm, not below, not above))
    return bores


def _near(piece: Solid, x_mm: float, y_mm: float, diameter_mm: float) -> Manifold:
    """What of a piece lies round a hole."""
    low, high = piece.bounds_mm
    size = (2 * diameter_mm, 2 * diameter_mm, float(high[2] - low[2]) + 2.0)
    corner = (x_mm - diameter_mm, y_mm - diameter_mm, float(low[2]) - 1.0)
    return piece.manifold ^ Manifold.cube(size).translate(corner)


def _end_mm(near: Manifold, diameter_mm: float, inside_mm: float, beyond_mm: float) -> float:
    """Between a height within a hole and one that may be past its end: as far as it is there.

    To ``EXACT_MM``, and where a corner of the piece is as near, to that corner: flush with the face about the mouth.
    """
    there, past = inside_mm, beyond_mm
    while abs(past - there) > EXACT_MM:
        middle = (there + past) / 2
        rounds = _rounds(area_of_section(near.slice(middle)))
        if any(abs(diameter - diameter_mm) < SAME_MM / 2 for _, _, diameter in rounds):
            there = middle
        else:
            past = middle
    corners = np.asarray(near.to_mesh64().vert_properties)[:, 2]
    nearest = float(corners[np.argmin(np.abs(corners - past))]) if len(corners) else past
    return nearest if abs(nearest - past) <= 2 * EXACT_MM else there


def _rounds(section: shapely.Geometry) -> list[tuple[float, float, float]]:
    """Centre and diameter of the round openings in a section."""
    rounds = []
    for part in shapely.get_parts(section):
        for ring in part.interiors:
            area_mm2 = shapely.Polygon(ring).area
            diameter_mm = math.sqrt(4 * area_mm2 / math.pi)
            if abs(ring.length - math.pi * diameter_mm) <= ROUND_RATIO * math.pi * diameter_mm:
                middle = shapely.Polygon(ring).centroid
                rounds.append((float(middle.x), float(middle.y), diameter_mm))
    return rounds
