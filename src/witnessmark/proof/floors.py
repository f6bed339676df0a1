"""Floors and shallow faces (at most 45 degrees), by the height field: made surface against wanted, along the normal.

Frame   *seen*: the piece turned so that the side in question is up (x, up * y, up * z), not shifted; see edges
Method  at each cell's centre both surfaces are exact, and over the whole cell made minus wanted is bounded (between).
        Where a bound passes a tolerance that the centre keeps, that part is judged again at half the pitch, until all
        is decided or FINEST_MM or REFINE_CELLS is reached.
Valid   what is decided holds for the continuous surface; cells beside walls: at their centres (docs/proof.md)
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from witnessmark.field.drop import top_centre
from witnessmark.field.grid import Grid, Heights
from witnessmark.field.sweep import remove

from .between import Between, Bounds
from .edges import STEEPEST_FLOOR_RATIO
from .left import Left
from .nearby import distance_to_any
from .over import rows_over
from .sample import looked_at
from .walls import WayToAir, wood_along

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

TILE_CELLS = 64
STRIP_ROWS = 128
FINEST_MM = 0.0125
REFINE_CELLS = 4_000_000  # cells looked at again on one side of a piece
FAILED_CELLS = 250_000  # the same where it fails already
MOST_FLAGGED = 2000  # suspect places of one kind looked at first, where there are more
FAR_FROM_WALL_MM = 5.0
ROUNDING_MM = 1e-6
ROUGHLY_MM = 1e-3
TOLD_CELLS = 2  # what is undecided this close to a place beyond tolerance belongs to that place


@dataclass(frozen=True, eq=False)
class Cuts:
    """All moves of one cutter on one side: profile (6,), rows (n, 9) in the seen frame."""

    profile: Floats
    rows: Floats


@dataclass(frozen=True, eq=False)
class Deviation:
    """Made minus wanted along the normal (mm, nan: not judged) on ``grid``, seen frame; ``gone``: no wood left."""

    up: int
    grid: Grid
    by_mm: Heights
    gone: Mask


@dataclass(frozen=True, eq=False)
class _Looked:
    """A deviation while it is judged: the drawn top with it."""

    deviation: Deviation
    wanted_mm: Heights


@dataclass(frozen=True, eq=False)
class FloorFaults:
    """Places (n, 3) in the piece frame and by how much along the normal (n,)."""

    at_mm: Floats
    by_mm: Floats

    def __len__(self) -> int:
        return len(self.by_mm)

    def kept(self, keep: Mask | NDArray[np.int64]) -> FloorFaults:
        return FloorFaults(self.at_mm[keep], self.by_mm[keep])

    @staticmethod
    def joined(parts: list[FloorFaults]) -> FloorFaults:
        """All of several."""
        return FloorFaults(
            np.concatenate([np.empty((0, 3)), *(part.at_mm for part in parts)]),
            np.concatenate([np.empty(0), *(part.by_mm for part in parts)]),
        )


Excuse = Callable[[FloorFaults], Left]  # what of it is wood left, and what excuses that


def never(faults: FloorFaults) -> Left:
    """Nothing is excused."""
    return Left(faults.at_mm, faults.by_mm, np.zeros(len(faults)))


@dataclass(frozen=True, eq=False)
class Floors:
    """What the floors seen from one side came to; ``worst_within_mm`` the most wood left that keeps the allowance.

    ``bracket_mm``: between these every deviation of the decided area lies, for the continuous surface;
    ``undecided_mm2``: where a bound alone passes a tolerance, in the end, the worst of it at ``undecided_at_mm``;
    ``beside_mm2``: so near to walls that only the cells' centres are looked at.

    Where very many places are suspect, ``gouges`` and ``left`` may be those of a sample; no fault at all means that
    every one was looked at.
    """

    up: int
    worst_gouge_mm: float
    worst_left_mm: float
    worst_within_mm: float
    gouges: FloorFaults
    left: Left
    bracket_mm: tuple[float, float]
    area_mm2: float
    undecided_mm2: float
    undecided_at_mm: tuple[float, float, float] | None
    undecided_by_mm: float
    beside_mm2: float
    finest_mm: float
    deviation: Deviation
    side: str = "+z"

    def turned(self, rotation: Floats) -> Floors:
        """With all places said in the frame to which ``rotation`` (3, 3) leads; the deviation stays as it is seen."""
        at = self.undecided_at_mm
        turned = None if at is None else tuple((np.array(at) @ rotation.T).tolist())
        return replace(
            self,
            gouges=FloorFaults(self.gouges.at_mm @ rotation.T, self.gouges.by_mm),
            left=replace(self.left, at_mm=self.left.at_mm @ rotation.T),
            undecided_at_mm=turned,
        )


@dataclass(frozen=True, eq=False)
class FloorJudge:
    """One side of one piece. ``triangles`` and all heights in the seen frame; ``blank_top_mm`` likewise."""

    up: int
    triangles: Floats
    cuts: tuple[Cuts, ...]
    blank_top_mm: float
    gouge_tolerance_mm: float
    allowance_mm: float
    elsewhere: WayToAir | None = None  # from places of the piece frame to what was cut in any other way
    whole: bool = True  # False: only what these cuts have something to do with is looked at
    undercut: bool = False  # ``made`` is also the work of cutters that are not among the cuts

    def judged(self, made: Heights, grid: Grid, excused: Excuse = never) -> Floors:
        """Judge ``made`` (the wood's top at the end, -inf where it is gone), which is overwritten."""
        uncut = None if self.whole else made >= np.float32(self.blank_top_mm - ROUNDING_MM)
        unknown = np.abs(self.made_top(grid) - made) > ROUGHLY_MM if self.undercut else None
        looked = self._deviation(grid, made)
        others = self._of_others(looked, uncut, unknown)
        suspects, finer = _Suspects(), _Finer()
        between, deviation = self._between(), looked.deviation
        beside_mm2 = float(self._looked_at(looked, between, suspects, finer, others).beside.sum()) * grid.pitch_mm**2
        del looked
        gouged, left = self._gouged(suspects.gouged()), self._left(suspects.left(), excused)
        closer, failed = _Suspects(), len(gouged) > 0 or left.fails
        self._refined(between, finer, closer, others, FAILED_CELLS if failed else REFINE_CELLS)
        gouged = FloorFaults.joined([gouged, self._gouged(closer.gouged())])
        left = Left.joined([left, self._left(closer.left(), excused)])
        kept = deviation.by_mm[self._keeps(deviation.by_mm)]
        within_mm = float(kept.max(initial=0.0))
        return Floors(
            self.up,
            max([float(-kept.min(initial=0.0)), *gouged.by_mm.tolist()]),
            max(within_mm, left.worst_fault_mm),
            within_mm,
            gouged,
            left,
            (finer.least_mm, finer.most_mm),
            float(np.isfinite(deviation.by_mm).sum()) * grid.pitch_mm**2,
            finer.rest_mm2,
            finer.worst_at_mm,
            finer.worst_by_mm,
            beside_mm2,
            finer.finest_mm,
            deviation,
        )

    def _of_others(self, looked: _Looked, uncut: Mask | None, unknown: Mask | None) -> _Others | None:
        """Cells whose surface was made in another way: they are taken out of the deviation, and said here.

        ``unknown`` cells are judged at their middles alone.
        """
        deviation, grid = looked.deviation, looked.deviation.grid
        others = np.zeros(grid.shape, dtype=bool) if uncut is None else uncut
        row, column = np.nonzero((deviation.by_mm > self.allowance_mm) & ~others)
        if self.elsewhere is not None and len(row):
            _, hit = top_centre(self.triangles, grid)
            faces = self.triangles[hit[row, column]]
            normals = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
            normals /= np.linalg.norm(normals, axis=1)[:, None]
            seen = np.column_stack([grid.x_mm[column], grid.y_mm[row], looked.wanted_mm[row, column]])
            way = np.array([1.0, self.up, self.up])
            gone = wood_along(self.elsewhere, seen * way, normals * way, self.allowance_mm) <= self.allowance_mm
            others[row[gone], column[gone]] = True
        deviation.by_mm[others] = np.nan
        if unknown is not None:
            others |= unknown
        if not others.any():
            return None
        return _Others(grid, binary_dilation(others, iterations=TOLD_CELLS))

    def _between(self) -> Between:
        cuts = [(cut.profile, cut.rows) for cut in self.cuts]
        tolerance_mm = max(self.gouge_tolerance_mm, self.allowance_mm)
        return Between.of(self.triangles, self._normal_z(), cuts, self.blank_top_mm, tolerance_mm)

    def _gouged(self, suspects: FloorFaults) -> FloorFaults:
        return looked_at(
            suspects,
            MOST_FLAGGED,
            FloorFaults.kept,
            lambda some: self._apart_from_walls(some, self.gouge_tolerance_mm),
            lambda found: len(found) > 0,
        )

    def _left(self, suspects: FloorFaults, excused: Excuse) -> Left:
        return looked_at(
            suspects,
            MOST_FLAGGED,
            FloorFaults.kept,
            lambda some: excused(self._apart_from_walls(some, self.allowance_mm)),
            lambda found: found.fails,
        )

    def _keeps(self, by_mm: Heights) -> Mask:
        """Cells whose centre keeps both tolerances."""
        return (by_mm >= -self.gouge_tolerance_mm) & (by_mm <= self.allowance_mm)

    def _normal_z(self) -> Floats:
        cross = np.cross(self.triangles[:, 1] - self.triangles[:, 0], self.triangles[:, 2] - self.triangles[:, 0])
        length = np.linalg.norm(cross, axis=1)
        return np.divide(cross[:, 2], length, out=np.zeros(len(cross)), where=length > 0)

    def _deviation(self, grid: Grid, made: Heights) -> _Looked:
        """The deviation takes the place of ``made``: its field is overwritten."""
        wanted, hit = top_centre(self.triangles, grid)
        normal_z = np.append(self._normal_z(), 0.0).astype(np.float32)  # the last for cells without a face (-1)
        gone = np.isneginf(made)
        lowest_mm = np.float32(self.triangles[:, :, 2].min())
        for rows in _strips(grid):
            slope = normal_z[hit[rows]]
            shallow = slope >= STEEPEST_FLOOR_RATIO
            # where no wood is left the piece is cut through, and counts as gouged however thin it is there
            missing = np.minimum(lowest_mm - wanted[rows], np.float32(-2 * self.gouge_tolerance_mm))
            there = ~gone[rows] & np.isfinite(wanted[rows])
            over = np.subtract(made[rows], wanted[rows], out=missing, where=there)
            made[rows] = np.nan
            np.multiply(over, slope, out=made[rows], where=shallow)
        return _Looked(Deviation(self.up, grid, made, gone), wanted)

    def _suspect(self, looked: _Looked, suspects: _Suspects) -> None:
        """Note the cells whose centre passes a tolerance."""
        deviation = looked.deviation
        for mask, found in (
            (deviation.by_mm < -self.gouge_tolerance_mm, suspects.gouges),
            (deviation.by_mm > self.allowance_mm, suspects.lefts),
        ):
            row, column = np.nonzero(mask)
            if not len(row):
                continue
            by = np.abs(deviation.by_mm[row, column].astype(np.float64))
            grid = deviation.grid
            seen = np.column_stack([grid.x_mm[column], grid.y_mm[row], looked.wanted_mm[row, column]])
            found.append(FloorFaults(seen * np.array([1.0, self.up, self.up]), by))

    def _apart_from_walls(self, suspects: FloorFaults, within_mm: float) -> FloorFaults:
        """Those that no steep face is near enough to account for; never by more than the way to one."""
        steep = self.triangles[np.abs(self._normal_z()) < STEEPEST_FLOOR_RATIO]
        to_wall = distance_to_any(suspects.at_mm * np.array([1.0, self.up, self.up]), steep, FAR_FROM_WALL_MM)
        free = to_wall > within_mm + 1e-3
        by = np.where(to_wall < FAR_FROM_WALL_MM, np.minimum(suspects.by_mm, to_wall), suspects.by_mm)
        return FloorFaults(suspects.at_mm[free], by[free])

    def made_top(self, grid: Grid) -> Heights:
        """The wood's top after all moves of this side, exactly at the centres of any grid (seen frame)."""
        made = grid.full(self.blank_top_mm)
        far_x, far_y = grid.x0_mm + grid.nx * grid.pitch_mm, grid.y0_mm + grid.ny * grid.pitch_mm
        for cut in self.cuts:
            over = rows_over(cut.rows, (grid.x0_mm, grid.y0_mm, far_x, far_y), cut.profile[1] + 0.01)
            remove(made, grid, cut.rows[over], cut.profile, threads=1)
        return made

    def _looked_at(
        self, looked: _Looked, between: Between, suspects: _Suspects, finer: _Finer, others: _Others | None
    ) -> Bounds:
        """Judge a grid: faults at the centres, bounds over the cells, and what is still to be looked at closer."""
        deviation, grid = looked.deviation, looked.deviation.grid
        self._suspect(looked, suspects)
        judged = np.isfinite(deviation.by_mm)
        if others is not None:
            judged &= ~others.over(grid)
        bounds = between.bounds(grid, looked.wanted_mm, judged)
        told = np.isfinite(deviation.by_mm) & ~self._keeps(deviation.by_mm)
        told = binary_dilation(told, iterations=TOLD_CELLS) if told.any() else told
        open_ = np.zeros(grid.shape, dtype=bool)
        for rows in _strips(grid):
            beyond = self._beyond(bounds, rows)
            open_[rows] = (beyond > ROUNDING_MM) & ~told[rows]
            decided = (beyond <= ROUNDING_MM) & ~told[rows]
            finer.least_mm = min(finer.least_mm, float(bounds.least_mm[rows][decided].min(initial=0.0)))
            finer.most_mm = max(finer.most_mm, float(bounds.most_mm[rows][decided].max(initial=0.0)))
        del told
        finer.finest_mm = min(finer.finest_mm, grid.pitch_mm)
        finer.spent += grid.nx * grid.ny
        if not open_.any():
            return bounds
        if grid.pitch_mm / 2 >= FINEST_MM - 1e-9:
            finer.waiting += self._tiles(looked, open_, bounds)
        else:
            for tile in self._tiles(looked, open_, bounds):
                finer.give_up(tile)
        return bounds

    def _beyond(self, bounds: Bounds, here: Any) -> Heights:
        """How far the bounds pass the tolerances in a part of the grid; nan where not judged."""
        most, least = bounds.most_mm[here] - self.allowance_mm, -bounds.least_mm[here] - self.gouge_tolerance_mm
        return np.asarray(np.fmax(most, least), dtype=np.float32)

    def _tiles(self, looked: _Looked, mask: Mask, bounds: Bounds) -> list[_Tile]:
        """The tiles of a grid in which the mask is set, a cell's margin round it; the fullest first."""
        deviation = looked.deviation
        grid, found = deviation.grid, []
        wide = binary_dilation(mask)
        for j in range(0, grid.ny, TILE_CELLS):
            for i in range(0, grid.nx, TILE_CELLS):
                here = (slice(j, j + TILE_CELLS), slice(i, i + TILE_CELLS))
                count = int(mask[here].sum())
                if not count:
                    continue
                rows, columns = np.nonzero(wide[here])
                x0 = grid.x0_mm + (i + columns.min()) * grid.pitch_mm
                y0 = grid.y0_mm + (j + rows.min()) * grid.pitch_mm
                tile = Grid(x0, y0, grid.pitch_mm, int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1)
                by = np.where(mask[here], self._beyond(bounds, here), -np.inf)
                row, column = np.unravel_index(np.argmax(by), by.shape)
                x, y, z = grid.x_mm[i + column], grid.y_mm[j + row], looked.wanted_mm[here][row, column]
                at = (float(x), float(deviation.up * y), float(deviation.up * z))
                found.append(_Tile(tile, count * grid.pitch_mm**2, float(by[row, column]), at))
        return sorted(found, key=lambda tile: -tile.area_mm2)

    def _refined(
        self, between: Between, finer: _Finer, suspects: _Suspects, others: _Others | None, most_cells: int
    ) -> None:
        """Judge what waits at finer pitches, coarse ones first, the fullest tiles first."""
        finer.spent = 0
        while finer.waiting:
            tile = finer.waiting.pop(0)
            if finer.spent > most_cells:
                finer.give_up(tile)
                continue
            half = _halved(tile.grid)
            looked = self._deviation(half, self.made_top(half))
            if others is not None:
                looked.deviation.by_mm[others.over(half)] = np.nan
            self._looked_at(looked, between, suspects, finer, others)


@dataclass(frozen=True, eq=False)
class _Others:
    """Cells (and those beside them) whose surface was made in another way than by these cuts."""

    grid: Grid
    cells: Mask

    def over(self, grid: Grid) -> Mask:
        """The cells of another grid that lie in them."""
        own = self.grid
        column = np.clip(((grid.x_mm - own.x0_mm) // own.pitch_mm).astype(np.int64), 0, own.nx - 1)
        row = np.clip(((grid.y_mm - own.y0_mm) // own.pitch_mm).astype(np.int64), 0, own.ny - 1)
        return self.cells[row[:, None], column[None, :]]


@dataclass(frozen=True, eq=False)
class _Tile:
    """A part of a grid that is to be looked at closer: how much is undecided in it, and the worst of that."""

    grid: Grid
    area_mm2: float
    by_mm: float
    at_mm: tuple[float, float, float]


@dataclass(eq=False)
class _Finer:
    """What looking closer came to: the parts that wait, the cells spent, and the bounds of what is decided."""

    waiting: list[_Tile] = field(default_factory=list)
    spent: int = 0
    rest_mm2: float = 0.0
    worst_by_mm: float = 0.0
    worst_at_mm: tuple[float, float, float] | None = None
    finest_mm: float = np.inf
    least_mm: float = 0.0
    most_mm: float = 0.0

    def give_up(self, tile: _Tile) -> None:
        """Its area stays undecided."""
        self.rest_mm2 += tile.area_mm2
        if self.worst_at_mm is None or tile.by_mm > self.worst_by_mm:
            self.worst_by_mm, self.worst_at_mm = tile.by_mm, tile.at_mm


@dataclass(frozen=True, eq=False)
class _Suspects:
    """Places beyond a tolerance, whatever accounts for them."""

    gouges: list[FloorFaults] = field(default_factory=list)
    lefts: list[FloorFaults] = field(default_factory=list)

    def gouged(self) -> FloorFaults:
        return FloorFaults.joined(self.gouges)

    def left(self) -> FloorFaults:
        return FloorFaults.joined(self.lefts)


def _strips(grid: Grid) -> list[slice]:
    """The rows of a grid in parts, so that what is computed on the way stays small."""
    return [slice(row, min(row + STRIP_ROWS, grid.ny)) for row in range(0, grid.ny, STRIP_ROWS)]


def _halved(grid: Grid) -> Grid:
    return Grid(grid.x0_mm, grid.y0_mm, grid.pitch_mm / 2, 2 * grid.nx, 2 * grid.ny)
