"""Layouts of touches for the tests, and readings of them for a work that lies somewhere else."""

from __future__ import annotations

import numpy as np

from witnessmark.locate.readings import Reading, Rows, Shared, rows_of

SHIFT = (100.0, 75.0)
U, RADIUS = 0.02, 2.0


def faces(*spec: tuple[float, float, float, float], shared: tuple[str, ...] = ()) -> list[Reading]:
    """Upright faces at x, y that look along nx, ny."""
    made = []
    for k, (x, y, nx, ny) in enumerate(spec):
        made.append(Reading(f"face {k}", "face", (x, y, 10.0), (nx, ny, 0.0), (0.0, 0.0, 0.0), U, RADIUS, shared))
    return made


# two slots in corner waste, far apart: the four walls of each
TWO_LANDS = faces(
    (-150, -60, 1, 0), (-120, -60, -1, 0), (-135, -66, 0, 1), (-135, -54, 0, -1),
    (150, 60, 1, 0), (180, 60, -1, 0), (165, 54, 0, 1), (165, 66, 0, -1),
)  # fmt: skip
# edges of a blank and an oblique wall
EDGES = faces(
    (-120, -80, 0, -1), (-40, -80, 0, -1), (40, -80, 0, -1), (120, -80, 0, -1),
    (-160, -50, -1, 0), (-160, 50, -1, 0), (160, -50, 1, 0), (160, 50, 1, 0), (20, 60, 0.6, 0.8),
)  # fmt: skip
# three faces alone: nothing to spare
THREE = faces((-100, -80, 0, -1), (100, -80, 0, -1), (-160, 0, -1, 0))
LAYOUTS = {"two lands": TWO_LANDS, "edges": EDGES, "three": THREE}


def where(rows: Rows, pose: tuple[float, float, float], shift=SHIFT) -> np.ndarray:
    """Where the stylus' middle stands, without error, (m, 3)."""
    dx, dy, turn = pose
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    centres = rows.points_mm.copy()
    out = rows.radius_mm[:, None] * rows.normals[:, :2]
    centres[:, :2] = (rows.points_mm[:, :2] + out) @ rotation.T + np.array(shift) + [dx, dy]
    return centres


def read(rows: Rows, pose: tuple[float, float, float], rng: np.random.Generator, count: int) -> np.ndarray:
    """``count`` sets of readings with errors of the rows' own covariance, along the normals, (count, m, 3)."""
    centres = where(rows, pose)
    turn = pose[2]
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    errors = rng.standard_normal((count, len(rows))) @ np.linalg.cholesky(rows.covariance_mm2).T
    sets = np.broadcast_to(centres, (count, *centres.shape)).copy()
    sets[..., :2] += errors[..., None] * (rows.normals[:, :2] @ rotation.T)
    return sets


def rows_for(readings: list[Reading], shared: tuple[Shared, ...] = ()) -> Rows:
    return rows_of(readings, shared)[0]
