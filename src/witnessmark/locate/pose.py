"""Where the work lies: shift, turn, height and tilt from readings, with their covariance.

Question  how does the work lie compared with the plan, and how sure is that
Frame     program frame: a place p of the standing frame lies at R(turn) p + shift + d, d the pose's shift
Units     mm, radians
Arrays    pose (..., 3): dx, dy, turn; lie (..., 3): dz, and the tilts about x and y; covariances (3, 3)
Method    Gauss and Newton on n . (R^T (c - shift - d) - p) - r, weighted by the readings' covariance; heights are
          linear. About the middle of the touched places, so that turn and shift are apart; then said about the origin
Source    JCGM 100 (GUM) for the covariance; the design rows [n, p x n] are textbook
Valid     turns up to about 30 degrees; small tilts
Refuses   readings that do not fix the pose (ValueError)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .least_squares import fit, whitening
from .readings import Rows

Floats = NDArray[np.float64]

STEPS = 12
SAME = 1e-12
LEVEL_RATIO = 0.2  # a row whose normal rises more than this is no height, one that lies flatter no side


@dataclass(frozen=True, eq=False)
class Located:
    """``pose`` (..., 3) dx, dy, turn about the standing frame's origin; its ``covariance`` (3, 3), a batch's first.

    ``residuals_mm`` (..., m): what each row reads more than fits; ``chi_square`` (...), with ``freedom`` degrees.
    ``condition_ratio``: of the best to the worst known combination, with the turn taken at the readings' own spread.
    """

    pose: Floats
    covariance: Floats
    residuals_mm: Floats
    chi_square: Floats
    freedom: int
    condition_ratio: float


def located(rows: Rows, centres_mm: Floats, shift_mm: tuple[float, float]) -> Located:
    """Shift and turn; ``centres_mm`` (..., m, 3) may be many sets of readings of the same rows."""
    centres = np.asarray(centres_mm, dtype=np.float64)
    if np.linalg.matrix_rank(_scaled_design(rows)) < 3:
        raise ValueError("these readings do not fix x, y and turn: touch faces that look along both axes, far apart")
    level = rows.normals[:, :2]
    middle = rows.points_mm[:, :2].mean(axis=0)
    points = rows.points_mm[:, :2] - middle
    at = centres[..., :2] - np.asarray(shift_mm) - middle  # about the middle: R p + d' with d' = d + R m - m
    heights = rows.normals[:, 2] * (centres[..., 2] - rows.points_mm[:, 2]) - rows.radius_mm
    state = np.zeros((*centres.shape[:-2], 3))
    for _ in range(STEPS):
        off, design = _linear(state, level, points, at, heights)
        step = fit(design, -off, rows.covariance_mm2)
        state = state + step.parameters
        if np.abs(step.parameters).max(initial=0.0) < SAME:
            break
    off, design = _linear(state, level, points, at, heights)
    first = design.reshape(-1, *design.shape[-2:])[0]
    about_middle = fit(first, np.zeros(len(rows)), rows.covariance_mm2).covariance
    turn = state[..., 2]
    turned = _turned(middle, turn)
    pose = np.concatenate([state[..., :2] - turned + middle, state[..., 2:]], axis=-1)
    carry = np.eye(3)  # d = d' - R m + m: its derivative by the turn
    carry[0, 2], carry[1, 2] = middle[1], -middle[0]
    white = off @ whitening(rows.covariance_mm2).T
    return Located(
        pose,
        carry @ about_middle @ carry.T,
        off,
        np.asarray((white**2).sum(axis=-1)),
        len(rows) - 3,
        float(np.linalg.cond(_scaled_design(rows))),
    )


def predicted_covariance(rows: Rows) -> Floats:
    """The covariance (3, 3) of dx, dy, turn that such readings will give where the work lies as planned."""
    return fit(rows.design, np.zeros(len(rows)), rows.covariance_mm2).covariance


def _linear(state: Floats, level: Floats, points: Floats, at: Floats, heights: Floats) -> tuple[Floats, Floats]:
    """What each row is off (..., m), and its derivatives (..., m, 3)."""
    away = at - state[..., None, :2]
    c, s = np.cos(state[..., None, 2]), np.sin(state[..., None, 2])
    x = c * away[..., 0] + s * away[..., 1]
    y = -s * away[..., 0] + c * away[..., 1]
    nx, ny = level[:, 0], level[:, 1]
    off = nx * (x - points[:, 0]) + ny * (y - points[:, 1]) + heights
    design = np.stack([-(nx * c - ny * s), -(nx * s + ny * c), nx * y - ny * x], axis=-1)
    return off, design


def _turned(place: Floats, turn: Floats) -> Floats:
    c, s = np.cos(turn), np.sin(turn)
    return np.stack([c * place[0] - s * place[1], s * place[0] + c * place[1]], axis=-1)


def _scaled_design(rows: Rows) -> Floats:
    """Whitened design about the middle, with the turn at the spread of the touched places."""
    points = rows.points_mm[:, :2] - rows.points_mm[:, :2].mean(axis=0)
    spread = max(float(np.sqrt((points**2).sum(axis=1).mean())), 1e-6)
    lever = (points[:, 0] * rows.normals[:, 1] - points[:, 1] * rows.normals[:, 0]) / spread
    return np.asarray(whitening(rows.covariance_mm2) @ np.column_stack([rows.normals[:, :2], lever]))


@dataclass(frozen=True, eq=False)
class Lying:
    """``lie`` (..., 3): dz at the standing frame's origin, tilt about x, tilt about y; ``covariance`` (3, 3)."""

    lie: Floats
    covariance: Floats
    residuals_mm: Floats
    chi_square: Floats
    freedom: int


def lying(rows: Rows, centres_mm: Floats) -> Lying:
    """Height and tilts from lands: z read less z planned = dz + tilt_x y - tilt_y x."""
    if len(rows) < 3:
        raise ValueError("three lands or more fix height and tilts")
    x, y = rows.points_mm[:, 0], rows.points_mm[:, 1]
    design = np.column_stack([np.ones(len(rows)), y, -x])
    if np.linalg.matrix_rank(design / np.abs(design).max(axis=0, initial=1e-9)) < 3:
        raise ValueError("the lands lie on one line: they do not fix the tilt across it")
    off = np.asarray(centres_mm, dtype=np.float64)[..., 2] - rows.points_mm[:, 2] - rows.radius_mm
    batch = np.broadcast_to(design, (*off.shape[:-1], *design.shape))
    found = fit(batch, off, rows.covariance_mm2)
    white = found.residuals @ whitening(rows.covariance_mm2).T
    covariance = found.covariance.reshape(-1, 3, 3)[0]
    return Lying(found.parameters, covariance, found.residuals, np.asarray((white**2).sum(axis=-1)), len(rows) - 3)
