"""Everything the cutters did, as straight pieces in the piece frame, with the cells in which to look for them.

A *pass* is a short straight piece of a motion. ``up`` is +1 where the piece's +z was up and -1 where its -z was:
heights are kept as ``up * z``, so that the cutter's tip is always the lowest of it and wood is cut from above.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.job.frames import Rigid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CHORD_MM = 0.001  # how far an arc may bulge beyond its chords; added to gouges and taken from what is covered
LONGEST_MM = 6.0  # passes are split to this, so that the cells they are looked up in stay few
TALLEST_MM = 1.0  # and to this in height
CELL_MM = 3.0
CIRCLE_SLACK_MM = 0.001  # what float32 may be off on a bed
BESIDE_MM = 1.3  # beyond the cutter's radius: how far from its own way a pass is listed in cells
LOOK_MM = BESIDE_MM + CELL_MM  # how thick wood is looked for before a place, from its cell and those round it


@dataclass(frozen=True, eq=False)
class Passes:
    """n passes: x, y, up*z of both ends (n, 6); cutter (n,) row of the profiles; bulge (n,) mm; motion (n, 2)."""

    ends: Floats
    cutter: Ints
    bulge_mm: Floats
    motion: Ints

    def __len__(self) -> int:
        return len(self.cutter)

    def kept(self, keep: NDArray[np.bool_]) -> Passes:
        return Passes(self.ends[keep], self.cutter[keep], self.bulge_mm[keep], self.motion[keep])


def joined(parts: list[Passes]) -> Passes:
    """All passes of several programs."""
    if not parts:
        return Passes(np.empty((0, 6)), np.empty(0, np.int64), np.empty(0), np.empty((0, 2), np.int64))
    return Passes(
        np.concatenate([p.ends for p in parts]),
        np.concatenate([p.cutter for p in parts]),
        np.concatenate([p.bulge_mm for p in parts]),
        np.concatenate([p.motion for p in parts]),
    )


def passes_of(moves: Floats, motions: Ints, standing_to_piece: Rigid, up: int, cutter: int, program: int) -> Passes:
    """Move rows (n, 9) of one program in the standing frame, and the motion each comes from, as passes."""
    straight, parent, bulge = chorded(moves)
    starts, ends = straight[:, :3], straight[:, 3:6]
    parts = np.maximum(
        np.ceil(np.linalg.norm((ends - starts)[:, :2], axis=1) / LONGEST_MM),
        np.ceil(np.abs(ends[:, 2] - starts[:, 2]) / TALLEST_MM),
    )
    parts = np.maximum(parts, 1).astype(np.int64)
    row = np.repeat(np.arange(len(straight)), parts)
    nth = np.arange(len(row)) - np.repeat(np.cumsum(parts) - parts, parts)
    whole = parts[row][:, None]
    a = starts[row] + (ends - starts)[row] * (nth[:, None] / whole)
    b = starts[row] + (ends - starts)[row] * ((nth[:, None] + 1) / whole)
    a, b = standing_to_piece.apply(a), standing_to_piece.apply(b)
    a[:, 2] *= up
    b[:, 2] *= up
    motion = np.column_stack([np.full(len(row), program), motions[parent[row]]]).astype(np.int64)
    return Passes(np.hstack([a, b]), np.full(len(row), cutter, dtype=np.int64), bulge[row], motion)


def chorded(moves: Floats) -> tuple[Floats, Ints, Floats]:
    """Lines as they are and level arcs as chords: rows (m, 6), the move each comes from, the bulge of each."""
    arcs = moves[:, 8] != 0
    if not arcs.any():
        return moves[:, :6], np.arange(len(moves)), np.zeros(len(moves))
    centre = moves[:, 6:8]
    radius = np.hypot(moves[:, 0] - centre[:, 0], moves[:, 1] - centre[:, 1])
    from_rad = np.arctan2(moves[:, 1] - centre[:, 1], moves[:, 0] - centre[:, 0])
    to_rad = np.arctan2(moves[:, 4] - centre[:, 1], moves[:, 3] - centre[:, 0])
    sweep = np.where(moves[:, 8] == 1, (to_rad - from_rad) % (2 * math.pi), -((from_rad - to_rad) % (2 * math.pi)))
    sweep = np.where(sweep == 0.0, np.where(moves[:, 8] == 1, 2 * math.pi, -2 * math.pi), sweep)
    step = 2 * np.arccos(np.clip(1 - CHORD_MM / np.maximum(radius, CHORD_MM), -1, 1))
    parts = np.where(arcs, np.maximum(np.ceil(np.abs(sweep) / np.maximum(step, 1e-6)), 1), 1).astype(np.int64)
    row = np.repeat(np.arange(len(moves)), parts)
    nth = np.arange(len(row)) - np.repeat(np.cumsum(parts) - parts, parts)

    def at(share: Floats) -> Floats:
        angle = from_rad[row] + sweep[row] * share
        x = centre[row, 0] + radius[row] * np.cos(angle)
        y = centre[row, 1] + radius[row] * np.sin(angle)
        return np.column_stack([x, y, moves[row, 2] + (moves[row, 5] - moves[row, 2]) * share])

    first, last = nth == 0, nth == parts[row] - 1
    a, b = at(nth / parts[row]), at((nth + 1) / parts[row])
    a[first], b[last] = moves[row[first], :3], moves[row[last], 3:6]
    return np.hstack([a, b]), row, np.where(arcs[row], CHORD_MM, 0.0)


@dataclass(frozen=True, eq=False)
class Lookup:
    """Cells over the plane; each lists the passes that can matter to a place in it, the highest lowest tip first."""

    x0_mm: float
    y0_mm: float
    nx: int
    ny: int
    starts: Ints
    which: NDArray[np.int32]
    round_mm: NDArray[np.float32]  # for each entry of ``which``: a circle x, y, radius about the pass
    passes: Passes
    lowest: Floats
    profiles: Floats
    up: int

    @property
    def place(self) -> Floats:
        """x0, y0, nx, ny for the kernels."""
        return np.array([self.x0_mm, self.y0_mm, self.nx, self.ny], dtype=np.float64)


def lookup_of(passes: Passes, profiles: Floats, box_mm: tuple[float, float, float, float], up: int) -> Lookup:
    """Put passes into cells over the piece's box (x, y from; x, y to); those far from it are left out."""
    x0, y0 = box_mm[0] - 1.0, box_mm[1] - 1.0
    nx = math.ceil((box_mm[2] + 1.0 - x0) / CELL_MM)
    ny = math.ceil((box_mm[3] + 1.0 - y0) / CELL_MM)
    reach = profiles[passes.cutter, 1] + BESIDE_MM if len(passes) else np.empty(0)
    e = passes.ends
    keep = (np.maximum(e[:, 0], e[:, 3]) + reach >= x0) & (np.minimum(e[:, 0], e[:, 3]) - reach <= x0 + nx * CELL_MM)
    keep &= np.maximum(e[:, 1], e[:, 4]) + reach >= y0
    keep &= np.minimum(e[:, 1], e[:, 4]) - reach <= y0 + ny * CELL_MM
    passes = passes.kept(keep)
    lowest = np.minimum(passes.ends[:, 2], passes.ends[:, 5])
    order = np.argsort(-lowest, kind="stable")
    passes = Passes(passes.ends[order], passes.cutter[order], passes.bulge_mm[order], passes.motion[order])
    lowest = np.ascontiguousarray(lowest[order])
    counts = np.zeros(nx * ny, dtype=np.int64)
    radii = profiles[passes.cutter, 1] + BESIDE_MM
    _count_cells(passes.ends, radii, x0, y0, nx, ny, counts)
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    which = np.empty(starts[-1], dtype=np.int32)
    _fill_cells(passes.ends, radii, x0, y0, nx, ny, starts[:-1].copy(), which)
    circles = np.empty((len(passes), 3), dtype=np.float32)
    e = passes.ends
    circles[:, :2] = (e[:, :2] + e[:, 3:5]) / 2
    circles[:, 2] = np.hypot(e[:, 3] - e[:, 0], e[:, 4] - e[:, 1]) / 2 + CIRCLE_SLACK_MM
    return Lookup(x0, y0, nx, ny, starts, which, circles[which], passes, lowest, np.ascontiguousarray(profiles), up)


