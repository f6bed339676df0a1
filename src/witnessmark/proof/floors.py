"""Floors and shallow faces (at most 45 degrees), by the height field: made surface against wanted, along the normal.

Frame   *seen*: the piece turned so that the side in question is up (x, up * y, up * z), not shifted; see edges
Method  at each cell's centre both surfaces are exact. Between centres they may differ by what the neighbours show:
        half the difference to the neighbour on either side, the greatest over four directions (exact for a ridge
        whose flanks are straight over two cells; a ball's flanks bend by pitch^2 / 8 R, 0.002 mm at 0.2 mm).
        Where that estimate passes a tolerance that the centre keeps, the tile is judged again at half the pitch.
Valid   what is below the estimate's own error is not seen: see docs/proof.md
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, binary_erosion

from witnessmark.field.drop import top_centre
from witnessmark.field.grid import Grid, Heights
from witnessmark.field.sweep import remove

from .edges import STEEPEST_FLOOR_RATIO
from .left import Left
from .nearby import distance_to_any
from .over import rows_over
from .sample import looked_at

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

TILE_CELLS = 64
FINEST_MM = 0.05
REFINE_CELLS = 3_000_000  # cells looked at again on one side of a piece
MOST_FLAGGED = 2000  # suspect places of one kind looked at first, where there are more
FAR_FROM_WALL_MM = 5.0
WALL_CELLS = 2  # cells this close to a wall show what the wall left, and are not estimated between centres
SMOOTH_MM = 0.4  # neighbours that differ by more are two surfaces


@dataclass(frozen=True, eq=False)
class Cuts:
    """All moves of one cutter on one side: profile (6,), rows (n, 9) in the seen frame."""

    profile: Floats
    rows: Floats


@dataclass(frozen=True, eq=False)
class Deviation:
    """Made minus wanted along the normal (mm, nan where not judged) on ``grid``, and the wanted top, seen frame."""

    up: int
    grid: Grid
    by_mm: Heights
    wanted_mm: Heights
    made_mm: Heights


@dataclass(frozen=True, eq=False)
class FloorFaults:
    """Places (n, 3) in the piece frame and by how much along the normal (n,)."""

    at_mm: Floats
    by_mm: Floats

    def __len__(self) -> int:
        return len(self.by_mm)

    def kept(self, keep: Mask | NDArray[np.int64]) -> FloorFaults:
        return FloorFaults(self.at_mm[keep], self.by_mm[keep])


Excuse = Callable[[FloorFaults], Left]  # what of it is wood left, and what excuses that


def never(faults: FloorFaults) -> Left:
    """Nothing is excused."""
    return Left(faults.at_mm, faults.by_mm, np.zeros(len(faults)))


@dataclass(frozen=True, eq=False)
class Floors:
    """What the floors seen from one side came to; ``worst_within_mm`` the most wood left that keeps the allowance;
    ``bracket_mm`` is the least and greatest deviation, estimated
    between the cells' centres as well; ``undecided_mm2`` the area where that estimate alone passes a tolerance.

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
    finest_mm: float
    deviation: Deviation


