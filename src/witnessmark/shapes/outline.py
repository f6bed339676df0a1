"""An outline: flat areas with holes, read from a drawing. mm, y up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from witnessmark.job.errors import refuse

from .chains import JOIN_MM, join
from .complaints import PLACES_SHOWN
from .files import broken, mm_per
from .rings import Area, tidy

Floats = NDArray[np.float64]

FLATTEN_MM = 0.01  # curves become chords that stray no farther than this
NEARLY_MM = 2.0  # an outline open by less than this was meant to be closed: better refused than passed over
FARTHEST_MM = 1e6
LEAST_RING_MM2 = 1e-4
MOST_PLACES = 2_000_000


@dataclass(frozen=True, eq=False)
class Outline:
    """The area drawn (one polygon, or several), the unit it was read in, and what there is to say about it."""

    polygon: Area
    unit: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Drawing:
    """Lines (n, 2) and closed rings (n, 2) in mm as a file gives them."""

    lines: list[Floats]
    rings: list[Floats]
    unit: str
    notes: tuple[str, ...]


def read_outline(path: str | Path, unit: str | None = None) -> Outline:
    """Read a DXF or SVG drawing; ``unit`` (mm, cm, m, inch) overrides what the file states or what is assumed."""
    path = Path(path)
    if unit:
        mm_per(unit, path)
    suffix = path.suffix.lower()
    if suffix == ".dxf":
        from .read_dxf import read_dxf

        return outline_of(read_dxf(path, unit), path.name)
    if suffix == ".svg":
        from .read_svg import read_svg

        return outline_of(read_svg(path, unit), path.name)
    raise refuse(
        path.name, f"is no kind of drawing that is read here ({suffix or 'no ending'})", "save it as DXF or SVG"
    )


def outline_of(drawing: Drawing, name: str) -> Outline:
    """Join, close and nest the lines of a drawing; refused with places if nothing closes or rings cross."""
    _check_extent(drawing, name)
    try:
        joined = join(drawing.lines)
    except ValueError as error:
        raise broken(Path(name), f"is no outline: {error}") from error
    notes = list(drawing.notes)
    rings = [ring for ring in (*drawing.rings, *joined.rings) if len(ring) >= 3]
    _check_open(joined.open, bool(rings), name, drawing.notes)
    if joined.open:
        notes.append(f"{len(joined.open)} open lines passed over{_ends_in_words(joined.open)}")
    if joined.widest_gap_mm > 1e-6:
        notes.append(f"ends up to {joined.widest_gap_mm:.3g} mm apart were joined (allowed: {JOIN_MM} mm)")
    if len(joined.forks_mm):
        forks = np.unique(joined.forks_mm.round(1), axis=0)
        notes.append(f"more than two lines meet{_places_in_words(forks)}; check the outline there")
    polygons, more = _distinct(rings, name)
    area = _nested(polygons, name)
    parts = len(shapely.get_parts(area))
    if parts > 1:
        more.append(f"{parts} separate areas")
    more += _size_notes(area)
    return Outline(area, drawing.unit, (*notes, *more))


def _check_extent(drawing: Drawing, name: str) -> None:
    everything = [*drawing.lines, *drawing.rings]
    if sum(len(line) for line in everything) > MOST_PLACES:
        raise broken(Path(name), f"holds more than the {MOST_PLACES} places that are read")
    for line in everything:
        if not np.all(np.isfinite(line)):
            raise broken(Path(name), "has places that are no numbers")
        if np.abs(line).max(initial=0.0) > FARTHEST_MM:
            raise refuse(name, "reaches farther than a kilometre from its origin", "say its unit", "move it nearer")


def _check_open(chains: Sequence[Floats], some_closed: bool, name: str, notes: Sequence[str]) -> None:
    """Refuse when nothing is closed, and when a chain was plainly meant to close."""
    gaps = [(float(np.linalg.norm(chain[0] - chain[-1])), chain) for chain in chains]
    lengths = [float(np.linalg.norm(np.diff(chain, axis=0), axis=1).sum()) for chain in chains]
    nearly = [chain for (gap, chain), length in zip(gaps, lengths) if gap < NEARLY_MM and length > 10 * NEARLY_MM]
    if nearly:
        widest = max(float(np.linalg.norm(chain[0] - chain[-1])) for chain in nearly)
        what = f"an outline is open by up to {widest:.2g} mm{_ends_in_words(nearly)}"
        raise refuse(name, what, "draw its ends together", "delete it if it is no outline")
    if not some_closed:
        what = f"holds no closed outline, only {len(chains)} open lines{_ends_in_words(chains)}"
        nothing = "holds no lines that could be an outline" + "".join(f"; {n}" for n in notes if "passed over" in n)
        raise refuse(name, what if chains else nothing, "draw the outline as one closed line")


def _distinct(rings: Sequence[Floats], name: str) -> tuple[list[Polygon], list[str]]:
    """Rings as polygons: none without area, none drawn twice; one that crosses itself is refused."""
    kept: dict[bytes, Polygon] = {}
    twice = empty = 0
    for ring in rings:
        polygon = Polygon(ring)
        if polygon.convex_hull.area < LEAST_RING_MM2:
            empty += 1
            continue
        if not polygon.is_valid:
            raise refuse(
                name,
                f"an outline crosses itself ({shapely.is_valid_reason(polygon)})",
                "draw it without the crossing",
            )
        key = shapely.normalize(shapely.set_precision(polygon, 1e-3)).wkb
        twice += key in kept
        kept.setdefault(key, polygon)
    if not kept:
        raise refuse(name, "holds no closed outline with area", "draw the outline as one closed line")
    notes = [f"{twice} rings drawn twice were taken once"] if twice else []
    return list(kept.values()), notes + ([f"{empty} rings without area passed over"] if empty else [])


def _nested(polygons: Sequence[Polygon], name: str) -> Area:
    """Rings within rings: the outermost are wood, the next holes, the next wood again."""
    tree = shapely.STRtree(polygons)
    one, other = tree.query(polygons, predicate="overlaps")
    if len(one):
        place = polygons[one[0]].exterior.intersection(polygons[other[0]].exterior).representative_point()
        what = f"two outlines cross each other at x {place.x:.1f} y {place.y:.1f}"
        raise refuse(name, what, "join them into one outline, or keep only the one to be cut")
    inner, outer = tree.query(polygons, predicate="within")
    around = [outer[(inner == k) & (outer != k)] for k in range(len(polygons))]
    depth = np.array([len(others) for others in around])
    result = []
    for k in np.flatnonzero(depth % 2 == 0).tolist():
        holes = [polygons[j].exterior for j in np.flatnonzero(depth == depth[k] + 1).tolist() if k in around[j]]
        result.append(Polygon(polygons[k].exterior, holes))
    return tidy(result)


def _size_notes(area: Area) -> list[str]:
    from .health import size_complaints

    x0, y0, x1, y1 = area.bounds
    return [str(complaint) for complaint in size_complaints(max(x1 - x0, y1 - y0), unit_stated=True)]


def _ends_in_words(chains: Sequence[Floats]) -> str:
    shown = [f"x {a:.1f} y {b:.1f} to x {c:.1f} y {d:.1f}" for (a, b), (c, d) in ((ch[0], ch[-1]) for ch in chains)]
    return " (" + "; ".join(shown[:PLACES_SHOWN]) + (", ..." if len(shown) > PLACES_SHOWN else "") + ")"


def _places_in_words(places: Floats) -> str:
    return " at " + "; ".join(f"x {x:.1f} y {y:.1f}" for x, y in places[:PLACES_SHOWN])
