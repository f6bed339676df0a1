"""Bridges to the waste for a piece that would hang free: where they go, and what they keep the cutter from.

A piece hangs where, on the side cut last, it does not stand on the board: its lowest face is not the blank's own, or
is too small to stand on. Once both sides' cuts meet, nothing but bridges would hold it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from witnessmark.field.grid import Grid, Heights
from witnessmark.job.frames import Floats
from witnessmark.job.models import Job, PieceSpec
from witnessmark.job.placement import Bridge, Placement
from witnessmark.shapes.solid import Solid

from .hold import stands_alone
from .meeting import filled
from .search import FLUSH_MM, Layout, alone

LONGEST_FIRST_MM = (8.0, 5.0, 3.0)  # along the piece's edge: shorter only where it is nowhere straight enough
HIGH_MM = 3.0
APART_MM = 120.0  # no further from one to the next round the outline
FEWEST, MOST = 3, 8
INTO_PIECE_MM = 2.0
INTO_WASTE_MM = 3.0
STANDS_ON_MM2 = 200.0  # less than this is no face to stand on (our own choice)
LOOK_EVERY_MM = 3.0
STRAIGHT_RATIO = 0.98  # chord to arc: a bridge goes where the outline is nearly straight


@dataclass(frozen=True)
class Bridged:
    """The bridges of a piece, piece frame, and what is said of them."""

    bridges: tuple[Bridge, ...]
    notes: tuple[str, ...]


def bridges_for(job: Job, spec: PieceSpec, piece: Solid, layout: Layout) -> Bridged:
    """Bridges evenly round the piece at the height where the sides meet; none where the piece stands on its own."""
    hangs, slight = _hangs(piece, layout), False
    whole = len(layout.sides) >= 2 or any(side.up in alone(job, spec, piece) for side in layout.sides)
    if whole and not hangs:
        slight = stands_alone(job, spec, piece, _face_mm(piece, layout)).least_ratio < job.holding.enough_ratio
    if not whole or not (hangs or slight):
        return Bridged((), ())
    lower, upper = (float(corner[2]) for corner in piece.bounds_mm)
    high_mm = min(HIGH_MM, (upper - lower) / 3)
    middle_mm = _height_mm(piece, layout, lower + 0.5 * high_mm, upper - 0.5 * high_mm)
    section = filled(piece.section(middle_mm))
    reach_mm = max(cutter.diameter_mm for cutter in job.cutters) + job.settings.wall_allowance_mm
    out_mm = reach_mm + job.settings.trench_mm + INTO_WASTE_MM
    outline = filled(piece.silhouette())
    by_part = [_longest(part, section, outline, out_mm) for part in shapely.get_parts(section)]
    strips = [strip for found in by_part for strip in found]
    notes = []
    if not strips or not all(by_part):
        what = "the piece hangs" if not strips else "a part of the piece hangs"
        notes.append(f"{what} free in the end, and no bridge finds a place: leave it a face to stand on")
    if not strips:
        return Bridged((), tuple(notes))
    z_from, z_to = middle_mm - high_mm / 2, middle_mm + high_mm / 2
    bridges = tuple(Bridge(tuple((float(x), float(y)) for x, y in strip), z_from, z_to) for strip in strips)
    why = "is too small to be held on its own face" if slight else "does not stand on a face of its own in the end"
    notes.append(
        f"{len(bridges)} bridges, {high_mm:.0f} mm high, hold the piece in a frame of its waste, since it {why}: "
        "saw them through afterwards and pare them flush"
    )
    return Bridged(bridges, tuple(notes))


def standing_on(place: Placement, bridges: tuple[Bridge, ...]) -> Placement:
    """The placement with the bridges as they stand there."""
    return replace(place, bridges=tuple(bridge.moved(place.stand) for bridge in bridges))


def lowest_over_bridges(place: Placement, grid: Grid, radius_mm: float) -> Heights:
    """Lowest tip (ny, nx) that leaves the bridges standing; -inf where none is near."""
    lowest = grid.full(-np.inf)
    for bridge in place.bridges:
        zone = shapely.buffer(shapely.Polygon(bridge.outline_mm), radius_mm + grid.reach_mm)
        shapely.prepare(zone)
        near = shapely.contains_xy(zone, *np.meshgrid(grid.x_mm, grid.y_mm))
        lowest[near] = np.maximum(lowest[near], np.float32(bridge.z_to_mm))
    return lowest


def _height_mm(piece: Solid, layout: Layout, lowest_mm: float, highest_mm: float) -> float:
    """Where the sides meet; where neither sees the outer wall whole, at the piece's widest."""
    if layout.meeting.possible:
        return min(max(layout.meeting_mm, lowest_mm), highest_mm)
    heights = np.linspace(lowest_mm, highest_mm, 15)
    return float(heights[np.argmax([filled(piece.section(float(z))).area for z in heights])])


