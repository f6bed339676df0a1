"""What of a piece can still be made of the wood as it is: by which least move the piece still lies in it.

Question  does the piece still lie in the wood; if not, how is it to be moved inside the blank so that it does
Frame     piece frame of the plan before; a move carries the piece in it
Units     mm, radians
Method    places all over the piece's surface, each a little inside or outside along the normal, are looked up in the
          wood. Moves are tried from the smallest on: first without a turn, then turned, then end for end
Source    none needed. Wood is only ever taken from outside, so what is missing inside the piece shows on its surface
Valid     to the pitch of the wood's columns; the proof of the new programs is the judge
Refuses   nothing: ``Shift`` says where wood is missing when no move helps
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.columns import Columns
from witnessmark.field.within import first_move_within, places_without_wood
from witnessmark.job.frames import Rigid
from witnessmark.shapes.solid import Solid

from .candidates import BlankBox

Floats = NDArray[np.float64]

PER_MM2 = 1.0  # places looked at on the surface
MOST_PLACES = 400_000
INSIDE_MM = 0.05  # wood that is short by less than this and the pitch is no loss: the proof judges it
SPARE_MM = 0.4  # wood that stays round the piece where it is moved to: what was measured is not exact
BESIDE_CELLS = 1  # near an edge the face beside it is no nearer than that
STEP_MM = 0.5
FARTHEST_MM = 40.0
TURNS_DEG = (0.0, -0.25, 0.25, -0.5, 0.5, -1.0, 1.0, -2.0, 2.0, 180.0)
FLUSH_MM = 1e-3


class Move(NamedTuple):
    """A rigid move of the piece: turned about the middle of its bounds from above, then shifted."""

    dx_mm: float
    dy_mm: float
    dz_mm: float
    turn_rad: float


@dataclass(frozen=True)
class Shift:
    """``whole``: nothing of the piece is lost where it lies. ``move``: what saves it, None where nothing does.

    ``missing_mm``: a place of the piece (where it lay) without wood, and how many of the ``places`` looked at are so.
    """

    whole: bool
    move: Move | None
    missing_mm: tuple[float, float, float] | None
    missing: int
    places: int
    box_mm: tuple[tuple[float, float, float], tuple[float, float, float]] | None  # round all missing places

    @property
    def lost_ratio(self) -> float:
        """The share of the surface that has no wood where the piece lay."""
        return self.missing / max(1, self.places)


def shift_of(wood: Columns, piece: Solid, box: BlankBox, hints: Sequence[Rigid] = ()) -> Shift:
    """Where the piece can be made of the wood; ``hints``: moves worth trying, however little wood they spare."""
    points, normals = _surface(piece)
    inward = INSIDE_MM + wood.grid.pitch_mm
    lost = places_without_wood(wood, points - inward * normals, BESIDE_CELLS)
    if not len(lost):
        return Shift(True, Move(0.0, 0.0, 0.0, 0.0), None, 0, len(points), None)
    missing = points[lost]
    first = missing[int(np.argmin(np.linalg.norm(missing - missing.mean(axis=0), axis=1)))]
    corners = tuple(tuple(float(round(v, 2)) for v in end) for end in (missing.min(axis=0), missing.max(axis=0)))
    where = (float(first[0]), float(first[1]), float(first[2]))
    move = _least_move(wood, piece, box, points, normals, lost, hints)
    return Shift(False, move, where, len(lost), len(points), corners)  # type: ignore[arg-type]


def rigid_of(move: Move, piece: Solid) -> Rigid:
    """A move as that of the piece: turned about the middle of its bounds, then shifted."""
    dx, dy, dz, turn = move
    middle = _middle(piece)
    c, s = math.cos(turn), math.sin(turn)
    rotation = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    centre = np.array([middle[0], middle[1], 0.0])
    return Rigid(rotation, centre - rotation @ centre + np.array([dx, dy, dz]))


def _least_move(
    wood: Columns,
    piece: Solid,
    box: BlankBox,
    points: Floats,
    normals: Floats,
    lost: NDArray[np.int64],
    hints: Sequence[Rigid],
) -> Move | None:
    """The smallest move that leaves wood all round; the places now without wood are looked at first."""
    order = np.concatenate([lost, np.setdiff1d(np.arange(len(points)), lost)])
    flush = _flush(points, box)
    out = points + SPARE_MM * np.where(flush, 0.0, normals)
    probes = np.where(flush, points - np.sign(normals) * FLUSH_MM * 10, out)[order]
    for turn in np.radians(TURNS_DEG):
        for moves in _moves(piece, float(turn), box):
            found = first_move_within(wood, probes, moves, _middle(piece))
            if found >= 0:
                dx, dy, dz, angle = (float(v) for v in moves[found])
                return Move(dx, dy, dz, angle)
        if turn == 0.0:
            inside = points - (INSIDE_MM + wood.grid.pitch_mm) * normals
            for move in (_as_move(hint, piece) for hint in hints):
                if (
                    move is not None
                    and first_move_within(wood, inside, np.array([move]), _middle(piece), BESIDE_CELLS) == 0
                ):
                    return move
    return None


def _as_move(rigid: Rigid, piece: Solid) -> Move | None:
    """A rigid move as shift and turn about the piece's middle; None where it turns about another axis."""
    if rigid.rotation[2, 2] < 1.0 - 1e-9:
        return None
    middle = np.array([*_middle(piece), 0.0])
    dx, dy, dz = (rigid.apply(middle) - middle).tolist()
    return Move(dx, dy, dz, math.atan2(float(rigid.rotation[1, 0]), float(rigid.rotation[0, 0])))


