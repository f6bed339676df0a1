"""Per placement the solids *wood to leave* and *clearance wood*, for makers who draw their own paths.

A height field becomes a solid with its corners at the cell centres (the outermost drawn out to the blank's sides), so
that it passes through the field's heights exactly; flat parts are then merged within ``SIMPLER_MM``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import manifold3d
import numpy as np

from witnessmark.field.grid import Grid, Heights
from witnessmark.job.frames import Rigid
from witnessmark.job.names import file_stem
from witnessmark.job.placement import Rectangle, rectangle_of
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl

from .model import PiecePlan, PlacementPlan

SIMPLER_MM = 0.02
LEAST_MM3 = 1.0  # clearance wood in smaller scraps is the merging's rounding


@dataclass(frozen=True, eq=False)
class PlacementSolids:
    """Both solids of a placement in the piece frame; ``clearance`` is None where none is cut."""

    placement: str
    to_bed: Rigid
    leave: Solid
    clearance: Solid | None


def solids_of(plan: PiecePlan) -> Iterator[PlacementSolids]:
    """The solids of every placement in order, each within the wood that the one before leaves."""
    wood: manifold3d.Manifold | None = None
    for step in plan.placements:
        back = step.placement.stand.inverse().matrix34()
        blank_mm = rectangle_of(step.placement.holds[0].outline_mm)
        before = _whole(step, blank_mm).transform(back) if wood is None else wood
        after = before ^ field_solid(step.top_after, step.grid, blank_mm).transform(back)
        clearance = None
        if float(step.clearance.max(initial=0.0)) > 0.0:
            raised = np.where(step.clearance > 0, step.top_after + step.clearance, step.top_after)
            higher = before ^ field_solid(raised.astype(np.float32), step.grid, blank_mm).transform(back)
            scraps = [part for part in (higher - after).decompose() if part.volume() > LEAST_MM3]
            clearance = Solid(manifold3d.Manifold.compose(scraps)) if scraps else None
        wood = after
        yield PlacementSolids(step.placement.name, step.placement.piece_to_bed, Solid(after), clearance)


def field_solid(heights: Heights, grid: Grid, blank_mm: Rectangle) -> manifold3d.Manifold:
    """The solid under a height field down to z = 0, over the blank's rectangle (standing frame)."""
    x, y = grid.x_mm, grid.y_mm
    columns = np.flatnonzero((x > blank_mm[0]) & (x < blank_mm[2]))
    rows = np.flatnonzero((y > blank_mm[1]) & (y < blank_mm[3]))
    x, y = x[columns].copy(), y[rows].copy()
    x[0], x[-1], y[0], y[-1] = blank_mm[0], blank_mm[2], blank_mm[1], blank_mm[3]
    z = np.maximum(heights[np.ix_(rows, columns)], 0.0).astype(np.float64)
    through = z <= 0.0
    z[through] = -1.0  # where the wood is cut through, the top dips below the foot plane and is trimmed away
    mesh = manifold3d.Mesh64(*_closed_mesh(x, y, z))
    raw = manifold3d.Manifold(mesh).simplify(SIMPLER_MM)
    return raw.trim_by_plane((0.0, 0.0, 1.0), 0.0)


def _whole(step: PlacementPlan, blank_mm: Rectangle) -> manifold3d.Manifold:
    height_mm = float(step.top_before[np.isfinite(step.top_before)].max())
    size = (blank_mm[2] - blank_mm[0], blank_mm[3] - blank_mm[1], height_mm)
    return manifold3d.Manifold.cube(size).translate((blank_mm[0], blank_mm[1], 0.0))


def _closed_mesh(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Top grid, a fan beneath it two millimetres under the foot plane, and the sides: (n, 3) and (m, 3)."""
    ny, nx = z.shape
    top = np.stack([*np.meshgrid(x, y), z], axis=-1).reshape(-1, 3)
    index = np.arange(ny * nx, dtype=np.uint64).reshape(ny, nx)
    a, b, c, d = (part.ravel() for part in (index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]))
    upper = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    ring = np.concatenate([index[0, :], index[1:, -1], index[-1, -2::-1], index[-2:0:-1, 0]])
    below = top[ring.astype(np.int64)].copy()
    below[:, 2] = -2.0
    low = np.arange(len(ring), dtype=np.uint64) + np.uint64(ny * nx)
    centre = np.array([[x.mean(), y.mean(), -2.0]])
    middle = np.full(len(ring), ny * nx + len(ring), dtype=np.uint64)
    ring_next, low_next = np.roll(ring, -1), np.roll(low, -1)
    sides = np.concatenate([np.stack([ring, low, low_next], 1), np.stack([ring, low_next, ring_next], 1)])
    under = np.stack([middle, low_next, low], 1)
    return np.concatenate([top, below, centre]), np.concatenate([upper, sides, under])


def write_solids(plan: PiecePlan, folder: Path) -> list[Path]:
    """STL files of all placements in the piece's frame and in the bed's; returns them."""
    written = []
    for found in solids_of(plan):
        for what, solid in (("wood-to-leave", found.leave), ("clearance-wood", found.clearance)):
            if solid is None:
                continue
            stem = f"{file_stem(plan.piece.name)}-{file_stem(found.placement)}-{what}"
            written.append(write_stl(solid, folder / f"{stem}-piece-frame.stl"))
            written.append(write_stl(solid.moved(found.to_bed), folder / f"{stem}-bed-frame.stl"))
    return written
