"""Height fields made visible: light and shade from above, and an oblique view as in a drawing.

Frame   as the field: rows along +y, columns along +x
Method  shade: Lambert's law for one far light. Oblique: parallel projection, screen height v = w sin e + z cos e
        for depth w and elevation e; the first row (nearest first) whose running maximum of v reaches a pixel is
        seen there. Drawn twice too fine and averaged.
Source  Anderson, D. P. (1982), Hidden line elimination in projected grid surfaces, ACM Trans. Graphics 1(4), for
        the running horizon (from memory)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.grid import Grid, Heights

Floats = NDArray[np.float64]
Pixels = NDArray[np.float32]
Cells = tuple[NDArray[np.int64], NDArray[np.int64]]

LIGHT = (-0.45, 0.45, 0.77)  # a direction: from the upper left, as drawings are lit
AMBIENT_RATIO, DARKEST_RATIO = 0.6, 0.55  # walls stay readable on a shop's printer
EDGE_RATIO = 0.5  # brightness of the line where something nearer begins
EDGE_MM = 6.0  # a jump in depth that counts as an edge
FINER = 2  # drawn so many times finer than shown


def shade(heights: Heights, pitch_mm: float) -> Floats:
    """Brightness (ny, nx) of the lit surface: 1 where it lies flat, walls between 0.55 and 0.9. The rim counts."""
    solid = np.where(np.isfinite(heights), heights, 0.0).astype(np.float64)
    around = np.pad(solid, 1, constant_values=float(solid.min()) - 10.0)
    gy = np.asarray(np.gradient(around, pitch_mm, axis=0))[1:-1, 1:-1]
    gx = np.asarray(np.gradient(around, pitch_mm, axis=1))[1:-1, 1:-1]
    lx, ly, lz = (part / math.hypot(*LIGHT) for part in LIGHT)
    lit = (lz - gx * lx - gy * ly) / np.sqrt(1 + gx**2 + gy**2)
    return np.asarray(np.clip(AMBIENT_RATIO + (1 - AMBIENT_RATIO) * lit / lz, DARKEST_RATIO, 1.1))


@dataclass(frozen=True, eq=False)
class Oblique:
    """An oblique picture: ``image`` (h, w, 4) with row 0 at the top, and where points of the frame fall on it."""

    image: Pixels
    turn_rad: float
    elevation_rad: float
    scale_px: float  # pixels a mm
    left_mm: float
    low_mm: float

    def place_px(self, x_mm: float, y_mm: float, z_mm: float) -> tuple[float, float]:
        """Column and row of a point."""
        u = x_mm * math.cos(self.turn_rad) + y_mm * math.sin(self.turn_rad)
        w = -x_mm * math.sin(self.turn_rad) + y_mm * math.cos(self.turn_rad)
        v = w * math.sin(self.elevation_rad) + z_mm * math.cos(self.elevation_rad)
        return ((u - self.left_mm) * self.scale_px, self.image.shape[0] - (v - self.low_mm) * self.scale_px)


def oblique(
    heights: Heights,
    colours: Floats,
    grid: Grid,
    base_mm: float = 0.0,
    turn_deg: float = 24.0,
    elevation_deg: float = 40.0,
    width_px: int = 700,
) -> Oblique:
    """Draw a field with its colours (ny, nx, 3) standing on ``base_mm``, seen from the front, turned a little."""
    turn, elevation = math.radians(turn_deg), math.radians(elevation_deg)
    across_mm, depth_mm = _extent(grid, turn)
    fine_px = FINER * width_px / (across_mm[1] - across_mm[0])
    us: Floats = np.asarray(across_mm[0] + (np.arange(FINER * width_px) + 0.5) / fine_px, dtype=np.float64)
    ws: Floats = np.asarray(np.arange(depth_mm[0], depth_mm[1], 1.0 / fine_px), dtype=np.float64)
    cells, inside = _sampled(grid, us, ws, turn)
    v = np.where(inside, ws[:, None] * math.sin(elevation) + heights[cells] * math.cos(elevation), -np.inf)
    feet = np.where(np.isfinite(v), ws[:, None] * math.sin(elevation), np.inf).min(axis=0)
    feet += base_mm * math.cos(elevation)
    low, high = float(feet[np.isfinite(feet)].min()), float(v[np.isfinite(v)].max())
    count = FINER * math.ceil((high - low) * fine_px / FINER)
    levels: Floats = np.asarray(low + (np.arange(count) + 0.5) / fine_px, dtype=np.float64)
    seen = _first_rows(np.maximum.accumulate(v, axis=0), levels)
    seen[levels[:, None] < feet[None, :]] = -1
    image = _painted(seen, ws, cells, colours, shade(heights, grid.pitch_mm))
    return Oblique(_averaged(image)[::-1], turn, elevation, fine_px / FINER, float(us[0]), low)


def _extent(grid: Grid, turn_rad: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Range across the view and in depth, mm."""
    x = np.array([grid.x0_mm, grid.x0_mm + grid.nx * grid.pitch_mm])
    y = np.array([grid.y0_mm, grid.y0_mm + grid.ny * grid.pitch_mm])
    xs, ys = (corner.ravel() for corner in np.meshgrid(x, y))
    u = xs * math.cos(turn_rad) + ys * math.sin(turn_rad)
    w = -xs * math.sin(turn_rad) + ys * math.cos(turn_rad)
    return (float(u.min()), float(u.max())), (float(w.min()), float(w.max()))


