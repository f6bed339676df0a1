"""The made piece as a solid: what the programs leave of the wood, to be looked at beside the drawn one.

Question  what closed surface has the wood that is left
Frame     piece frame
Units     mm
Method    the middles of the cells (every so many along x and y) are corners of an upper and a lower sheet, exact
          in z; four wooden neighbours make a square of each, upright walls close the rim. Flat parts are joined
Valid     walls lie within one step of the mesh sideways, the rim half a step inside the cells' middles; a column of
          several pieces counts from its lowest to its highest wood. The proof itself does not use it
Refuses   wood of which no four neighbouring middles are left
"""

from __future__ import annotations

import math

import manifold3d
import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import Columns
from witnessmark.job.errors import refuse
from witnessmark.shapes.solid import Solid

Ints = NDArray[np.int64]

SAME_MM = 0.002  # places this near to a plane are on it


def made_solid(columns: Columns, step_mm: float) -> Solid:
    """The wood as a solid on a mesh of about ``step_mm`` (a whole number of cells)."""
    grid = columns.grid
    every = max(1, round(step_mm / grid.pitch_mm))
    (top, _), (bottom, _) = columns.top(np.eye(3)), columns.bottom(np.eye(3))
    top, bottom = top[::every, ::every], bottom[::every, ::every]
    wood = np.isfinite(top)
    full = wood[:-1, :-1] & wood[:-1, 1:] & wood[1:, :-1] & wood[1:, 1:]
    if not full.any():
        raise refuse(
            "the made piece", f"has no wood as wide as the mesh's step of {step_mm:g} mm", "take a finer one"
        )
    y, x = np.meshgrid(grid.y_mm[::every], grid.x_mm[::every], indexing="ij")
    lift_mm = columns.z_from_mm
    upper = np.column_stack([x.ravel(), y.ravel(), top.ravel() + lift_mm])
    lower = np.column_stack([x.ravel(), y.ravel(), bottom.ravel() + lift_mm])
    faces = _faces(full, len(upper))
    used, faces = np.unique(faces, return_inverse=True)
    corners = np.concatenate([upper, lower])[used]
    mesh = manifold3d.Mesh(np.ascontiguousarray(corners, dtype=np.float32), faces.reshape(-1, 3).astype(np.uint32))
    solid = manifold3d.Manifold(mesh)
    if solid.status() != manifold3d.Error.NoError:
        raise refuse("the made piece", "its mesh does not close", "take another step")
    return Solid(solid.simplify(SAME_MM))


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