@dataclass(frozen=True, eq=False)
class FloorJudge:
    """One side of one piece. ``triangles`` and all heights in the seen frame; ``blank_top_mm`` likewise."""

    up: int
    triangles: Floats
    cuts: tuple[Cuts, ...]
    blank_top_mm: float
    gouge_tolerance_mm: float
    allowance_mm: float

    def judged(self, made: Heights, grid: Grid, excused: Excuse = never) -> Floors:
        """Judge ``made`` (the wood's top at the end, -inf where it is gone)."""
        deviation = self._deviation(grid, made)
        low, high = between_centres(deviation.by_mm)
        suspects = _Suspects()
        self._suspect(deviation, suspects)
        undecided = ((low < -self.gouge_tolerance_mm) | (high > self.allowance_mm)) & self._keeps(deviation.by_mm)
        rest_mm2, finest_mm = self._refined(grid, undecided, suspects)
        gouged, left = self._gouged(suspects.gouged()), self._left(suspects.left(), excused)
        kept = deviation.by_mm[self._keeps(deviation.by_mm)]
        within_mm = float(kept.max(initial=0.0))
        return Floors(
            self.up,
            max([float(-kept.min(initial=0.0)), *gouged.by_mm.tolist()]),
            max(within_mm, left.worst_fault_mm),
            within_mm,
            gouged,
            left,
            self._bracket(deviation, low, high),
            float(np.isfinite(deviation.by_mm).sum()) * grid.pitch_mm**2,
            rest_mm2,
            finest_mm,
            deviation,
        )

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

    def _bracket(self, deviation: Deviation, low: Heights, high: Heights) -> tuple[float, float]:
        keeps = self._keeps(deviation.by_mm)
        return float(low[keeps].min(initial=0.0)), float(high[keeps].max(initial=0.0))

    def _normal_z(self) -> Floats:
        cross = np.cross(self.triangles[:, 1] - self.triangles[:, 0], self.triangles[:, 2] - self.triangles[:, 0])
        length = np.linalg.norm(cross, axis=1)
        return np.divide(cross[:, 2], length, out=np.zeros(len(cross)), where=length > 0)

    def _deviation(self, grid: Grid, made: Heights) -> Deviation:
        wanted, hit = top_centre(self.triangles, grid)
        slope = np.where(hit >= 0, self._normal_z()[hit], 0.0)
        shallow = slope >= STEEPEST_FLOOR_RATIO
        by = np.full(grid.shape, np.nan, dtype=np.float32)
        # where no wood is left the piece is cut through, and counts as gouged however thin it is there
        lowest_mm = np.float32(self.triangles[:, :, 2].min())
        reached = np.where(np.isfinite(made), made, np.minimum(lowest_mm, wanted - 2 * self.gouge_tolerance_mm))
        by[shallow] = (reached[shallow] - wanted[shallow]) * slope[shallow]
        return Deviation(self.up, grid, by, wanted, made)

    def _suspect(self, deviation: Deviation, suspects: _Suspects) -> None:
        """Note the cells whose centre passes a tolerance."""
        for mask, found in (
            (deviation.by_mm < -self.gouge_tolerance_mm, suspects.gouges),
            (deviation.by_mm > self.allowance_mm, suspects.lefts),
        ):
            row, column = np.nonzero(mask)
            if not len(row):
                continue
            by = np.abs(deviation.by_mm[row, column].astype(np.float64))
            grid = deviation.grid
            seen = np.column_stack([grid.x_mm[column], grid.y_mm[row], deviation.wanted_mm[row, column]])
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

    def _refined(self, grid: Grid, undecided: Mask, suspects: _Suspects) -> tuple[float, float]:
        """Judge the undecided tiles at finer pitches; (area still undecided mm2, finest pitch mm)."""
        tiles = _tiles(grid, undecided)
        if not tiles or grid.pitch_mm <= FINEST_MM:
            return float(undecided.sum()) * grid.pitch_mm**2, grid.pitch_mm
        spent, finer = 0, _Finer()
        for tile, waiting_mm2 in tiles:
            cells = 4 * tile.nx * tile.ny
            if spent + cells > REFINE_CELLS:
                finer.rest_mm2 += waiting_mm2
                continue
            spent += self._look_again(_halved(tile), finer, suspects)
        return finer.rest_mm2, finer.finest_mm

    def _look_again(self, grid: Grid, finer: _Finer, suspects: _Suspects) -> int:
        """Judge one tile at its own pitch, and at half of it where that does not decide; returns the cells seen."""
        deviation = self._deviation(grid, self.made_top(grid))
        low, high = between_centres(deviation.by_mm)
        self._suspect(deviation, suspects)
        finer.finest_mm = min(finer.finest_mm, grid.pitch_mm)
        undecided = ((low < -self.gouge_tolerance_mm) | (high > self.allowance_mm)) & self._keeps(deviation.by_mm)
        spent = grid.nx * grid.ny
        if undecided.any():
            if grid.pitch_mm / 2 >= FINEST_MM - 1e-9:
                spent += self._look_again(_halved(grid), finer, suspects)
            else:
                finer.rest_mm2 += float(undecided.sum()) * grid.pitch_mm**2
        return spent


@dataclass(eq=False)
class _Finer:
    rest_mm2: float = 0.0
    finest_mm: float = np.inf


@dataclass(frozen=True, eq=False)
class _Suspects:
    """Places beyond a tolerance, whatever accounts for them."""

    gouges: list[FloorFaults] = field(default_factory=list)
    lefts: list[FloorFaults] = field(default_factory=list)

    def gouged(self) -> FloorFaults:
        return _all(self.gouges)

    def left(self) -> FloorFaults:
        return _all(self.lefts)


def _all(parts: list[FloorFaults]) -> FloorFaults:
    return FloorFaults(
        np.concatenate([np.empty((0, 3)), *(part.at_mm for part in parts)]),
        np.concatenate([np.empty(0), *(part.by_mm for part in parts)]),
    )


def between_centres(by_mm: Heights) -> tuple[Heights, Heights]:
    """(lowest, highest) deviation over each cell as its neighbours show it; nan where the centre is nan.

    Beside a wall (WALL_CELLS) it is the centre's.
    """
    low, high = by_mm.copy(), by_mm.copy()
    inner = binary_erosion(np.isfinite(by_mm), iterations=WALL_CELLS)
    if not inner.any():
        return low, high
    padded = np.pad(by_mm, 1, constant_values=np.nan)
    ny, nx = by_mm.shape
    for dy, dx in ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (1, -1), (-1, 1), (-1, -1)):
        step = by_mm - padded[1 + dy : 1 + dy + ny, 1 + dx : 1 + dx + nx]
        step[~(np.abs(step) < SMOOTH_MM)] = 0.0
        step *= 0.5
        step += by_mm
        np.fmax(high, step, out=high, where=inner)
        np.fmin(low, step, out=low, where=inner)
    return low, high


def _tiles(grid: Grid, mask: Mask) -> list[tuple[Grid, float]]:
    """The tiles of a grid in which the mask is set, with the area it has there; the fullest first."""
    found = []
    wide = binary_dilation(mask)
    for j in range(0, grid.ny, TILE_CELLS):
        for i in range(0, grid.nx, TILE_CELLS):
            part = wide[j : j + TILE_CELLS, i : i + TILE_CELLS]
            count = int(mask[j : j + TILE_CELLS, i : i + TILE_CELLS].sum())
            if not count:
                continue
            rows, columns = np.nonzero(part)
            x0 = grid.x0_mm + (i + columns.min()) * grid.pitch_mm
            y0 = grid.y0_mm + (j + rows.min()) * grid.pitch_mm
            size = (int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1)
            found.append((Grid(x0, y0, grid.pitch_mm, *size), count * grid.pitch_mm**2))
    return sorted(found, key=lambda tile: -tile[1])


def _halved(grid: Grid) -> Grid:
    return Grid(grid.x0_mm, grid.y0_mm, grid.pitch_mm / 2, 2 * grid.nx, 2 * grid.ny)
