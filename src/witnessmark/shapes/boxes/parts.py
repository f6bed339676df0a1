"""The parts of a fitted box as solids with named faces: body, lid and trays. Each stands on z = 0; mm."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import manifold3d
import shapely

from witnessmark.job.box import PARTS, Box, Scoop, Tray
from witnessmark.job.errors import Refusal, refuse

from ..features import Face, Role, Sides
from ..rings import Area
from ..solid import Solid
from .outlines import area_of
from .parallels import inset
from .regions import Regions, TrayRegions, regions_of
from .solids import BEYOND_MM, ball, domed_prism, notch, prism, rounded_prism

TRUE_MM: dict[Role, float] = {"show": 0.1, "mating": 0.05, "hidden": 0.2}
LEAST_LEFT_MM = 1.0  # wood between a scoop and what lies behind it


@dataclass(frozen=True, eq=False)
class Part:
    """A part, and how far above the body's foot it stands in the closed box."""

    name: str
    solid: Solid
    stands_mm: float


@dataclass(frozen=True, eq=False)
class FittedBox:
    """What was made, its areas in plan view, and what there is to say."""

    parts: tuple[Part, ...]
    regions: Regions
    notes: tuple[str, ...]

    def part(self, name: str) -> Part:
        return next(part for part in self.parts if part.name == name)


def box_of(box: Box, folder: Path, where: str) -> FittedBox:
    """Make all parts of a box; refused with the key that cannot be."""
    drawn, notes = area_of(box.outline, folder, where)
    return fitted(box, drawn, where, notes)


@lru_cache(maxsize=4)
def fitted(box: Box, drawn: Area, where: str = "box", notes: tuple[str, ...] = ()) -> FittedBox:
    """The same of an outline that is at hand; made once."""
    try:
        regions = regions_of(box, drawn, where)
        made = {"body": _body(box, regions, where), "lid": _lid(box, regions)}
        stands = dict(zip(PARTS, (0.0, box.shoulder_mm - _plug_mm(box))))
        at_mm = _ledge_mm(box)
        for number, (tray, areas) in enumerate(zip(box.trays, regions.trays), 1):
            name = f"tray {number}"
            made[name], stands[name] = _tray(tray, areas, f"{where}, {name}"), at_mm
            at_mm += tray.height_mm
    except shapely.errors.GEOSException as error:
        what = f"its areas cannot be worked out ({str(error)[:80]})"
        raise refuse(where, what, "draw the outline with fewer or cleaner points") from None
    parts = tuple(Part(name, solid, stands[name]) for name, solid in made.items())
    return FittedBox(parts, regions, (*notes, *regions.notes))


def _ledge_mm(box: Box) -> float:
    """Height of the ledge that the lowest tray lies on; without trays the ceiling."""
    trays_mm = sum(tray.height_mm for tray in box.trays)
    return box.ceiling_mm - (trays_mm + box.tray_gap_mm if box.trays else 0.0)


def _plug_mm(box: Box) -> float:
    """How far the lid reaches into the rebate."""
    return box.rebate_mm - box.gap_mm if box.closing == "rebate" else 0.0


class _Bench:
    """Bodies added and taken away, each with names for its faces."""

    def __init__(self) -> None:
        self.wood = manifold3d.Manifold()
        self._named: dict[int, Sides] = {}

    def _body(self, body: manifold3d.Manifold, up: Face, side: Face, down: Face) -> manifold3d.Manifold:
        whole = body.as_original()
        self._named[whole.original_id()] = Sides(up, side, down)
        return whole

    def add(self, body: manifold3d.Manifold, up: Face, side: Face, down: Face) -> None:
        self.wood += self._body(body, up, side, down)

    def take(self, body: manifold3d.Manifold, floor: Face, side: Face, ceiling: Face | None = None) -> None:
        self.wood -= self._body(body, floor, side, ceiling or floor)

    def solid(self, where: str) -> Solid:
        if self.wood.status() != manifold3d.Error.NoError or self.wood.is_empty():
            raise Refusal(*refuse(where, "is no solid with these sizes", "change them a little").troubles)
        return Solid(self.wood, self._named)


def _face(name: str, role: Role) -> Face:
    return Face(name, role, TRUE_MM[role])


def _body(box: Box, regions: Regions, where: str) -> Solid:
    bench, outside = _Bench(), regions.outside
    wall, floor = _face("outside wall", "show"), _face("floor", "show")
    rests, mates = _face("rim", "mating"), _face("closing", "mating")
    rim_mm, over_mm = box.rim_mm, box.rim_mm + BEYOND_MM
    bench.add(rounded_prism(outside, 0.0, rim_mm, box.foot_edge_mm), rests, wall, _face("foot", "hidden"))
    if box.trays:
        ledge, sides = _face("tray ledge", "hidden"), _face("tray walls", "mating")
        bench.take(prism(regions.upper, _ledge_mm(box), over_mm), ledge, sides)
    bench.take(prism(regions.compartments, box.floor_mm, over_mm), floor, _face("inside walls", "show"))
    if box.closing == "rebate":
        bench.take(prism(regions.female, box.ceiling_mm, over_mm), mates, mates)
    elif box.closing == "lip":
        ring = prism(inset(outside, -BEYOND_MM), box.shoulder_mm, over_mm)
        bench.take(ring - prism(regions.male, box.shoulder_mm - BEYOND_MM, over_mm + BEYOND_MM), mates, mates)
    for scoop in box.scoops:
        hollow = _face("scoop", "show")
        bench.take(_scoop(scoop, box, regions, where), hollow, hollow)
    return bench.solid(f"{where}, body")