def _hangs(piece: Solid, layout: Layout) -> bool:
    lower, upper = piece.bounds_mm
    if layout.sides[-1].up == "+z":
        gap_mm = float(lower[2] - layout.box.lower_mm[2])
    else:
        gap_mm = float(layout.box.upper_mm[2] - upper[2])
    return gap_mm > FLUSH_MM or piece.section(_face_mm(piece, layout)).area < STANDS_ON_MM2


def _face_mm(piece: Solid, layout: Layout) -> float:
    """The height just inside the face that the piece stands on in the end, piece frame."""
    lower, upper = piece.bounds_mm
    return float(lower[2]) + 0.01 if layout.sides[-1].up == "+z" else float(upper[2]) - 0.01


def _longest(
    part: shapely.Polygon, section: shapely.Geometry, outline: shapely.Geometry, out_mm: float
) -> list[Floats]:
    """Strips for one part of the section, of the greatest length for which there are places; none if for none."""
    for long_mm in LONGEST_FIRST_MM:
        found = _spread(_strips(part, section, outline, out_mm, long_mm), part)
        if found:
            return found
    return []


def _strips(
    part: shapely.Polygon, section: shapely.Geometry, outline: shapely.Geometry, out_mm: float, long_mm: float
) -> list[tuple[float, Floats]]:
    """(way along a part's outline, corners (4, 2)) of strips that leave the section for good, where straight, and end
    in the waste round the piece: a section may be open to a hollow, from which no waste could hold it."""
    ring = shapely.geometry.polygon.orient(part, 1.0).exterior
    found = []
    for at_mm in np.arange(0.0, ring.length, min(LOOK_EVERY_MM, ring.length / 24)):
        ends = [ring.interpolate((at_mm + d) % ring.length) for d in (-long_mm / 2, 0.0, long_mm / 2)]
        a, p, b = (np.array([e.x, e.y]) for e in ends)
        chord_mm = float(np.hypot(*(b - a)))
        if chord_mm < STRAIGHT_RATIO * long_mm:
            continue
        along = (b - a) / chord_mm
        outward = np.array([along[1], -along[0]])
        half = along * long_mm / 2
        inner, outer = p - INTO_PIECE_MM * outward, p + out_mm * outward
        beyond = shapely.Polygon([p - half + outward, p + half + outward, outer + half, outer - half])
        if not shapely.intersects(beyond, section) and not shapely.contains_xy(outline, *outer):
            found.append((float(at_mm), np.array([inner - half, inner + half, outer + half, outer - half])))
    return found


def _spread(strips_mm: list[tuple[float, Floats]], part: shapely.Polygon) -> list[Floats]:
    """The strips nearest to places evenly round the outline, each once."""
    if not strips_mm:
        return []
    round_mm = part.exterior.length
    count = min(MOST, max(FEWEST, math.ceil(round_mm / APART_MM)))
    ways = np.array([way for way, _ in strips_mm])
    chosen = []
    for k in range(count):
        off = np.abs(ways - (k + 0.5) * round_mm / count)
        chosen.append(int(np.argmin(np.minimum(off, round_mm - off))))
    kept: list[int] = []
    for k in dict.fromkeys(chosen):
        if all(shapely.disjoint(shapely.Polygon(strips_mm[k][1]), shapely.Polygon(strips_mm[j][1])) for j in kept):
            kept.append(k)
    return [strips_mm[k][1] for k in kept]
