"""Floors and shallow faces (at most 45 degrees), by the height field: made surface against wanted, along the normal.

Frame   *seen*: the piece turned so that the side in question is up (x, up * y, up * z), not shifted; see edges
Method  at each cell's centre both surfaces are exact. Between centres they may differ by what the neighbours show:
        half the difference to the neighbour on either side, the greatest over four directions (exact for a ridge
        whose flanks are straight over two cells; a ball's flanks bend by pitch^2 / 8 R, 0.002 mm at 0.2 mm).
        Where that estimate passes a tolerance that the centre keeps, the tile is judged again at half the pitch.
Valid   what is below the estimate's own error is not seen: see docs/proof.md
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, binary_erosion

from witnessmark.field.drop import top_centre
from witnessmark.field.grid import Grid, Heights
from witnessmark.field.sweep import remove

from .edges import STEEPEST_FLOOR_RATIO
from .nearby import distance_to_any

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

TILE_CELLS = 64
FINEST_MM = 0.05
REFINE_CELLS = 3_000_000  # cells looked at again on one side of a piece
MOST_FLAGGED = 8000
FAR_FROM_WALL_MM = 5.0
WALL_CELLS = 2  # cells this close to a wall show what the wall left, and are not estimated between centres
SMOOTH_MM = 0.4  # neighbours that differ by more are two surfaces


@dataclass(frozen=True, eq=False)
class Cuts:
    """All moves of one cutter on one side: profile (6,), rows (n, 9) in the seen frame, (program, motion) (n, 2)."""

    profile: Floats
    rows: Floats
    motion: NDArray[np.int64]


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


@dataclass(frozen=True, eq=False)
class Floors:
    """What the floors seen from one side came to; ``worst_within_mm`` the most wood left that keeps the allowance;
    ``bracket_mm`` is the least and greatest deviation, estimated
    between the cells' centres as well; ``undecided_mm2`` the area where that estimate alone passes a tolerance."""

    up: int
    worst_gouge_mm: float
    worst_left_mm: float
    worst_within_mm: float
    gouges: FloorFaults
    left: FloorFaults
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

    def judged(self, made: Heights, grid: Grid) -> Floors:
        """Judge ``made`` (the wood's top at the end, -inf where it is gone)."""
        deviation = self._deviation(grid, made)
        low, high = between_centres(deviation.by_mm)
        gouged, left = self._faults(deviation)
        undecided = ((low < -self.gouge_tolerance_mm) | (high > self.allowance_mm)) & self._keeps(deviation.by_mm)
        finer = self._refined(grid, undecided)
        bracket = self._bracket(deviation, low, high)
        rest_mm2, finest_mm = float(undecided.sum()) * grid.pitch_mm**2, grid.pitch_mm
        if finer is not None:
            rest_mm2, finest_mm = finer.rest_mm2, finer.finest_mm
            gouged, left = _both(gouged, finer.gouged), _both(left, finer.left)
        kept = deviation.by_mm[self._keeps(deviation.by_mm)]
        return Floors(
            self.up,
            max([float(-kept.min(initial=0.0)), *gouged.by_mm.tolist()]),
            max([float(kept.max(initial=0.0)), *left.by_mm.tolist()]),
            float(kept.max(initial=0.0)),
            gouged,
            left,
            bracket,
            float(np.isfinite(deviation.by_mm).sum()) * grid.pitch_mm**2,
            rest_mm2,
            finest_mm,
            deviation,
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

    def _faults(self, deviation: Deviation) -> tuple[FloorFaults, FloorFaults]:
        gouged = deviation.by_mm < -self.gouge_tolerance_mm
        left = deviation.by_mm > self.allowance_mm
        return (
            self._apart_from_walls(deviation, gouged, self.gouge_tolerance_mm),
            self._apart_from_walls(deviation, left, self.allowance_mm),
        )

    def _apart_from_walls(self, deviation: Deviation, mask: Mask, within_mm: float) -> FloorFaults:
        """The places of a mask that no steep face is near enough to account for; never more than the way to one."""
        row, column = np.nonzero(mask)
        by = np.abs(deviation.by_mm[row, column].astype(np.float64))
        if len(by) > MOST_FLAGGED:
            order = np.argsort(-by, kind="stable")
            worst, others = order[: MOST_FLAGGED // 2], np.sort(order[MOST_FLAGGED // 2 :])
            keep = np.concatenate([worst, others[:: -(-len(others) // (MOST_FLAGGED // 2))]])
            row, column, by = row[keep], column[keep], by[keep]
        grid = deviation.grid
        seen = np.column_stack([grid.x_mm[column], grid.y_mm[row], deviation.wanted_mm[row, column]])
        steep = self.triangles[np.abs(self._normal_z()) < STEEPEST_FLOOR_RATIO]
        to_wall = distance_to_any(seen, steep, FAR_FROM_WALL_MM)
        free = to_wall > within_mm + 1e-3
        by = np.where(to_wall < FAR_FROM_WALL_MM, np.minimum(by, to_wall), by)
        return FloorFaults(seen[free] * np.array([1.0, self.up, self.up]), by[free])

    def made_top(self, grid: Grid) -> Heights:
        """The wood's top after all moves of this side, exactly at the centres of any grid (seen frame)."""
        made = grid.full(self.blank_top_mm)
        far_x, far_y = grid.x0_mm + grid.nx * grid.pitch_mm, grid.y0_mm + grid.ny * grid.pitch_mm
        for cut in self.cuts:
            remove(
                made, grid, cut.rows[_touching(cut, (grid.x0_mm, grid.y0_mm, far_x, far_y))], cut.profile, threads=1
            )
        return made

    def _refined(self, grid: Grid, undecided: Mask) -> _Finer | None:
        tiles = _tiles(grid, undecided)
        if not tiles or grid.pitch_mm <= FINEST_MM:
            return None
        spent, finer = 0, _Finer()
        for tile, waiting_mm2 in tiles:
            cells = 4 * tile.nx * tile.ny
            if spent + cells > REFINE_CELLS:
                finer.rest_mm2 += waiting_mm2
                continue
            spent += self._look_again(_halved(tile), finer)
        return finer

    def _look_again(self, grid: Grid, finer: _Finer) -> int:
        """Judge one tile at its own pitch, and at half of it where that does not decide; returns the cells seen."""
        deviation = self._deviation(grid, self.made_top(grid))
        low, high = between_centres(deviation.by_mm)
        gouged, left = self._faults(deviation)
        finer.gouged, finer.left = _both(finer.gouged, gouged), _both(finer.left, left)
        finer.finest_mm = min(finer.finest_mm, grid.pitch_mm)
        undecided = ((low < -self.gouge_tolerance_mm) | (high > self.allowance_mm)) & self._keeps(deviation.by_mm)
        spent = grid.nx * grid.ny
        if undecided.any():
            if grid.pitch_mm / 2 >= FINEST_MM - 1e-9:
                spent += self._look_again(_halved(grid), finer)
            else:
                finer.rest_mm2 += float(undecided.sum()) * grid.pitch_mm**2
        return spent


def _nothing() -> FloorFaults:
    return FloorFaults(np.empty((0, 3)), np.empty(0))


@dataclass(eq=False)
class _Finer:
    gouged: FloorFaults = None  # type: ignore[assignment]
    left: FloorFaults = None  # type: ignore[assignment]
    rest_mm2: float = 0.0
    finest_mm: float = np.inf

    def __post_init__(self) -> None:
        self.gouged, self.left = _nothing(), _nothing()


def _both(one: FloorFaults, two: FloorFaults) -> FloorFaults:
    return FloorFaults(np.concatenate([one.at_mm, two.at_mm]), np.concatenate([one.by_mm, two.by_mm]))


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


def _touching(cut: Cuts, box_mm: tuple[float, float, float, float]) -> Mask:
    """Which moves may touch a rectangle (x, y from; x, y to); arcs by the box of their circle."""
    rows, reach = cut.rows, cut.profile[1] + 0.01
    arc = rows[:, 8] != 0
    radius = np.where(arc, np.hypot(rows[:, 0] - rows[:, 6], rows[:, 1] - rows[:, 7]), 0.0)
    touching = np.ones(len(rows), dtype=bool)
    for axis in (0, 1):
        one, other, centre = rows[:, axis], rows[:, axis + 3], rows[:, axis + 6]
        low = np.where(arc, centre - radius, np.minimum(one, other))
        high = np.where(arc, centre + radius, np.maximum(one, other))
        touching &= (high + reach >= box_mm[axis]) & (low - reach <= box_mm[axis + 2])
    return touching


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
