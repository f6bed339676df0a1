"""What was touched and what the machine said: readings as rows of one system.

Question  which equation does each reading give for where the work lies
Frame     features in the standing frame of the placement; what the machine says in the program frame
Units     mm, radians
Arrays    m rows: normals (m, 3), points (m, 3), radius (m,), of (m,) the reading that each row comes from;
          centres (..., m, 3): where the stylus' middle stood when it touched
Method    a stylus of radius r that touches a face at p with outward normal n has its middle at n . (c - p) = r,
          with c brought back from the program frame by the pose. A bore's or pin's measured middle gives the two
          level directions, a land the upright one
Source    plane geometry
Valid     faces that are flat as far as the work is displaced
Refuses   readings of unknown kind, normals that are no unit vectors (ValueError)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Point = tuple[float, float, float]

Kind = Literal["face", "middle", "land"]


@dataclass(frozen=True)
class Reading:
    """One touch: a known feature, and where the stylus' middle (or the measured middle of a bore) was found.

    ``point_mm`` and ``normal``: the feature, standing frame. ``at_mm``: program frame, z above the supporting face.
    ``u_mm``: standard uncertainty of it all along the normal: reading, and where the feature was made.
    ``radius_mm``: of stylus or edge finder. ``shared``: names of what it has in common with others.
    """

    name: str
    kind: Kind
    point_mm: Point
    normal: Point
    at_mm: Point
    u_mm: float
    radius_mm: float = 0.0
    shared: tuple[str, ...] = ()


@dataclass(frozen=True)
class Shared:
    """Something that several readings have in common, with its standard uncertainty.

    ``what``: the stylus' radius, the spindle-to-indicator offset along x or y, or a height.
    """

    name: str
    what: Literal["radius", "offset x", "offset y", "height"]
    u_mm: float


@dataclass(frozen=True, eq=False)
class Rows:
    """The readings as rows; ``covariance_mm2`` (m, m) of what they say along their normals."""

    names: tuple[str, ...]
    of: Ints
    normals: Floats
    points_mm: Floats
    radius_mm: Floats
    covariance_mm2: Floats

    def __len__(self) -> int:
        return len(self.of)

    @property
    def design(self) -> Floats:
        """How each row changes with a shift in x, in y, and a turn about the origin, (m, 3)."""
        lever = self.points_mm[:, 0] * self.normals[:, 1] - self.points_mm[:, 1] * self.normals[:, 0]
        return np.column_stack([self.normals[:, :2], lever])

    def without(self, reading: int) -> Rows:
        """All but those of one reading."""
        return self.kept(self.of != reading)

    def kept(self, keep: NDArray[np.bool_]) -> Rows:
        return Rows(
            self.names,
            self.of[keep],
            self.normals[keep],
            self.points_mm[keep],
            self.radius_mm[keep],
            self.covariance_mm2[np.ix_(keep, keep)],
        )


_LEVEL = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


def rows_of(readings: Sequence[Reading], shared: Sequence[Shared] = ()) -> tuple[Rows, Floats]:
    """The rows of all readings, and the centres (m, 3) that belong to them."""
    names = [reading.name for reading in readings]
    normals: list[Floats] = []
    of: list[int] = []
    for number, reading in enumerate(readings):
        normal = np.asarray(reading.normal, dtype=np.float64)
        if reading.kind == "middle":
            own = _LEVEL
        elif reading.kind == "land":
            own = np.array([[0.0, 0.0, 1.0]])
        elif reading.kind == "face":
            if abs(float(np.linalg.norm(normal)) - 1.0) > 1e-3:
                raise ValueError(f"reading {reading.name}: its normal is no unit vector")
            own = normal[None] / np.linalg.norm(normal)
        else:
            raise ValueError(f"reading {reading.name} is of unknown kind {reading.kind!r}")
        normals += list(own)
        of += [number] * len(own)
    number_of = np.array(of, dtype=np.int64)
    directions = np.array(normals, dtype=np.float64).reshape(-1, 3)
    points = np.array([r.point_mm for r in readings], dtype=np.float64).reshape(-1, 3)[number_of]
    centres = np.array([r.at_mm for r in readings], dtype=np.float64).reshape(-1, 3)[number_of]
    radius = np.array([0.0 if r.kind == "middle" else r.radius_mm for r in readings])[number_of]
    covariance = np.diag(np.array([r.u_mm**2 for r in readings])[number_of])
    for common in shared:
        has = np.array([common.name in r.shared for r in readings])[number_of]
        along = np.where(has, _sensitivity(common, directions, number_of, readings), 0.0)
        covariance += common.u_mm**2 * np.outer(along, along)
    return Rows(tuple(names), number_of, directions, points, radius, covariance), centres


def _sensitivity(common: Shared, normals: Floats, of: Ints, readings: Sequence[Reading]) -> Floats:
    """By how much each row changes for a mm of what is shared."""
    if common.what == "radius":
        return np.array([0.0 if readings[k].kind == "middle" else -1.0 for k in of])
    return normals[:, {"offset x": 0, "offset y": 1, "height": 2}[common.what]]
