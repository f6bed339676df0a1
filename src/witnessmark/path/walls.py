"""Walls by level: contours round exact no-go areas, from the highest level down.

Which levels, and who cuts them, is said in ``wall_levels``.
"""

from __future__ import annotations

from collections.abc import Iterable

import shapely

from .areas import box
from .contours import LeftOut, allowed_tracks, wall_lines
from .track import Track, nearest_next
from .wall_levels import WallLevel
from .work import Work


def cut_walls(work: Work, levels: list[WallLevel]) -> None:
    """Go round the walls at the levels; what had no room is counted."""
    ordered = sorted(levels, key=lambda level: -level.z_mm)
    work.nogo.prepare(work.cutter, [level.z_mm for level in ordered])
    _go_round(work, ordered, work.request.through_z_mm, stop_below_mm=None)


def cut_corners(work: Work, levels: Iterable[WallLevel], stop_below_mm: float) -> None:
    """The same for corners, lazily: ended once nothing had room for ``stop_below_mm`` on the way down."""
    _go_round(work, levels, work.request.corners_to_mm, stop_below_mm)


def _go_round(work: Work, levels: Iterable[WallLevel], outer_to_mm: float, stop_below_mm: float | None) -> None:
    """The levels, which come in order of falling height; outer walls only down to ``outer_to_mm``."""
    above: shapely.Geometry | None = None
    inside = inside_outline(work)
    last_cut_mm: float | None = None
    for level in levels:
        lines = _lines(work, level, inside, outer_to_mm)
        tracks = _tracks(work, lines, level.z_mm)
        for track in nearest_next(tracks, work.joiner.xy_mm):
            work.joiner.follow(track, None, above, plunge=True)
        above = shapely.difference(box(work.request.window_mm), work.nogo.area(work.cutter, level.z_mm))
        shapely.prepare(above)
        if last_cut_mm is None or tracks or not lines:
            last_cut_mm = level.z_mm
        elif stop_below_mm is not None and level.z_mm < last_cut_mm - stop_below_mm:
            return


def inside_outline(work: Work) -> shapely.Geometry:
    """Where the cutter lies wholly within the piece's outline seen from above: cavities, not outer walls."""
    return shapely.buffer(work.nogo.silhouette, -work.radius_mm)


def _lines(work: Work, level: WallLevel, inside: shapely.Geometry, outer_to_mm: float) -> list[shapely.LineString]:
    """What of the walls is to be cut at a level; below ``outer_to_mm`` only what is inside the outline."""
    no_go = work.nogo.area(work.cutter, level.z_mm)
    within = level.within
    if level.z_mm < outer_to_mm - 1e-6:
        within = inside if within is None else shapely.intersection(within, inside)
    return [] if no_go.is_empty else wall_lines(no_go, work.request, within)


def _tracks(work: Work, lines: list[shapely.LineString], z_mm: float) -> list[Track]:
    lowest = work.lowest if work.edge_mm > 0.0 else None
    missed: LeftOut = work.missed("walls")
    return [track for line in lines for track in allowed_tracks(line, z_mm, work.room, missed, lowest)]