def _sampled(grid: Grid, us: Floats, ws: Floats, turn_rad: float) -> tuple[Cells, NDArray[np.bool_]]:
    """Cell numbers (rows, columns) under every (depth, across) pair, and whether there is a cell."""
    x = us[None, :] * math.cos(turn_rad) - ws[:, None] * math.sin(turn_rad)
    y = us[None, :] * math.sin(turn_rad) + ws[:, None] * math.cos(turn_rad)
    i = np.floor((x - grid.x0_mm) / grid.pitch_mm).astype(np.int64)
    j = np.floor((y - grid.y0_mm) / grid.pitch_mm).astype(np.int64)
    inside = (i >= 0) & (i < grid.nx) & (j >= 0) & (j < grid.ny)
    return (np.clip(j, 0, grid.ny - 1), np.clip(i, 0, grid.nx - 1)), inside


def _first_rows(horizon: Floats, levels: Floats) -> NDArray[np.int64]:
    """For each pixel (level, across) the first depth row whose horizon reaches it; -1 for none."""
    seen = np.empty((len(levels), horizon.shape[1]), dtype=np.int64)
    for column in range(horizon.shape[1]):
        seen[:, column] = np.searchsorted(horizon[:, column], levels)
    seen[seen == horizon.shape[0]] = -1
    return seen


def _painted(seen: NDArray[np.int64], ws: Floats, cells: Cells, colours: Floats, lit: Floats) -> Pixels:
    """RGBA (levels, across, 4): every surface by its light, edges as dark lines."""
    across = np.arange(seen.shape[1])[None, :]
    row = np.maximum(seen, 0)
    j, i = cells[0][row, across], cells[1][row, across]
    depth = np.where(seen >= 0, ws[row], 1e6)
    edge = np.zeros(seen.shape, dtype=bool)
    edge[:-1] |= depth[1:] - depth[:-1] > EDGE_MM
    edge[:, 1:] |= np.abs(depth[:, 1:] - depth[:, :-1]) > 2 * EDGE_MM
    bright = np.where(edge, EDGE_RATIO, lit[j, i]).astype(np.float32)
    image = np.empty((*seen.shape, 4), dtype=np.float32)
    np.multiply(colours.astype(np.float32)[j, i], bright[..., None], out=image[..., :3])
    np.clip(image[..., :3], 0, 1, out=image[..., :3])
    image[..., 3] = seen >= 0
    return image


def _averaged(image: Pixels) -> Pixels:
    """The mean of FINER x FINER pixels; what lies outside does not bleed in."""
    high, wide = image.shape[0] // FINER, image.shape[1] // FINER
    blocks = image.reshape(high, FINER, wide, FINER, 4)
    weight = blocks[..., 3:].sum(axis=(1, 3))
    colour = (blocks[..., :3] * blocks[..., 3:]).sum(axis=(1, 3)) / np.maximum(weight, 1.0)
    return np.asarray(np.concatenate([colour, weight / FINER**2], axis=-1), dtype=np.float32)