def _moves(piece: Solid, turn_rad: float, box: BlankBox) -> Iterator[Floats]:
    """Moves (m, 4) with one turn that keep the piece within its blank, the smallest first."""
    turned = piece.moved(rigid_of(Move(0.0, 0.0, 0.0, turn_rad), piece)) if turn_rad else piece
    low, high = turned.bounds_mm
    axes = []
    for axis in range(3):
        least = max(box.lower_mm[axis] - low[axis], -FARTHEST_MM)
        most = min(box.upper_mm[axis] - high[axis], FARTHEST_MM)
        if most < least - FLUSH_MM:
            return
        steps = (
            np.arange(math.ceil((least - FLUSH_MM) / STEP_MM), math.floor((most + FLUSH_MM) / STEP_MM) + 1) * STEP_MM
        )
        axes.append(steps if len(steps) else np.array([(least + most) / 2]))
    dx, dy, dz = (a.ravel() for a in np.meshgrid(*axes, indexing="ij"))
    order = np.argsort(dx**2 + dy**2 + dz**2, kind="stable")
    yield np.column_stack([dx, dy, dz, np.full(len(dx), turn_rad)])[order]


def _middle(piece: Solid) -> Floats:
    lower, upper = piece.bounds_mm
    return np.asarray((lower + upper)[:2] / 2)


def _flush(points: Floats, box: BlankBox) -> NDArray[np.bool_]:
    """Which coordinates of which places lie in a face of the blank: there the wood ends with the piece, (n, 3)."""
    return np.asarray((np.abs(points - box.lower_mm) < 0.02) | (np.abs(points - box.upper_mm) < 0.02))


def _surface(piece: Solid) -> tuple[Floats, Floats]:
    """Places (n, 3) all over the surface, and the outward normals there; the same every time."""
    import trimesh  # heavy, and only needed here

    mesh = trimesh.Trimesh(piece.vertices, piece.faces, process=False)
    count = min(MOST_PLACES, math.ceil(PER_MM2 * float(mesh.area)))
    points, face = trimesh.sample.sample_surface(mesh, count, seed=0)
    return np.asarray(points, dtype=np.float64), np.asarray(mesh.face_normals[face], dtype=np.float64)
