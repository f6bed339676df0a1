"""Walls and drafted faces steeper than 45 degrees, by exact plane geometry at many heights.

Gouge is how deep a cutter went into the wood of the piece, leftover how much wood stands in front of it; both
along the normal of the face. A place where the piece's own top lies within the tolerance above is the floors'
business, and so is wood with air within the allowance above it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.threads import in_strips

from . import cover
from .each_wall import WallWorst, WorstOfWalls
from .edges import Edges, inside_solid, wall_edges
from .left import Left
from .passes import LOOK_MM, Lookup, Passes, lookup_of
from .plane import full_height
from .sample import looked_at, sample

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Box = tuple[float, float, float, float]

LONGEST_EDGE_MM = 2.0  # half of it and the allowance stay below BESIDE_MM
LEVELS_AT_ONCE = 48
MOST_FLAGGED = 12_000  # suspect places of one kind looked at first, where there are more
MOST_TOLD = 6000  # excused places kept to be told
SAMPLED_AT_ONCE = 6000
_SHARES = np.array([0.02, 0.25, 0.5, 0.75, 0.98])


@dataclass(frozen=True, eq=False)
class Places:
    """n places on walls, piece frame: where (n, 3), by how much along the normal and along the level (n,).

    steep (n,) is the cosine off vertical, normal (n, 2) points out, lean (n,) is +1 where the wall faces up, 0, -1;
    motion (n, 2) the program and its motion, -1 where none; face (n,) the row of the triangles.
    """

    at_mm: Floats
    by_mm: Floats
    level_by_mm: Floats
    steep: Floats
    normal: Floats
    lean: NDArray[np.int8]
    motion: Ints
    face: Ints

    def __len__(self) -> int:
        return len(self.by_mm)

    def kept(self, keep: NDArray[np.bool_] | Ints) -> Places:
        return Places(
            self.at_mm[keep],
            self.by_mm[keep],
            self.level_by_mm[keep],
            self.steep[keep],
            self.normal[keep],
            self.lean[keep],
            self.motion[keep],
            self.face[keep],
        )


WayToAir = Callable[[Floats], Floats]  # from places (n, 3): how far it is to air that was made in other ways, mm
Excuse = Callable[[Places], Floats]  # radius of the cutter that leaves it, infinite for a bridge; 0: no excuse


# of an allowance: where along the normal air is looked for; beyond it only so that it can be told how much is left
ALONG_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0 - 1e-6, 2.0, 4.0, 8.0)


def wood_along(way_to_air: WayToAir, at_mm: Floats, normals: Floats, allowance_mm: float) -> Floats:
    """The wood before places (n, 3) on faces with these normals (n, 3), (n,): no more than the way to any air."""
    wood = np.full(len(at_mm), np.inf)
    for share in ALONG_SHARES:
        out_mm = share * allowance_mm
        wood = np.minimum(wood, out_mm + way_to_air(at_mm + out_mm * normals))
    return wood


def solid_normals(normals: Floats, steep: Floats, lean: NDArray[np.int8]) -> Floats:
    """The normals (n, 3) of walls from their level ones (n, 2), the cosines off vertical and where they face."""
    return np.column_stack([normals * steep[:, None], lean * np.sqrt(np.clip(1.0 - steep**2, 0.0, None))])


def never(places: Places) -> Floats:
    """Nothing is excused."""
    return np.zeros(len(places))


@dataclass(frozen=True, eq=False)
class Walls:
    """What the walls came to. Faults beyond tolerance are in ``gouges`` and ``left``; counts as judged.

    Where very many places are suspect, gouges and faults left may be those of a sample; no fault at all means that
    every one was looked at. Of what is excused in ``left`` a sample is kept.
    """

    worst_gouge_mm: float
    worst_left_mm: float
    gouges: Places
    left: Left
    levels: int
    edges: int
    worst_within_mm: float  # the most wood left that keeps the allowance
    sampled_mm: Floats  # (m, 4): x, y, z in the piece frame and the deviation there (wood left +, gouged -)
    each: tuple[WallWorst, ...]

    def turned(self, rotation: Floats) -> Walls:
        """With all places said in the frame to which ``rotation`` (3, 3) leads; normals and leans stay."""
        seen = np.column_stack([self.sampled_mm[:, :3] @ rotation.T, self.sampled_mm[:, 3]])
        return replace(
            self,
            gouges=replace(self.gouges, at_mm=self.gouges.at_mm @ rotation.T),
            left=replace(self.left, at_mm=self.left.at_mm @ rotation.T),
            sampled_mm=seen,
            each=tuple(wall.turned(rotation) for wall in self.each),
        )

    @staticmethod
    def joined(parts: list[Walls]) -> Walls:
        """Walls as several axes show them."""
        if len(parts) == 1:
            return parts[0]
        return Walls(
            max(part.worst_gouge_mm for part in parts),
            max(part.worst_left_mm for part in parts),
            _all([part.gouges for part in parts]),
            Left.joined([part.left for part in parts]),
            sum(part.levels for part in parts),
            sum(part.edges for part in parts),
            max(part.worst_within_mm for part in parts),
            np.concatenate([part.sampled_mm for part in parts]),
            tuple(sorted((wall for part in parts for wall in part.each), key=lambda wall: -wall.area_mm2)),
        )


@dataclass(frozen=True, eq=False)
class WallJudge:
    """The piece's triangles (piece frame), the passes of each side that was up, and the tolerances."""

    triangles: Floats
    sides: tuple[Lookup, ...]
    blank_mm: Box
    blank_z_mm: tuple[float, float]
    gouge_tolerance_mm: float
    allowance_mm: float
    elsewhere: WayToAir | None = None  # to what was cut standing on other axes
    whole: bool = True  # False: only walls that these passes have something to do with are looked at for wood left

    def judged(self, levels_mm: Floats, excused: Excuse = never) -> Walls:
        """Judge the walls at these heights; ``excused`` says where the wood left need not be told as a fault."""
        gouges: list[Places] = []
        bare: list[Places] = []
        sampled, each = [np.empty((0, 4))], WorstOfWalls(self.triangles)
        worst, count = 0.0, 0
        for i in range(0, len(levels_mm), LEVELS_AT_ONCE):
            edges = wall_edges(self.triangles, levels_mm[i : i + LEVELS_AT_ONCE], LONGEST_EDGE_MM)
            count += len(edges)
            if not len(edges):
                continue
            near, flagged, uncut, met = self._met(edges, each)
            worst = max(worst, near)
            if not self.whole:
                each.met(edges.face[met])
            sampled.append(self._sampled(edges, np.arange(len(edges)) if self.whole else np.flatnonzero(met), each))
            gouges.append(flagged)
            bare.append(uncut)
        seen = np.concatenate(sampled)
        usual = float(seen[seen[:, 3] <= self.allowance_mm, 3].max(initial=0.0))
        gouged = looked_at(_all(gouges), MOST_FLAGGED, Places.kept, self._true_gouges, lambda found: len(found) > 0)
        each.gouged(gouged.face, gouged.at_mm, gouged.by_mm)
        left = looked_at(
            _all(bare),
            MOST_FLAGGED,
            Places.kept,
            lambda some: self._left(some, excused, each),
            lambda found: found.fails,
        )
        return Walls(
            max([worst, *gouged.by_mm.tolist()]),
            max(usual, left.worst_fault_mm),
            gouged,
            left,
            len(levels_mm),
            count,
            usual,
            seen,
            each.told(only_met=not self.whole),
        )

    def _met(self, edges: Edges, each: WorstOfWalls) -> tuple[float, Places, Places, NDArray[np.bool_]]:
        """(worst gouge within tolerance, places gouged beyond it, places with bare edge, edges that were met)."""
        n = len(edges)
        bare = np.zeros((n, cover.SPANS, 2), dtype=np.float32)
        length = np.hypot(edges.ends_mm[:, 2] - edges.ends_mm[:, 0], edges.ends_mm[:, 3] - edges.ends_mm[:, 1])
        bare[:, 0, 1] = length
        spans = np.ones(n, dtype=np.int8)
        worst, by, program = np.zeros(n), np.full(n, -1, dtype=np.int64), np.full((n, 2), -1, dtype=np.int64)
        for side in self.sides:
            gouge = np.zeros(n)
            by[:] = -1
            self._side_meets(side, edges, bare, spans, gouge, by)
            worse = gouge > worst
            program[worse] = side.passes.motion[by[worse]]
            worst = np.maximum(worst, gouge)
        normal_by = worst * edges.steep
        beyond = normal_by > self.gouge_tolerance_mm
        within = float(normal_by[~beyond].max(initial=0.0))
        middle = (edges.ends_mm[:, :2] + edges.ends_mm[:, 2:]) / 2
        at = np.column_stack([middle, edges.z_mm])
        places = Places(at, normal_by, worst, edges.steep, edges.normals, edges.lean, program, edges.face)
        each.gouged(edges.face[~beyond], at[~beyond], normal_by[~beyond])
        met = (worst > 0.0) | (spans != 1) | (bare[:, 0, 0] > 0.0) | (bare[:, 0, 1] < length.astype(np.float32))
        if not self.whole:
            spans[~met] = 0
        return within, places.kept(beyond), _bare_places(edges, length, bare, spans), met

    def _sampled(self, edges: Edges, rows: Ints, each: WorstOfWalls) -> Floats:
        """Wood before the middle of every n-th of these edges, (m, 4)."""
        every = rows[:: max(1, -(-len(rows) // SAMPLED_AT_ONCE))]
        ends = edges.ends_mm[every]
        at = np.column_stack([(ends[:, :2] + ends[:, 2:]) / 2, edges.z_mm[every]])
        by = self.wood_before(at) * edges.steep[every]
        if self.elsewhere is not None:
            standing = by > self.allowance_mm
            some = every[standing]
            normals = solid_normals(edges.normals[some], edges.steep[some], edges.lean[some])
            other = wood_along(self.elsewhere, at[standing], normals, self.allowance_mm)
            by[standing] = np.minimum(by[standing], other)
        keeps = by <= self.allowance_mm
        each.left(edges.face[every][keeps], at[keeps], by[keeps])
        return np.column_stack([at, by])

    def _side_meets(
        self, side: Lookup, edges: Edges, bare: NDArray[np.float32], spans: NDArray[np.int8], gouge: Floats, by: Ints
    ) -> None:
        outward = edges.lean * side.up < 0  # leans out over what is beneath it, seen from this side
        z = np.ascontiguousarray(side.up * edges.z_mm)
        full = np.array([full_height(p) for p in side.profiles])
        passes = side.passes

        def work(a: int, b: int) -> None:
            cover.meet(
                edges.ends_mm,
                edges.normals,
                edges.steep,
                outward,
                z,
                side.place,
                side.starts,
                side.which,
                side.round_mm,
                passes.ends,
                side.lowest,
                passes.cutter,
                passes.bulge_mm,
                side.profiles,
                full,
                self.allowance_mm,
                cover.DEEP_MM,
                bare,
                spans,
                gouge,
                by,
                a,
                b,
            )

        in_strips(work, len(edges), strips_each=4)

    def _true_gouges(self, places: Places) -> Places:
        """Those where wood deeper than the tolerance is gone: sideways, and seen from the sides that cut."""
        if not len(places):
            return places
        tolerance = self.gouge_tolerance_mm
        behind = places.at_mm.copy()
        behind[:, :2] -= places.normal * (1.05 * tolerance / places.steep[:, None])
        deep = np.ones(len(places), dtype=bool)
        for side in self.sides:
            over = behind.copy()
            over[:, 2] += side.up * tolerance
            deep &= inside_solid(over, self.triangles)
        return places.kept(deep)

    def _left(self, places: Places, excused: Excuse, each: WorstOfWalls) -> Left:
        """The wood before each bare place, along the normal, where it passes the allowance and what excuses it."""
        level_by = self.wood_before(places.at_mm)
        by = level_by * places.steep
        rows = np.flatnonzero(by > self.allowance_mm)
        by[rows] = np.minimum(by[rows], self._wood_elsewhere(places.kept(rows)))
        standing = by > self.allowance_mm
        places = replace(places.kept(standing), level_by_mm=level_by[standing], by_mm=by[standing])
        eased_mm = excused(places)
        free = np.flatnonzero(eased_mm > 0)
        looked = np.sort(np.concatenate([np.flatnonzero(eased_mm == 0), free[sample(places.by_mm[free], MOST_TOLD)]]))
        places, eased_mm = places.kept(looked), eased_mm[looked]
        by = self._along_normal(places)
        beyond = by > self.allowance_mm
        fault = beyond & (eased_mm == 0)
        each.left(places.face[fault], places.at_mm[fault], by[fault])
        return Left(places.at_mm[beyond], by[beyond], eased_mm[beyond])

    def _wood_elsewhere(self, places: Places) -> Floats:
        """Where the wood before a place keeps the allowance because of what was cut on another axis, (n,)."""
        if self.elsewhere is None or not len(places):
            return np.full(len(places), np.inf)
        normals = solid_normals(places.normal, places.steep, places.lean)
        return wood_along(self.elsewhere, places.at_mm, normals, self.allowance_mm)

    def _along_normal(self, places: Places) -> Floats:
        """The way to the nearest air, upward and downward too: it may be over a ridge."""
        nearest = places.by_mm.copy()
        for lift in (1.0, -1.0, 0.5, -0.5):
            lift_mm = lift * self.allowance_mm
            standing = nearest > self.allowance_mm
            shifted = places.at_mm[standing] + np.array([0.0, 0.0, lift_mm])
            nearest[standing] = np.minimum(nearest[standing], np.hypot(self.wood_before(shifted), lift_mm))
        return nearest

    def wood_before(self, at_mm: Floats) -> Floats:
        """Level distance from places (n, 3) to the nearest air, mm; at most LOOK_MM is looked for."""
        x, y, z = np.ascontiguousarray(at_mm.T)
        x0, y0, x1, y1 = self.blank_mm
        outside = np.minimum(np.minimum(x - x0, x1 - x), np.minimum(y - y0, y1 - y))
        thick = np.clip(np.minimum(outside, LOOK_MM), 0.0, None)
        thick[(z <= self.blank_z_mm[0]) | (z >= self.blank_z_mm[1])] = 0.0
        points = np.ascontiguousarray(at_mm[:, :2])
        for side in self.sides:
            self._nearest_air(side, points, np.ascontiguousarray(side.up * z), thick)
        return thick

    def _nearest_air(self, side: Lookup, points: Floats, z: Floats, thick: Floats) -> None:
        passes = side.passes

        def work(a: int, b: int) -> None:
            cover.wood_before(
                points,
                z,
                side.place,
                side.starts,
                side.which,
                passes.ends,
                side.lowest,
                passes.cutter,
                side.profiles,
                thick,
                a,
                b,
            )

        in_strips(work, len(points), strips_each=4)


def wall_judge(
    triangles: Floats,
    passes: dict[int, Passes],
    profiles: Floats,
    blank_mm: Box,
    blank_z_mm: tuple[float, float],
    gouge_tolerance_mm: float,
    allowance_mm: float,
    whole: bool = True,
) -> WallJudge:
    """Make the judge of a piece's walls; passes by ``up``."""
    low, high = triangles.reshape(-1, 3).min(axis=0), triangles.reshape(-1, 3).max(axis=0)
    box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    sides = tuple(lookup_of(_beside(some, up, low, high), profiles, box, up) for up, some in passes.items())
    return WallJudge(triangles, sides, blank_mm, blank_z_mm, gouge_tolerance_mm, allowance_mm, whole=whole)


def _beside(passes: Passes, up: int, low: Floats, high: Floats) -> Passes:
    """The passes that come below the piece's top as it stands."""
    top = float(high[2]) if up > 0 else -float(low[2])
    return passes.kept(np.minimum(passes.ends[:, 2], passes.ends[:, 5]) < top + 1.0)


def _bare_places(edges: Edges, length: Floats, bare: NDArray[np.float32], spans: NDArray[np.int8]) -> Places:
    """Places on the bare spans of the edges: near both ends and between."""
    row, nth = np.nonzero(np.arange(cover.SPANS)[None, :] < spans[:, None])
    low, high = bare[row, nth, 0].astype(np.float64), bare[row, nth, 1].astype(np.float64)
    along = low[:, None] + (high - low)[:, None] * _SHARES
    row = np.repeat(row, len(_SHARES))
    share = np.divide(along.ravel(), length[row], out=np.zeros(len(row)), where=length[row] > 0)
    ends = edges.ends_mm[row]
    at = ends[:, :2] + (ends[:, 2:] - ends[:, :2]) * share[:, None]
    nothing = np.zeros(len(row))
    return Places(
        np.column_stack([at, edges.z_mm[row]]),
        nothing,
        nothing,
        edges.steep[row],
        edges.normals[row],
        edges.lean[row],
        np.full((len(row), 2), -1, dtype=np.int64),
        edges.face[row],
    )


def _all(parts: list[Places]) -> Places:
    if not parts:
        nothing = np.empty(0)
        return Places(
            np.empty((0, 3)),
            nothing,
            nothing,
            nothing,
            np.empty((0, 2)),
            np.empty(0, np.int8),
            np.empty((0, 2), int),
            np.empty(0, int),
        )
    return Places(
        np.concatenate([p.at_mm for p in parts]),
        np.concatenate([p.by_mm for p in parts]),
        np.concatenate([p.level_by_mm for p in parts]),
        np.concatenate([p.steep for p in parts]),
        np.concatenate([p.normal for p in parts]),
        np.concatenate([p.lean for p in parts]),
        np.concatenate([p.motion for p in parts]),
        np.concatenate([p.face for p in parts]),
    )
