"""The made piece as a solid: what the programs leave of the wood, to be looked at beside the drawn one.

Question  what closed surface has the wood that is left
Frame     piece frame
Units     mm
Method    the middles of the cells (every so many along x and y) are corners of an upper and a lower sheet, exact
          in z; four wooden neighbours make a square of each, upright walls close the rim. Gaps between the wood of a
          column are solids made alike, taken out of it; towards air beside them they go one step further
Valid     walls lie within one step of the mesh sideways, the rim half a step inside the cells' middles; the gaps are
          told of MOST_GAPS a column. The proof itself does not use it
Refuses   wood of which no four neighbouring middles are left
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import manifold3d
import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid, Heights
from witnessmark.job.errors import refuse
from witnessmark.shapes.solid import Solid

Ints = NDArray[np.int64]

MOST_GAPS = 6
SAME_MM = 0.002  # places this near to a plane are on it


def made_solid(columns: Columns, step_mm: float) -> Solid:
    """The wood as a solid on a mesh of about ``step_mm`` (a whole number of cells)."""
    grid = columns.grid
    every = max(1, round(step_mm / grid.pitch_mm))
    (top, _), (bottom, _) = columns.top(np.eye(3)), columns.bottom(np.eye(3))
    lift_mm = np.float32(columns.z_from_mm)
    whole = _between(bottom + lift_mm, top + lift_mm, grid, every)
    if whole is None:
        raise refuse(
            "the made piece", f"has no wood as wide as the mesh's step of {step_mm:g} mm", "take a finer one"
        )
    for low, high in _gaps(columns):
        gap = _between(*_to_the_open(columns, low, high, every), grid, every)
        whole = whole if gap is None else whole - gap
    return Solid(whole.simplify(SAME_MM))


def _between(low: Heights, high: Heights, grid: Grid, every: int) -> manifold3d.Manifold | None:
    """What lies between two sheets, where both are; None where that is nowhere as wide as a step."""
    low, high = low[::every, ::every], high[::every, ::every]
    there = np.isfinite(low) & np.isfinite(high)
    full = there[:-1, :-1] & there[:-1, 1:] & there[1:, :-1] & there[1:, 1:]
    if not full.any():
        return None
    y, x = np.meshgrid(grid.y_mm[::every], grid.x_mm[::every], indexing="ij")
    upper = np.column_stack([x.ravel(), y.ravel(), high.ravel()])
    lower = np.column_stack([x.ravel(), y.ravel(), low.ravel()])
    faces = _faces(full, len(upper))
    used, faces = np.unique(faces, return_inverse=True)
    corners = np.concatenate([upper, lower])[used]
    mesh = manifold3d.Mesh(np.ascontiguousarray(corners, dtype=np.float32), faces.reshape(-1, 3).astype(np.uint32))
    solid = manifold3d.Manifold(mesh)
    if solid.status() != manifold3d.Error.NoError:
        raise refuse("the made piece", "its mesh does not close", "take another step")
    return solid


def _gaps(columns: Columns) -> Iterator[tuple[Heights, Heights]]:
    """From and to of the first, second ... gap between the wood of the columns, nan where there is none."""
    counts = np.diff(columns.first)
    for k in range(min(int(counts.max(initial=0)) - 1, MOST_GAPS)):
        cells = np.flatnonzero(counts > k + 1)
        low, high = (np.full(len(counts), np.nan, dtype=np.float32) for _ in range(2))
        number = columns.first[cells] + k
        low[cells], high[cells] = columns.high[number], columns.low[number + 1]
        yield low.reshape(columns.grid.shape), high.reshape(columns.grid.shape)


def _to_the_open(columns: Columns, low: Heights, high: Heights, every: int) -> tuple[Heights, Heights]:
    """A gap a step wider where there is no wood beside it: else a skin would close its mouth."""
    wide_low, wide_high = low.copy(), high.copy()
    shape, lift_mm = low.shape, np.float32(columns.z_from_mm)
    for dj, di in ((-1, 0), (1, 0), (0, -1), (0, 1), (-1, -1), (-1, 1), (1, -1), (1, 1)):
        beside_low, beside_high = (np.full(shape, np.nan, dtype=np.float32) for _ in range(2))
        to_j, from_j = _ends(dj * every, shape[0])
        to_i, from_i = _ends(di * every, shape[1])
        beside_low[to_j, to_i], beside_high[to_j, to_i] = low[from_j, from_i], high[from_j, from_i]
        asked = np.isnan(wide_low) & np.isfinite(beside_low)
        lower = np.where(asked, beside_low - lift_mm, np.float32(np.inf))
        upper = np.where(asked, beside_high - lift_mm, np.float32(-np.inf))
        free = asked & (columns.within(lower, upper, np.eye(3)) <= 0.0)
        wide_low[free], wide_high[free] = beside_low[free], beside_high[free]
    return wide_low, wide_high


def _ends(by: int, size: int) -> tuple[slice, slice]:
    """Where a row moved by so many cells comes to lie, and from where it comes."""
    to = slice(max(by, 0), min(size + by, size))
    return to, slice(to.start - by, to.stop - by)


def _faces(full: NDArray[np.bool_], count: int) -> Ints:
    """Triangles (n, 3) of both sheets over the full squares, and of the walls round them."""
    across = full.shape[1] + 1
    row, column = np.nonzero(full)
    a = row * across + column
    b, c, d = a + 1, a + across + 1, a + across
    faces = [np.column_stack(t) for t in ((a, b, c), (a, c, d))]  # seen from above
    faces += [np.column_stack(t) + count for t in ((a, c, b), (a, d, c))]  # seen from beneath
    padded = np.pad(full, 1)
    for (dj, di), (p, q) in (((-1, 0), (a, b)), ((0, 1), (b, c)), ((1, 0), (c, d)), ((0, -1), (d, a))):
        rim = ~padded[row + 1 + dj, column + 1 + di]
        p, q = p[rim], q[rim]
        faces += [np.column_stack([p, p + count, q]), np.column_stack([q, p + count, q + count])]
    return np.concatenate(faces)


def step_for(columns: Columns, most_squares: int = 400_000) -> float:
    """The finest whole number of cells with which the mesh has at most so many squares."""
    cells = columns.grid.nx * columns.grid.ny
    return columns.grid.pitch_mm * max(1, math.ceil(math.sqrt(cells / most_squares)))
