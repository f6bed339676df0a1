"""Pieces that are seen whole from one side: they need not be turned over, and have no seam."""

from __future__ import annotations

import numpy as np

from witnessmark.shapes.solid import Solid

from .candidates import BlankBox

LEVEL_MM = 1e-3
FACING_RATIO = 1e-3  # cosine from which a face counts as turned away: 0.06 degrees off the vertical
LEAST_MM2 = 0.5  # of faces turned away


def alone_sides(piece: Solid, box: BlankBox) -> tuple[str, ...]:
    """Sides from which everything of a piece is seen but the face on which it stands, which is the blank's own."""
    lower, upper = piece.bounds_mm
    found = []
    for up, sign, foot_mm, support_mm in (
        ("-z", -1.0, upper[2], box.upper_mm[2]),
        ("+z", 1.0, lower[2], box.lower_mm[2]),
    ):
        if abs(foot_mm - support_mm) > LEVEL_MM:
            continue
        away = sign * piece.normals[:, 2] < -FACING_RATIO
        on_foot = np.abs(piece.triangles[:, :, 2] - foot_mm).max(axis=1) < LEVEL_MM
        if float(piece.areas_mm2[away & ~on_foot].sum()) < LEAST_MM2:
            found.append(up)
    return tuple(found)
