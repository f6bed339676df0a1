"""From the border of a no-go area to tracks along it that may be cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from witnessmark.job.placement import Rectangle
from witnessmark.shapes.rings import Area

from .areas import box, outline
from .climb import climbing
from .lowest import Lowest
from .request import CutRequest
from .room import Room
from .track import Floats, Track, track_of

FEEL_MM = 0.5  # how far apart room is asked for along a contour
SHORTEST_MM = 0.2
TOO_LOW_MM = 1e-3


@dataclass
class LeftOut:
    """What of the contours could not be cut, by length, and the place of the first piece."""

    region_mm: Rectangle
    length_mm: float = 0.0
    first_mm: tuple[float, float, float] | None = None

    def add(self, points_mm: Floats, each_mm: float) -> None:
        """Count places (n, 3) that stand for ``each_mm`` each; in the overlap beyond the region nothing is missed."""
        x0, y0, x1, y1 = self.region_mm
        x, y = points_mm[:, 0], points_mm[:, 1]
        mine = points_mm[(x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)]
        self.length_mm += each_mm * len(mine)
        if self.first_mm is None and len(mine):
            middle = mine[len(mine) // 2]
            self.first_mm = (float(middle[0]), float(middle[1]), float(middle[2]))


def wall_lines(no_go: Area, request: CutRequest, within: shapely.Geometry | None = None) -> list[shapely.LineString]:
    """The no-go area's border within the region (and its overlap), the window and ``within``, in the climbing way.

    Only walls: the region's own edge is no border of the no-go area.
    """
    border = outline(no_go)
    allowed = shapely.intersection(
        box(request.region_mm, request.settings.seam_overlap_mm), box(request.window_mm, -1e-6)
    )
    kept = shapely.intersection(border, allowed)
    if within is not None:
        kept = shapely.intersection(kept, within)
    merged = shapely.line_merge(kept)
    lines = [g for g in shapely.get_parts(merged) if g.geom_type in ("LineString", "LinearRing")]
    shapely.prepare(no_go)
    return [climbing(line, no_go) for line in lines if line.length > SHORTEST_MM]


def allowed_tracks(
    line: shapely.LineString, z_mm: float, room: Room, left_out: LeftOut, lowest: Lowest | None = None
) -> list[Track]:
    """The parts of a line that the assembly may run along at z; the rest is counted.

    With ``lowest`` (for a round edge) a tip that would be too low over the solid is raised: on ridges that slope
    gently the sampling of the no-go area errs by more than elsewhere.
    """
    felt = shapely.get_coordinates(shapely.segmentize(line, FEEL_MM))
    tips = np.column_stack([felt, np.full(len(felt), z_mm)])
    free = room.allowed(tips)
    if free.all():
        return [_raised(track_of(line, z_mm), lowest)]
    good = free[:-1] & free[1:]
    left_out.add(tips[~free], line.length / (len(felt) - 1))
    runs = _runs(felt, good, bool(np.allclose(felt[0], felt[-1])))
    return [_raised(track_of(run, z_mm), lowest) for run in runs]


def _raised(track: Track, lowest: Lowest | None) -> Track:
    """The track, lifted where its tips are too low over the solid."""
    if lowest is None:
        return track
    felt = shapely.get_coordinates(shapely.segmentize(shapely.linestrings(track.chain_mm[:, :2]), FEEL_MM))
    felt = felt[:-1] if track.closed else felt
    z_mm = float(track.points_mm[0, 2])
    tips_mm = lowest.tips(felt)
    if tips_mm.max() <= z_mm + TOO_LOW_MM:
        return track
    return Track(np.column_stack([felt, np.maximum(z_mm, tips_mm)]), track.closed)


def _runs(points: Floats, good: np.ndarray, closed: bool) -> list[shapely.LineString]:
    """Maximal runs of good steps of a chain, joined over the start of a closed one, thinned back."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], good, [False]]).astype(np.int8)))
    runs = [points[a : b + 1] for a, b in zip(edges[0::2], edges[1::2])]
    if closed and len(runs) > 1 and good[0] and good[-1]:
        runs = [np.vstack([runs[-1], runs[0][1:]]), *runs[1:-1]]
    lines = [shapely.simplify(shapely.linestrings(run), 1e-7) for run in runs]
    return [line for line in lines if line.length > SHORTEST_MM]
