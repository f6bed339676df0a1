"""Slots under wood that stays, cut by the disc of a T-slot cutter from where it can come down.

Method    A slot has a level floor and a level ceiling; hidden is what of its floor lies under wood of the piece. The
          axis may be where the disc is clear of the slot's walls and all above the disc is clear of the wood over
          it. Where nothing stands over the disc it is free: every cut begins and ends there, and goes no further
          from there than one stepover beyond the cut before, along the border of where the axis may be.
Source    plane geometry
Valid     upright walls from floor to ceiling; other undercuts are not slots
Refuses   nothing: what cannot be cut says why
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from witnessmark.job.assembly import Assembly
from witnessmark.job.frames import Rigid
from witnessmark.shapes.rings import Area
from witnessmark.shapes.solid import Solid

from .areas import area_in, box, polygons_in
from .join import Joiner
from .request import CutRequest
from .track import Floats

LEAST_MM2 = 1.0
SHY_MM = 0.01  # closer to a slot's wall than exactly: a slot as wide as its disc is still gone into
BESIDE_MM = 0.1  # from neck or shank to wood
FREE_MM = 0.3  # from a free disc to what stands over its height
TOUCH_MM = 0.05
EDGE_MM = 0.05
NOWHERE = "it has nowhere to come down beside it"
UPSIDE_DOWN = Rigid(np.diag([1.0, -1.0, -1.0]), np.zeros(3))


@dataclass(frozen=True, eq=False)
class Slot:
    """Heights of its floor and its ceiling, and what of the floor lies hidden."""

    floor_mm: float
    ceiling_mm: float
    hidden: Area

    @property
    def middle_mm(self) -> tuple[float, float, float]:
        """Of what is hidden of it."""
        spot = self.hidden.centroid
        return (spot.x, spot.y, (self.floor_mm + self.ceiling_mm) / 2)

    @property
    def words(self) -> str:
        x, y, z = self.middle_mm
        return f"slot {self.ceiling_mm - self.floor_mm:.1f} mm high at x {x:.1f} y {y:.1f} z {z:.1f} (as it stands)"


def slots_in(piece: Solid) -> list[Slot]:
    """The slots of a standing piece, from the lowest."""
    ceilings = [
        (-z_mm, shapely.transform(area, lambda xy: xy * np.array([1.0, -1.0])))
        for z_mm, area in piece.moved(UPSIDE_DOWN).flat_levels(LEAST_MM2)
    ]
    found = []
    for floor_mm, face in piece.flat_levels(LEAST_MM2):
        for part in polygons_in(shapely.intersection(face, piece.shadow_above(floor_mm + EDGE_MM)), LEAST_MM2):
            over = [z for z, area in ceilings if z > floor_mm and shapely.intersection(area, part).area > EDGE_MM]
            if not over:
                continue
            walls = piece.section((floor_mm + min(over)) / 2)
            if shapely.intersection(walls, part).area <= EDGE_MM:
                found.append(Slot(floor_mm, min(over), part))
    return found


def cut_slot(
    slot: Slot, request: CutRequest, assembly: Assembly, joiner: Joiner, heights_mm: tuple[float, float]
) -> str:
    """Cut it, or say why not; ``heights_mm``: the lowest and the highest that the tip can be."""
    cutter = assembly.cutter
    thick_mm, high_mm = cutter.flute_length_mm, slot.ceiling_mm - slot.floor_mm
    if thick_mm > high_mm + 1e-6:
        return f"its disc is {thick_mm:g} mm thick"
    if slot.floor_mm < heights_mm[0] or request.safe_z_mm > heights_mm[1]:
        return "it does not get so deep and over the wood again"
    passes = max(1, math.ceil(high_mm / thick_mm - 1e-6))
    tracks: list[Floats] = []
    for z_mm in (
        np.linspace(slot.floor_mm, slot.ceiling_mm - thick_mm, passes).tolist() if passes > 1 else (slot.floor_mm,)
    ):
        room = _room(slot, request, assembly, z_mm)
        free = _free(request, room, cutter.diameter_mm / 2, z_mm)
        if free.is_empty:
            return NOWHERE
        at_work = shapely.buffer(slot.hidden, cutter.diameter_mm / 2 + FREE_MM, quad_segs=32)
        within = _joined(shapely.union(shapely.intersection(room, at_work), free), free)
        covered = shapely.buffer(within, cutter.diameter_mm / 2 + EDGE_MM, quad_segs=32)
        missed = area_in(shapely.difference(slot.hidden, covered), LEAST_MM2 / 2)
        if not missed.is_empty:
            return f"it gets at all but {missed.area:.0f} of {slot.hidden.area:.0f} mm2"
        step_mm = min(cutter.stepover_mm, 0.95 * cutter.diameter_mm / 2)
        ways = _linked(_cuts(within, free, step_mm), free)
        tracks += [np.column_stack([xy, np.full(len(xy), z_mm)]) for xy in ways]
    ends = np.array([track[k] for track in tracks for k in (0, -1)])
    if not len(ends):
        return NOWHERE
    if (joiner.touches_mm(ends) > ends[:, 2] + TOUCH_MM).any():
        return "wood still stands where it would come down"
    for track in tracks:
        joiner.under(track)
    return ""


def _room(slot: Slot, request: CutRequest, assembly: Assembly, z_mm: float) -> Area:
    """Where the axis may be near a slot at a height of the tip."""
    cutter, piece = assembly.cutter, request.solid
    radius_mm = cutter.diameter_mm / 2
    near = shapely.buffer(shapely.box(*slot.hidden.bounds), 4 * radius_mm, join_style="mitre")
    room = shapely.intersection(near, box(request.window_mm))
    levels = np.linspace(z_mm + EDGE_MM, z_mm + cutter.flute_length_mm - EDGE_MM, 3).tolist()
    for walls in (piece.section(level) for level in levels):
        room = shapely.difference(room, _grown(walls, near, radius_mm - SHY_MM))
    for step in assembly.steps[1:]:
        beside_mm = BESIDE_MM if step.kind in ("neck", "shank") else request.settings.assembly_clearance_mm
        over = piece.shadow_above(z_mm + step.z_from_mm)
        room = shapely.difference(room, _grown(over, near, step.radius_mm + beside_mm))
    return area_in(room, 0.0)


def _free(request: CutRequest, room: Area, radius_mm: float, z_mm: float) -> Area:
    """Where of it nothing of the piece stands over the disc."""
    over = request.solid.shadow_above(z_mm + EDGE_MM)
    return area_in(shapely.difference(room, _grown(over, room, radius_mm + FREE_MM)), LEAST_MM2 / 100)


def _grown(area: Area, near: Area, by_mm: float) -> Area:
    """An area grown, as far as that matters near another."""
    return shapely.buffer(shapely.intersection(area, shapely.buffer(near.envelope, 2 * by_mm)), by_mm, quad_segs=32)


def _joined(room: Area, free: Area) -> Area:
    """Those parts of the room that the disc gets into from where it is free."""
    return shapely.MultiPolygon([part for part in polygons_in(room, 0.0) if shapely.intersects(part, free)])


def _cuts(within: Area, free: Area, step_mm: float) -> Iterator[Floats]:
    """Open ways (n, 2) from free to free along the borders of what lies ever further in."""
    inside = shapely.buffer(free, 1e-6)
    shapely.prepare(inside)
    in_mm = 0.0
    while True:
        in_mm += step_mm
        reached = area_in(shapely.intersection(within, shapely.buffer(free, in_mm, quad_segs=32)), 0.0)
        last = shapely.difference(within, shapely.buffer(reached, 1e-6)).area < 1e-6
        rings = [
            shapely.LineString(ring.coords)
            for part in polygons_in(within if last else reached, 0.0)
            for turned in (shapely.geometry.polygon.orient(part, 1.0),)
            for ring in (turned.exterior, *turned.interiors)
        ]
        yield from _open_ways(rings, inside)
        if last:
            return


def _linked(ways: Iterator[Floats], free: Area) -> list[Floats]:
    """Ways one after another without going up between, where it is free straight from one's end to the next."""
    near = shapely.buffer(free, 2 * SHY_MM)  # ways end on the border of what is free
    found: list[Floats] = []
    for way in ways:
        if found and shapely.covers(near, shapely.LineString([found[-1][-1], way[0]])):
            found[-1] = np.vstack([found[-1], way])
        else:
            found.append(way)
    return found


def _open_ways(rings: Sequence[shapely.LineString], inside: Area) -> Iterator[Floats]:
    """The parts of rings outside an area, in the rings' direction; those that never come out of it are left."""
    for ring in rings:
        parts = shapely.get_parts(shapely.line_merge(shapely.difference(ring, inside), directed=True))
        for part in parts:
            xy = shapely.get_coordinates(part)
            if len(xy) > 1 and not np.allclose(xy[0], xy[-1]):
                yield xy
