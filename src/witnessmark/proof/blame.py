"""Which motion took the wood at a place of the piece's surface: of either side, for a hole has two ends.

Question   the motion to blame for a gouge of a floor or shallow face
Frame      *seen*: x, y of the piece and up * z, where ``up`` is the side from which the face is seen
Method     a pass of that side leaves wood up to tip + b(r), one of the other side takes all wood up to -(tip + b(r)).
           To blame is who went past the surface; of both, who did so first; of one side's passes, the furthest
Source     plane geometry
Valid      tips are looked at where a pass begins, ends and comes nearest to the place: passes are at most 1 mm tall
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.profile import disc_radius, surface_height

from .passes import Passes

Floats = NDArray[np.float64]

SHARES = (0.0, 1.0)
NOBODY = (-1, -1)


def cut_by(
    at_mm: Floats, up: int, passes: Mapping[int, Passes], profiles: Floats, tolerance_mm: float
) -> tuple[int, int]:
    """(program, motion) that took the wood at a place of the surface (piece frame); -1 where no pass is near."""
    seen_mm = up * float(at_mm[2])
    own_mm, own = _furthest(at_mm, passes.get(up), profiles)
    other_mm, other = _furthest(at_mm, passes.get(-up), profiles)
    guilty = []
    if own_mm < seen_mm - tolerance_mm:
        guilty.append(own)
    if -other_mm > seen_mm - tolerance_mm:  # from beneath, up to the surface or through it
        guilty.append(other)
    return min(guilty) if guilty else own


def went_through(at_mm: Floats, passes: Mapping[int, Passes], profiles: Floats) -> tuple[int, int]:
    """(program, motion) of the first pass that took the wood at a place within the piece; -1 where none did.

    Sloping passes are looked at where they come nearest.
    """
    guilty = []
    for up, some in passes.items():
        e = some.ends
        d = e[:, 3:5] - e[:, :2]
        nearest = np.clip(((at_mm[:2] - e[:, :2]) * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-12), 0.0, 1.0)
        away_mm = np.hypot(*(e[:, :2] + nearest[:, None] * d - at_mm[:2]).T)
        over_mm = up * float(at_mm[2]) - (e[:, 2] + nearest * (e[:, 5] - e[:, 2]))
        for i in np.flatnonzero(away_mm <= profiles[some.cutter, 1]):
            if away_mm[i] <= disc_radius(float(over_mm[i]), profiles[some.cutter[i]]):
                guilty.append((int(some.motion[i, 0]), int(some.motion[i, 1])))
    return min(guilty) if guilty else NOBODY


def _furthest(at_mm: Floats, passes: Passes | None, profiles: Floats) -> tuple[float, tuple[int, int]]:
    """How low the passes of one side cut over a place (their up * z), and the motion that does; inf where none."""
    if passes is None or not len(passes):
        return np.inf, NOBODY
    e = passes.ends
    d = e[:, 3:5] - e[:, :2]
    nearest = np.clip(((at_mm[:2] - e[:, :2]) * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-12), 0.0, 1.0)
    away_mm = np.hypot(*(e[:, :2] + nearest[:, None] * d - at_mm[:2]).T)
    lowest_mm, found = np.inf, NOBODY
    for i in np.flatnonzero(away_mm <= profiles[passes.cutter, 1]):
        profile = profiles[passes.cutter[i]]
        for share in (*SHARES, float(nearest[i])):
            x, y, tip_mm = e[i, :3] + share * (e[i, 3:] - e[i, :3])
            r_mm = float(np.hypot(x - at_mm[0], y - at_mm[1]))
            if r_mm <= profile[1]:
                cut_mm = float(tip_mm) + surface_height(r_mm, profile)
                if cut_mm < lowest_mm:
                    lowest_mm, found = cut_mm, (int(passes.motion[i, 0]), int(passes.motion[i, 1]))
    return lowest_mm, found