def _lid(box: Box, regions: Regions) -> Solid:
    bench, outside, plug_mm = _Bench(), regions.outside, _plug_mm(box)
    top, edge = _face("top", "show"), _face("edge", "show")
    rests, mates, under = _face("rim", "mating"), _face("closing", "mating"), _face("underside", "hidden")
    high_mm = plug_mm + box.lid_mm
    if box.dome_mm:
        plate = domed_prism(outside, plug_mm, high_mm, box.dome_mm, box.lid_edge_mm)
    else:
        plate = rounded_prism(outside, plug_mm, high_mm, top_mm=box.lid_edge_mm)
    bench.add(plate, top, edge, rests if box.closing != "flat" else under)
    if box.closing == "rebate" and not regions.male.is_empty:
        bench.add(prism(regions.male, 0.0, plug_mm + min(BEYOND_MM, box.lid_mm / 2)), mates, mates, under)
    elif box.closing == "lip":
        bench.take(prism(regions.female, -BEYOND_MM, box.rebate_mm + box.gap_mm), under, mates, under)
    return bench.solid("lid")


def _tray(tray: Tray, areas: TrayRegions, where: str) -> Solid:
    bench = _Bench()
    inside, mates, foot = _face("tray floor", "show"), _face("tray outside", "mating"), _face("tray foot", "hidden")
    bench.add(prism(areas.outside, 0.0, tray.height_mm), _face("tray rim", "show"), mates, foot)
    bench.take(prism(areas.hollows, tray.floor_mm, tray.height_mm + BEYOND_MM), inside, inside)
    for at_deg in tray.notches_deg:
        cut = _face("notch", "show")
        bench.take(_notch(tray, at_deg, areas, where), cut, cut)
    return bench.solid(where)


def _ray(area: Area, at_deg: float) -> shapely.LineString:
    """What a ray from the middle crosses of an area, in parts from the middle outward."""
    x0, y0, x1, y1 = area.bounds
    far_mm = math.hypot(x1 - x0, y1 - y0)
    turn = math.radians(at_deg)
    ray = shapely.LineString([(0.0, 0.0), (far_mm * math.cos(turn), far_mm * math.sin(turn))])
    return shapely.intersection(ray, area)


def _scoop(scoop: Scoop, box: Box, regions: Regions, where: str) -> manifold3d.Manifold:
    """A ball that bites ``depth`` into the wall where the ray leaves the outline, its middle level with the rim."""
    named = f"{where}, scoop at {scoop.at_deg:g} degrees"
    seen = _ray(regions.outside, scoop.at_deg)
    if seen.is_empty:
        raise refuse(named, "lies on no wall: the middle of the box is outside of it there", "turn it elsewhere")
    spot = max((shapely.Point(p) for p in shapely.get_coordinates(seen)), key=lambda p: math.hypot(p.x, p.y))
    within = shapely.boundary(inset(regions.outside, box.lip_mm / 2))
    behind = shapely.get_point(shapely.shortest_line(spot, within), 1)
    out_x, out_y = spot.x - behind.x, spot.y - behind.y
    length = math.hypot(out_x, out_y)
    radius_mm = (scoop.width_mm**2 / 4 + scoop.depth_mm**2) / (2 * scoop.depth_mm)
    off_mm = (radius_mm - scoop.depth_mm) / length
    middle = shapely.Point(spot.x + off_mm * out_x, spot.y + off_mm * out_y)
    shelter = regions.female if box.closing == "rebate" else regions.upper
    left_mm = shapely.distance(middle, shelter) - radius_mm
    if left_mm < LEAST_LEFT_MM:
        what = f"would leave {max(0.0, left_mm):.1f} mm of wood behind it"
        raise refuse(named, what, "make it shallower or narrower", "turn it to where the outline is less curved")
    if radius_mm > box.shoulder_mm - box.floor_mm / 2:
        what = f"would reach {radius_mm:.0f} mm down, to the foot"
        raise refuse(named, what, "make it narrower", "make it deeper: a rounder ball reaches less far down")
    return ball(middle.x, middle.y, box.shoulder_mm, radius_mm)


def _notch(tray: Tray, at_deg: float, areas: TrayRegions, where: str) -> manifold3d.Manifold:
    walls = shapely.difference(areas.outside, areas.hollows)
    spans = [part for part in shapely.get_parts(_ray(walls, at_deg)) if part.geom_type == "LineString"]
    if not spans:
        raise refuse(f"{where}, notch at {at_deg:g} degrees", "meets no wall of the tray", "turn it elsewhere")
    span = max(spans, key=lambda part: float(max(math.hypot(x, y) for x, y in part.coords)))
    near, far = sorted(math.hypot(x, y) for x, y in (span.coords[0], span.coords[-1]))
    body = notch(tray.notch_width_mm, tray.notch_depth_mm, far - near + 2 * BEYOND_MM)
    return body.translate((near - BEYOND_MM, 0.0, tray.height_mm)).rotate((0.0, 0.0, at_deg))


@lru_cache(maxsize=4)
def box_from(path: Path, _state: tuple[tuple[int, int], ...], box: Box) -> FittedBox:
    """``box_of`` for a box file, made once for all its parts; ``_state``: of its files, as they were then."""
    return box_of(box, path.parent, path.name)