@njit(cache=True, error_model="numpy")
def _cells(a: float, b: float, reach: float, origin: float, n: int) -> tuple[int, int]:
    first = math.floor((min(a, b) - reach - origin) / CELL_MM)
    last = math.floor((max(a, b) + reach - origin) / CELL_MM)
    return max(first, 0), min(last, n - 1)


@njit(cache=True, error_model="numpy")
def _count_cells(ends: Floats, radii: Floats, x0: float, y0: float, nx: int, ny: int, counts: Ints) -> None:
    for i in range(len(ends)):
        c0, c1 = _cells(ends[i, 0], ends[i, 3], radii[i], x0, nx)
        r0, r1 = _cells(ends[i, 1], ends[i, 4], radii[i], y0, ny)
        for r in range(r0, r1 + 1):
            for c in range(c0, c1 + 1):
                counts[r * nx + c] += 1


@njit(cache=True, error_model="numpy")
def _fill_cells(
    ends: Floats, radii: Floats, x0: float, y0: float, nx: int, ny: int, at: Ints, which: NDArray[np.int32]
) -> None:
    for i in range(len(ends)):
        c0, c1 = _cells(ends[i, 0], ends[i, 3], radii[i], x0, nx)
        r0, r1 = _cells(ends[i, 1], ends[i, 4], radii[i], y0, ny)
        for r in range(r0, r1 + 1):
            for c in range(c0, c1 + 1):
                which[at[r * nx + c]] = i
                at[r * nx + c] += 1
