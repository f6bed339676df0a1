"""Wood left where no listed cutter fits: concave corners come out rounded to the cutter's radius.

Worked out from the solid alone: the section at a height, closed by a disc of the smallest cutter that counts as
able to get there (everything that a disc outside the section cannot enter stays), says how much wood even a
perfect program leaves before a place on the wall. A cutter counts as able to get down to its stick-out below the
piece's top nearby where its shank is no wider than itself, and to the length of its flutes where it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from witnessmark.field.drop import top_centre
from witnessmark.field.grid import Grid
from witnessmark.job.frames import side_rotation
from witnessmark.job.models import Cutter
from witnessmark.shapes.closing import closed
from witnessmark.shapes.rings import Area, only_area
from witnessmark.shapes.solid import Solid

Floats = NDArray[np.float64]

NEAR_MM = 8.0  # how far round a place the piece's top counts as beside it
TOP_PITCH_MM = 1.0
CELL_MM = 15.0  # places this close at one height are answered together
QUAD_SEGMENTS = 48  # arcs of the closing: within 0.0005 mm of the circle for a 6 mm cutter
SHY_MM = 0.02  # a path may keep so much further off a wall than the cutter's radius: it ends earlier in a slow wedge
SLACK_MM = 0.02  # what the closing's own arcs and the mesh's chords may differ
# GEOS clips by a rectangle wrongly where the outline runs through its corners: sizes that no drawing has
_ROUND_MM = np.array([2.0137031, 2.0241953])
TILTING = ("flat", "ball", "bull")


@dataclass(frozen=True)
class Reaching:
    """A cutter as seen here: its radius, and how far below the piece's top it counts as able to get."""

    name: str
    radius_mm: float
    depth_mm: float


def reaching(cutters: tuple[Cutter, ...]) -> tuple[Reaching, ...]:
    """The cutters that can finish a wall, the smallest first."""
    able = []
    for c in cutters:
        if c.kind in TILTING:
            slim = c.shank_diameter_mm <= c.diameter_mm + 1e-9
            free_mm = c.flute_length_mm + (c.neck_length_mm if c.neck_diameter_mm <= c.diameter_mm else 0.0)
            depth_mm = c.stickout_mm if slim else min(free_mm, c.stickout_mm)
            able.append(Reaching(c.name, c.diameter_mm / 2, depth_mm))
    return tuple(sorted(able, key=lambda r: (r.radius_mm, -r.depth_mm)))


def reaching_under(cutters: tuple[Cutter, ...]) -> tuple[Reaching, ...]:
    """The cutters that can finish what other wood hides."""
    able = [Reaching(c.name, c.diameter_mm / 2, c.stickout_mm) for c in cutters if c.undercuts]
    return tuple(sorted(able, key=lambda r: (r.radius_mm, -r.depth_mm)))


def radius_at(depth_mm: float, able: tuple[Reaching, ...]) -> float:
    """The smallest radius that gets to a depth; deeper than all of them, that of the one that gets deepest."""
    if not able:
        return 0.0
    fitting = [r.radius_mm for r in able if r.depth_mm >= depth_mm]
    return min(fitting) if fitting else max(able, key=lambda r: (r.depth_mm, -r.radius_mm)).radius_mm


