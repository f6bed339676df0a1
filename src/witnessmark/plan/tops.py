"""The piece's top as it stands, over a grid; kept, since the same piece is looked at many times."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from witnessmark.field.drop import top_bounds
from witnessmark.field.grid import Grid, Heights
from witnessmark.job.frames import Rigid
from witnessmark.shapes.solid import Solid


def piece_tops(piece: Solid, stand: Rigid, grid: Grid) -> tuple[Heights, Heights]:
    """Lowest and highest top of the piece over each cell (ny, nx); callers must not change them."""
    return _kept(piece, tuple(stand.matrix34().ravel().tolist()), grid)


@lru_cache(maxsize=8)
def _kept(piece: Solid, stand_mm: tuple[float, ...], grid: Grid) -> tuple[Heights, Heights]:
    matrix = np.array(stand_mm).reshape(3, 4)
    lowest, highest = top_bounds(piece.moved(Rigid(matrix[:, :3], matrix[:, 3])).triangles, grid)
    lowest.flags.writeable = highest.flags.writeable = False
    return lowest, highest
