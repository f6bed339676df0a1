"""The plan view of a box: the areas of wall, closing, hollow, compartments and trays, and what there is to say. mm.

Every corner that a cutter has to make is eased by its radius, and mates are parallels of one eased line: the male
part is the female one shrunk by the gap, so that the gap is the same everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from witnessmark.job.box import Box
from witnessmark.job.errors import refuse

from ..rings import Area, only_area
from .parallels import Place, closed, corners_eased, eased, inset, opened, thickest, widest_circle

ROOM_MM = 0.1  # an inside corner is this much rounder than the cutter, so that it never stands still in it
LEAST_PART_MM2 = 100.0  # a smaller hollow holds nothing
THIN_MALE_MM = 2.0  # a tongue of the lid thinner than this breaks off: it is left out
SHOWN = 3
LEAST_LEFT_RATIO = 0.02


@dataclass(frozen=True, eq=False)
class TrayRegions:
    outside: Area
    hollows: Area


@dataclass(frozen=True, eq=False)
class Regions:
    """``female`` and ``male``: the mates of the closing (empty where it is flat). ``upper``: the hollow where trays
    lie (or all of it); ``lower``: what is below them, without dividers; ``compartments``: the same with them."""

    outside: Area
    female: Area
    male: Area
    upper: Area
    lower: Area
    compartments: Area
    trays: tuple[TrayRegions, ...]
    notes: tuple[str, ...]


def regions_of(box: Box, drawn: Area, where: str) -> Regions:
    """All areas of a box of this outline; refused where nothing would be left of its inside."""
    radius_mm = box.cutter_mm / 2 + ROOM_MM
    notes: list[str] = []
    outside = _outside(drawn, radius_mm, box, notes)
    female, male = _closing(box, outside, radius_mm, notes)
    hollow = inset(outside, box.wall_mm)
    upper = eased(hollow, radius_mm) if box.trays else opened(hollow, radius_mm)
    upper = _inside(upper, outside, radius_mm, box, where, notes)
    _tell(notes, "inside corners", hollow, upper, box.cutter_mm)
    lower = opened(inset(upper, box.ledge_mm), radius_mm) if box.trays else upper
    if lower.is_empty:
        what = f"leaves nothing of the inside below the trays with a ledge of {box.ledge_mm:g} mm"
        raise refuse(f"{where}, ledge_mm", what, "make the ledge narrower", "leave the trays out")
    strips = _strips(box.dividers_x_mm, box.dividers_y_mm, box.divider_mm, outside)
    compartments = _parted(lower, strips, radius_mm, f"{where}, dividers", notes)
    trays = []
    for number, tray in enumerate(box.trays, 1):
        own = f"{where}, tray {number}"
        line = inset(upper, box.tray_gap_mm)
        floor = opened(inset(line, tray.wall_mm), radius_mm)
        if floor.is_empty:
            raise refuse(own, "has no inside", f"make its wall thinner than {widest_circle(line)[2]:.1f} mm")
        across = _strips(tray.dividers_x_mm, tray.dividers_y_mm, tray.wall_mm, outside)
        trays.append(TrayRegions(line, _parted(floor, across, radius_mm, own, notes)))
    return Regions(outside, female, male, upper, lower, compartments, tuple(trays), tuple(dict.fromkeys(notes)))


def _outside(drawn: Area, radius_mm: float, box: Box, notes: list[str]) -> Area:
    parts = sorted(shapely.get_parts(drawn), key=lambda part: -part.area)
    for part in parts[1:]:
        at = part.representative_point()
        notes.append(
            f"an island at x {at.x:.1f} y {at.y:.1f} ({part.area / 100:.1f} cm2) is left out: a box of its own"
        )
    outside = only_area(shapely.get_parts(closed(parts[0], radius_mm))[:1][0])
    fine = [hole for hole in outside.interiors if opened(shapely.Polygon(hole), radius_mm).area > LEAST_PART_MM2]
    left = shapely.union_all([shapely.Polygon(hole) for hole in fine])
    for hole in parts[0].interiors:
        if not shapely.Polygon(hole).intersects(left):
            at = shapely.Polygon(hole).representative_point()
            notes.append(f"a hole at x {at.x:.1f} y {at.y:.1f} is narrower than the cutter: it is filled")
    outside = shapely.Polygon(outside.exterior, [_rounded(hole, radius_mm) for hole in fine])
    _tell(notes, "corners and slots of the outline", parts[0], outside, box.cutter_mm)
    return shapely.simplify(outside, 0.0005)


def _rounded(hole: shapely.LinearRing, radius_mm: float) -> shapely.LinearRing:
    widest = max(shapely.get_parts(opened(shapely.Polygon(hole), radius_mm)), key=lambda part: part.area)
    return widest.exterior


def _closing(box: Box, outside: Area, radius_mm: float, notes: list[str]) -> tuple[Area, Area]:
    if box.closing == "flat":
        return shapely.Polygon(), shapely.Polygon()
    line = inset(outside, box.lip_mm)
    female = eased(line, max(radius_mm, box.gap_mm + ROOM_MM))
    male = inset(female, box.gap_mm)
    stout = opened(male, THIN_MALE_MM / 2)
    parts = [part for part in shapely.get_parts(male) if part.intersects(inset(stout, 0.1))]
    lost = len(shapely.get_parts(male)) - len(parts)
    if lost:
        notes.append(f"{lost} tongues of the closing thinner than {THIN_MALE_MM:g} mm are left out")
    if len(parts) > 1:
        spots = ", ".join(f"x {p.centroid.x:.0f} y {p.centroid.y:.0f}" for p in parts[:SHOWN])
        notes.append(f"behind a lip of {box.lip_mm:g} mm the closing falls into {len(parts)} parts (about {spots})")
    _tell(notes, "corners of the closing, on both mates alike,", line, female, box.cutter_mm)
    return female, only_area(shapely.union_all(parts)) if parts else shapely.Polygon()


def _inside(hollow: Area, outside: Area, radius_mm: float, box: Box, where: str, notes: list[str]) -> Area:
    """Those parts of the hollow that hold something; what vanished or split is named, with the wall that would do."""

    def of(wall_mm: float) -> Area:
        return opened(inset(outside, wall_mm), radius_mm)

    def parts_of(area: Area) -> list[shapely.Polygon]:
        return [part for part in shapely.get_parts(area) if part.area >= LEAST_PART_MM2]

    kept = parts_of(hollow)
    if not kept:
        x, y, most_mm = widest_circle(outside)
        most_mm = thickest(most_mm, lambda wall_mm: bool(parts_of(of(wall_mm))))
        what = f"leaves no inside: the outline is thickest at x {x:.1f} y {y:.1f}"
        raise refuse(f"{where}, wall_mm", what, f"make the wall at most {most_mm:g} mm", "use a narrower cutter")
    lost = [part for part in shapely.get_parts(hollow) if part.area < LEAST_PART_MM2]
    if lost:
        notes.append(f"{len(lost)} corners of the inside smaller than {LEAST_PART_MM2 / 100:g} cm2 stay wood")
    thin = opened(inset(outside, box.wall_mm), 0.01)
    narrow = [p for p in shapely.get_parts(shapely.difference(thin, hollow)) if p.area > LEAST_PART_MM2 / 4]
    for part in sorted(narrow, key=lambda part: -part.area)[:SHOWN]:
        at = part.representative_point()
        place = f"x {at.x:.1f} y {at.y:.1f} ({part.area / 100:.1f} cm2)"
        notes.append(f"the inside at {place} is narrower than the cutter: it stays wood")
    if len(kept) > 1:
        spots = ", ".join(f"x {p.centroid.x:.0f} y {p.centroid.y:.0f}" for p in kept[:SHOWN])
        one_mm = thickest(box.wall_mm, lambda wall_mm: len(parts_of(of(wall_mm))) == 1)
        words = f"a wall of {one_mm:g} mm would keep it in one" if one_mm > 0 else "no wall keeps it in one"
        notes.append(
            f"with a wall of {box.wall_mm:g} mm the inside falls into {len(kept)} parts (about {spots}); {words}"
        )
    return only_area(shapely.union_all(kept))


def _strips(x_mm: tuple[float, ...], y_mm: tuple[float, ...], thick_mm: float, outside: Area) -> Area:
    x0, y0, x1, y1 = outside.bounds
    half = thick_mm / 2
    strips = [shapely.box(x - half, y0, x + half, y1) for x in x_mm]
    strips += [shapely.box(x0, y - half, x1, y + half) for y in y_mm]
    return only_area(shapely.union_all(strips)) if strips else shapely.Polygon()


def _parted(area: Area, strips: Area, radius_mm: float, where: str, notes: list[str]) -> Area:
    """The area between dividers, corners eased; refused where a divider leaves nothing beside it."""
    if strips.is_empty:
        return area
    for strip in shapely.get_parts(strips):
        if not strip.intersects(area):
            at = strip.centroid
            raise refuse(where, f"one at x {at.x:.1f} y {at.y:.1f} lies outside of the hollow", "move it inside")
    between = only_area(opened(only_area(shapely.difference(area, strips)), radius_mm))
    parts = [part for part in shapely.get_parts(between) if part.area >= LEAST_PART_MM2]
    if not parts:
        raise refuse(
            where, "leave no room for a cutter between them", "use fewer or thinner ones", "a narrower cutter"
        )
    lost = [p for p in shapely.get_parts(shapely.difference(area, strips)) if not any(p.intersects(k) for k in parts)]
    for part in lost[:SHOWN]:
        at = part.representative_point()
        notes.append(
            f"{where}: the compartment at x {at.x:.1f} y {at.y:.1f} is narrower than the cutter: it stays wood"
        )
    return only_area(shapely.union_all(parts))


def _tell(notes: list[str], what: str, before: Area, after: Area, cutter_mm: float) -> None:
    """One line for the corners that a cutter changed."""
    places = corners_eased(before, after)
    if places:
        shown = ", ".join(str(place) for place in places[:SHOWN])
        more = f" and {len(places) - SHOWN} more" if len(places) > SHOWN else ""
        notes.append(f"{what} eased for a cutter of {cutter_mm:g} mm: {shown}{more}")


def least_apart_mm(one: Area, other: Area) -> float:
    """The least distance between two boundaries."""
    return float(shapely.distance(shapely.boundary(one), shapely.boundary(other)))


def gap_range_mm(female: Area, male: Area, step_mm: float = 1.0) -> tuple[float, float]:
    """The least and the greatest distance from points along the male line to the female one."""
    points = np.concatenate(
        [shapely.get_coordinates(shapely.segmentize(part.exterior, step_mm)) for part in shapely.get_parts(male)]
    )
    off_mm = shapely.distance(shapely.points(points), shapely.boundary(female))
    return float(off_mm.min()), float(off_mm.max())


__all__ = ["Place", "Regions", "TrayRegions", "gap_range_mm", "least_apart_mm", "regions_of"]