@dataclass(frozen=True, eq=False)
class Easing:
    """Answers for one piece, from the sides that were up."""

    solid: Solid
    able: tuple[Reaching, ...]
    ups: tuple[int, ...]
    tops: dict[int, tuple[Floats, Grid]] = field(default_factory=dict)

    def unavoidable(
        self,
        at_mm: Floats,
        lean: NDArray[np.int8],
        wood_mm: Floats,
        shy_mm: float = 0.0,
        normal: Floats | None = None,
    ) -> Floats:
        """Radius (n,) of the cutter that leaves it, where no cutter can take so much wood before a place; else 0.

        ``wood_mm`` (n,): level distance to the nearest air, less what is allowed; at least SLACK_MM is asked for.
        ``lean`` (n,) as in edges: a wall that leans out over what is beneath it cannot be reached from above.
        ``shy_mm``: how much further off the walls than its radius the cutter may keep. ``normal`` (n, 2), out of the
        wall: where the cutter standing against the wall there meets no other wall, nothing need be closed.
        """
        wood_mm = np.maximum(wood_mm, SLACK_MM)
        radius = np.full(len(at_mm), np.inf)
        for up in self.ups:
            fit = self.radii_at(at_mm, up)
            seen = (lean * up >= 0) & (fit > 0)
            for r in np.unique(fit[seen]):
                rows = np.flatnonzero(seen & (fit == r) & (radius > 0))  # one side that can take it is enough
                radius_mm, stays = float(r) + shy_mm, np.zeros(len(rows), dtype=bool)
                hemmed = (
                    np.ones(len(rows), bool) if normal is None else self._hemmed(at_mm[rows], normal[rows], radius_mm)
                )
                if hemmed.any():
                    stays[hemmed] = self._closed(at_mm[rows[hemmed]], wood_mm[rows[hemmed]], radius_mm)
                radius[rows] = np.where(stays, np.minimum(radius[rows], r), 0.0)
        return np.where(np.isfinite(radius), radius, 0.0)

    def radii_at(self, at_mm: Floats, up: int) -> Floats:
        """The smallest radius that counts as able to get to each place from a side, (n,)."""
        return np.array([radius_at(d, self.able) for d in self._depth(at_mm, up)])

    def _depth(self, at_mm: Floats, up: int) -> Floats:
        """How far below the piece's top nearby each place lies, seen from one side."""
        if up not in self.tops:
            self.tops[up] = self._top(up)
        top, grid = self.tops[up]
        y = at_mm[:, 1] * up  # "-z" up turns the piece about its x axis
        column = np.clip(((at_mm[:, 0] - grid.x0_mm) // grid.pitch_mm).astype(np.int64), 0, grid.nx - 1)
        row = np.clip(((y - grid.y0_mm) // grid.pitch_mm).astype(np.int64), 0, grid.ny - 1)
        return np.maximum(top[row, column] - up * at_mm[:, 2], 0.0)

    def _top(self, up: int) -> tuple[Floats, Grid]:
        rotation = side_rotation("+z" if up > 0 else "-z")
        triangles = np.ascontiguousarray(self.solid.triangles @ rotation.T)
        low, high = triangles.reshape(-1, 3).min(axis=0), triangles.reshape(-1, 3).max(axis=0)
        grid = Grid.over(low[0] - 1, low[1] - 1, high[0] + 1, high[1] + 1, TOP_PITCH_MM)
        top = top_centre(triangles, grid)[0].astype(np.float64)
        size = 2 * round(NEAR_MM / TOP_PITCH_MM) + 1
        return np.asarray(maximum_filter(top, size=size, mode="nearest"), dtype=np.float64), grid

    def near_wall(self, at_mm: Floats, within_mm: float) -> NDArray[np.bool_]:
        """Whether the piece's outline at its height runs within so much of each place, (n,)."""
        near = np.zeros(len(at_mm), dtype=bool)
        heights, where = np.unique(np.round(at_mm[:, 2], 6), return_inverse=True)
        for k, z_mm in enumerate(heights):
            rows = np.flatnonzero(where.ravel() == k)
            outline = self.solid.section(float(z_mm)).boundary
            shapely.prepare(outline)
            near[rows] = shapely.dwithin(outline, shapely.points(at_mm[rows, :2]), within_mm)
        return near

    def _hemmed(self, at_mm: Floats, normal: Floats, radius_mm: float) -> NDArray[np.bool_]:
        """Where a disc that touches the wall at a place from outside would reach into the section there, (n,)."""
        centres = shapely.points(at_mm[:, :2] + (radius_mm + SLACK_MM) * normal)
        hemmed = np.zeros(len(at_mm), dtype=bool)
        heights, where = np.unique(np.round(at_mm[:, 2], 6), return_inverse=True)
        for k, z_mm in enumerate(heights):
            rows = np.flatnonzero(where.ravel() == k)
            section = self.solid.section(float(z_mm))
            shapely.prepare(section)
            hemmed[rows] = shapely.dwithin(section, centres[rows], radius_mm)
            shapely.destroy_prepared(section)  # sections are kept: their indexes would fill the memory
        return hemmed

    def wood_mm(self, at_mm: Floats, radius_mm: float) -> Floats:
        """Level distance from each place to the nearest air that a disc of that radius can make, (n,), however far.

        Looked for as far as six radii; 0 where the disc reaches the place.
        """
        far_mm = 5 * radius_mm
        wood = np.zeros(len(at_mm))
        for rows, shut, rim in self._closings(at_mm, radius_mm):
            points = shapely.points(at_mm[rows, 0], at_mm[rows, 1])
            away = np.nan_to_num(shapely.distance(rim, points), nan=far_mm)
            wood[rows] = np.where(shapely.intersects(shut, points), away, 0.0)
        return wood

    def _closed(self, at_mm: Floats, wood_mm: Floats, radius_mm: float) -> NDArray[np.bool_]:
        """Whether the nearest air that a disc of that radius can make at its height is beyond ``wood_mm``, (n,)."""
        stays = np.zeros(len(at_mm), dtype=bool)
        for rows, shut, rim in self._closings(at_mm, radius_mm):
            points = shapely.points(at_mm[rows, 0], at_mm[rows, 1])
            shapely.prepare([shut, rim])
            stays[rows] = shapely.intersects(shut, points) & ~shapely.dwithin(rim, points, wood_mm[rows])
        return stays

    def _closings(
        self, at_mm: Floats, radius_mm: float
    ) -> Iterator[tuple[NDArray[np.int64], Area, shapely.Geometry]]:
        """For places near each other at one height: their rows, the section there closed by the disc, and its rim.

        The rim is empty where a hole is filled: wood as far as looked.
        """
        keys = np.column_stack([np.round(at_mm[:, 2], 6), np.floor(at_mm[:, :2] / CELL_MM)])
        _, where = np.unique(keys, axis=0, return_inverse=True)
        order = np.argsort(where.ravel(), kind="stable")
        breaks = np.flatnonzero(np.diff(where.ravel()[order])) + 1
        for rows in np.split(order, breaks):
            if not len(rows):
                continue
            places = at_mm[rows]
            low, high = (
                places[:, :2].min(axis=0) - 6 * radius_mm - _ROUND_MM,
                places[:, :2].max(axis=0) + 6 * radius_mm,
            )
            high = high + _ROUND_MM[::-1]
            near = shapely.clip_by_rect(self.solid.section(float(places[0, 2])), low[0], low[1], high[0], high[1])
            wood = closed(only_area(near), radius_mm, QUAD_SEGMENTS)
            if wood.is_empty:
                continue
            frame = shapely.box(low[0] + radius_mm, low[1] + radius_mm, high[0] - radius_mm, high[1] - radius_mm)
            yield rows, wood, shapely.intersection(wood.boundary, frame)
