"""The blank as it is: what is left of it after a mishap, kept beside the job; planning and proof start from it.

as-is/<piece>.npz  the wood as columns (piece frame of the plan before), and how the piece is moved in it
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.job.errors import refuse
from witnessmark.job.frames import Rigid
from witnessmark.job.models import PieceSpec
from witnessmark.job.names import file_stem
from witnessmark.job.whole import written_whole

FOLDER = "as-is"
FORMAT = 1


@dataclass(frozen=True, eq=False)
class AsIs:
    """``wood`` in the frame in which ``move`` carries the drawn piece to where it is made."""

    wood: Columns
    move: Rigid

    def spec(self, spec: PieceSpec) -> PieceSpec:
        """The piece with its blank where the wood is."""
        x, y, _, _ = self.wood.ends_mm
        blank = spec.blank.model_copy(update={"corner_mm": (x, y, self.wood.z_from_mm)})
        return spec.model_copy(update={"blank": blank})


def file_of(root: Path, piece: str) -> Path:
    return root / FOLDER / f"{file_stem(piece)}.npz"


def keep_as_is(root: Path, piece: str, as_is: AsIs) -> Path:
    """Write it, whole or not at all."""
    wood, path = as_is.wood, file_of(root, piece)
    grid = wood.grid
    with written_whole(path) as beside, beside.open("wb") as file:
        np.savez_compressed(
            file,
            format=FORMAT,
            grid=np.array([grid.x0_mm, grid.y0_mm, grid.pitch_mm, grid.nx, grid.ny]),
            ends=np.array([*wood.ends_mm, wood.z_from_mm, wood.z_to_mm]),
            first=wood.first,
            low=wood.low,
            high=wood.high,
            rotation=as_is.move.rotation,
            shift=as_is.move.translation_mm,
        )
    return path


def load_as_is(root: Path, piece: str) -> AsIs | None:
    """None where the blank is whole; refused where the file cannot be what was written."""
    path = file_of(root, piece)
    if not path.is_file():
        return None
    remedy = "say the mishap again, or, for a new blank, remove this file"
    try:
        with np.load(path, allow_pickle=False) as kept:
            if int(kept["format"]) != FORMAT:
                raise refuse(str(path), "was written by another edition of the tool", remedy)
            x0, y0, pitch, nx, ny = (float(v) for v in kept["grid"])
            x_from, y_from, x_to, y_to, z_from, z_to = (float(v) for v in kept["ends"])
            grid = Grid(x0, y0, pitch, int(nx), int(ny))
            parts = (kept["first"], kept["low"], kept["high"])
            if (
                len(parts[0]) != grid.nx * grid.ny + 1
                or len(parts[1]) != len(parts[2])
                or parts[0][-1] != len(parts[1])
            ):
                raise ValueError("its parts do not go together")
            wood = Columns(grid, z_from, z_to, *parts, ends_mm=(x_from, y_from, x_to, y_to))
            return AsIs(wood, Rigid(kept["rotation"], kept["shift"]))
    except (OSError, ValueError, KeyError, EOFError) as error:
        raise refuse(str(path), f"cannot be read ({error})", remedy) from None
