"""How far a feature will lie from others of the same side of its piece that other placements cut.

Question  where is a hole beside the seat that another placement cuts, as truly as both are found
Frame     piece
Units     mm
Arrays    covariance (3, 3) of x, y, z
Method    the errors of all placements drawn together (``chain``); of all pairs of a placement that may cut the
          feature and another one of its side, that whose difference moves the feature the most
Source    displacement t + omega x p, textbook (``mismatch``)
Valid     as chain; how a piece lies on its supports counts as known
Refuses   as chain (ValueError)
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.placement import Placement

from .chain import drawn, links_of
from .mismatch import moves_of
from .trial import STYLUS_RADIUS_MM

Floats = NDArray[np.float64]


def apart_mm2(places: Sequence[Placement], up: str, point_mm: Floats, radius_mm: float = STYLUS_RADIUS_MM) -> Floats:
    """Covariance (3, 3) of a point (3,) of the piece, cut with ``up`` on top, against what the other placements of
    that side cut; 0 where there is but one of them, or none reaches the point."""
    poses = drawn(links_of(places, radius_mm))
    moves = moves_of(np.asarray(point_mm))[0]
    worst = np.zeros((3, 3))
    for k, place in enumerate(places):
        if place.up != up or not _over(place, point_mm):
            continue
        for other in (n for n, beside in enumerate(places) if beside.up == up):
            off = (poses[:, k] - poses[:, other]) @ moves.T
            covariance = off.T @ off / len(off)
            if np.trace(covariance) > np.trace(worst):
                worst = covariance
    return worst


def _over(place: Placement, point_mm: Floats) -> bool:
    """Whether a placement's region holds a point of the piece, seen from above."""
    x, y = place.stand.apply(np.asarray(point_mm).reshape(1, 3))[0, :2]
    x_from, y_from, x_to, y_to = place.region_mm
    return bool(x_from <= x <= x_to and y_from <= y <= y_to)
