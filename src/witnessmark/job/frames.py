"""Frames and the rigid moves between them.

piece     the shape's own frame, mm; the blank is the block round it in the same frame.
standing  how the blank stands: the side that is up points to +z, z = 0 is the face it stands on, and
          x, y still pass through the piece's origin. Fields, sections and paths live here.
bed       the machine: x, y from the front left corner of the travel, z = 0 on the fixed spoilboard.
program   what the controller sees: bed x, y; z = 0 at the supporting face (top of the movable board).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SIDES = ("+z", "-z", "+x", "-x", "+y", "-y")

# piece -> standing for each side that can be up; "-z" turns the blank over about its long (x) axis.
_SIDE_ROTATIONS: dict[str, list[list[int]]] = {
    "+z": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
    "-z": [[1, 0, 0], [0, -1, 0], [0, 0, -1]],
    "+x": [[0, 0, -1], [0, 1, 0], [1, 0, 0]],
    "-x": [[0, 0, 1], [0, 1, 0], [-1, 0, 0]],
    "+y": [[1, 0, 0], [0, 0, -1], [0, 1, 0]],
    "-y": [[1, 0, 0], [0, 0, 1], [0, -1, 0]],
}


@dataclass(frozen=True, eq=False)
class Rigid:
    """A rigid move ``p -> rotation @ p + translation_mm``; rotation (3, 3), translation (3,) in mm."""

    rotation: Floats
    translation_mm: Floats

    @staticmethod
    def identity() -> Rigid:
        return Rigid(np.eye(3), np.zeros(3))

    @staticmethod
    def shift(x_mm: float = 0.0, y_mm: float = 0.0, z_mm: float = 0.0) -> Rigid:
        return Rigid(np.eye(3), np.array([x_mm, y_mm, z_mm], dtype=np.float64))

    @staticmethod
    def turn_about_z(turn_rad: float) -> Rigid:
        c, s = np.cos(turn_rad), np.sin(turn_rad)
        return Rigid(np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]), np.zeros(3))

    def apply(self, points_mm: Floats) -> Floats:
        """Move points (..., 3) mm."""
        return np.asarray(points_mm, dtype=np.float64) @ self.rotation.T + self.translation_mm

    def inverse(self) -> Rigid:
        return Rigid(self.rotation.T.copy(), -self.rotation.T @ self.translation_mm)

    def __matmul__(self, first: Rigid) -> Rigid:
        """``(a @ b)`` moves by b, then by a."""
        return Rigid(self.rotation @ first.rotation, self.apply(first.translation_mm))

    def matrix34(self) -> Floats:
        """The (3, 4) matrix [rotation | translation] that mesh libraries take."""
        return np.column_stack([self.rotation, self.translation_mm])


def side_rotation(up: str, quarter_turns: int = 0) -> Floats:
    """Rotation (3, 3) piece -> standing with side ``up`` on top, then turned by quarter turns about +z."""
    c, s = [(1, 0), (0, 1), (-1, 0), (0, -1)][quarter_turns % 4]
    turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]], dtype=np.float64)
    return turn @ np.array(_SIDE_ROTATIONS[up], dtype=np.float64)


def axis_rotation(up: str) -> Floats:
    """Rotation (3, 3) piece -> the frame whose z is the axis that is upright with side ``up`` on top, either way."""
    return side_rotation("+" + up[1])


def standing(up: str, blank_min_mm: Floats, blank_max_mm: Floats, quarter_turns: int = 0) -> Rigid:
    """The move piece -> standing for a blank with these corners (3,) in the piece frame, mm."""
    rotation = side_rotation(up, quarter_turns)
    corners = np.stack([rotation @ blank_min_mm, rotation @ blank_max_mm])
    return Rigid(rotation, np.array([0.0, 0.0, -corners[:, 2].min()]))
