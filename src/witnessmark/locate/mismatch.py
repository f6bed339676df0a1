"""How far surfaces cut now will lie from those cut before: the pose's uncertainty where it matters.

Question  how large a step will there be along a seam, at most, in 95 of 100 cases
Frame     standing
Units     mm, radians
Arrays    covariance (3, 3) of dx, dy, turn (pose); lie (3, 3) of dz, tilt about x, tilt about y; places (n, 3),
          normals (n, 3)
Method    a small pose moves a place p by (dx - turn y + tilt_y z, dy + turn x - tilt_x z, dz + tilt_x y - tilt_y x).
          The greatest of all steps along a seam has no closed form: many poses of that covariance are tried, the same
          ones every time
Source    displacement t + omega x p, textbook; for points the formula of Fitzpatrick, West and Maurer (1998),
          Predicting error in rigid-body point-based registration, IEEE TMI 17(5), follows from it
Valid     small turns and tilts
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TRIED = 20_000
SEED = 17
SHARE_RATIO = 0.95


def moves_of(places_mm: Floats) -> Floats:
    """How each place (n, 3) moves with dx, dy, turn, dz, tilt about x, tilt about y: (n, 3, 6)."""
    places = np.asarray(places_mm, dtype=np.float64).reshape(-1, 3)
    x, y, z = places.T
    none, one = np.zeros(len(places)), np.ones(len(places))
    return np.stack(
        [
            np.column_stack([one, none, -y, none, none, z]),
            np.column_stack([none, one, x, none, -z, none]),
            np.column_stack([none, none, none, one, y, -x]),
        ],
        axis=1,
    )


def joined_covariance(pose: Floats, lie: Floats | None = None) -> Floats:
    """Both parts of where the work lies as one (6, 6); without heights these count as known."""
    whole = np.zeros((6, 6))
    whole[:3, :3] = pose
    if lie is not None:
        whole[3:, 3:] = lie
    return whole


def displaced_rms_mm(covariance: Floats, places_mm: Floats) -> Floats:
    """Root mean square of how far each place (n, 3) is from where it is meant, (n,); ``covariance`` (6, 6)."""
    moves = moves_of(places_mm)
    return np.asarray(np.sqrt(np.einsum("nij,jk,nik->n", moves, covariance, moves)))


def steps_u_mm(covariance: Floats, places_mm: Floats, normals: Floats) -> Floats:
    """Standard uncertainty of the step along each place's normal, (n,)."""
    rows = np.einsum("nij,ni->nj", moves_of(places_mm), np.asarray(normals, dtype=np.float64))
    return np.asarray(np.sqrt(np.einsum("nj,jk,nk->n", rows, covariance, rows)))


def greatest_step_mm(
    covariance: Floats, places_mm: Floats, normals: Floats, u_cut_mm: float = 0.0, share_ratio: float = SHARE_RATIO
) -> float:
    """What the greatest step of all these places stays under in ``share_ratio`` of all cases.

    ``u_cut_mm``: of each surface by itself, for what cutters and machine scatter besides the pose (both sides of a
    step together).
    """
    rows = np.einsum("nij,ni->nj", moves_of(places_mm), np.asarray(normals, dtype=np.float64))
    rng = np.random.default_rng(SEED)
    values, vectors = np.linalg.eigh(covariance)
    poses = rng.standard_normal((TRIED, 6)) @ (vectors * np.sqrt(np.clip(values, 0.0, None))).T
    steps = poses @ rows.T
    if u_cut_mm:
        steps = steps + u_cut_mm * rng.standard_normal(steps.shape)
    return float(np.quantile(np.abs(steps).max(axis=1), share_ratio))


@dataclass(frozen=True, eq=False)
class Seam:
    """Where two placements meet: their rows in a list of covariances, places (n, 3) and normals (n, 3)."""

    one: int
    other: int
    places_mm: Floats
    normals: Floats


def steps_of(poses: Floats, seams: Sequence[Seam]) -> Floats:
    """The steps (..., n) at all places of all seams for errors ``poses`` (..., k, 6) of the placements."""
    parts = []
    for seam in seams:
        rows = np.einsum("nij,ni->nj", moves_of(seam.places_mm), np.asarray(seam.normals, dtype=np.float64))
        parts.append((poses[..., seam.one, :] - poses[..., seam.other, :]) @ rows.T)
    return np.concatenate(parts, axis=-1)


def greatest_of_all_mm(
    poses: Floats, seams: Sequence[Seam], u_cut_mm: float = 0.0, share_ratio: float = SHARE_RATIO
) -> float:
    """What the greatest step of all seams of a piece stays under in ``share_ratio`` of all cases.

    ``poses`` (count, k, 6): errors of the placements, drawn together (chain.drawn).
    """
    steps = steps_of(poses, seams)
    if u_cut_mm:
        steps = steps + u_cut_mm * np.random.default_rng(SEED + 1).standard_normal(steps.shape)
    return float(np.quantile(np.abs(steps).max(axis=-1), share_ratio))
