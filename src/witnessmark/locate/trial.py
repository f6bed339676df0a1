"""A trial of the finding before anything is cut: a machine with hidden true places takes a piece through it all.

Question  do the steps at the seams stay as small as predicted, and how large would they be without reading anything
Frame     piece
Units     mm, radians
Arrays    runs by placements: true and found (runs, k, 3) off the plan; errors and slips (runs, k, 6) as in chain
Method    every placement after the first is put down off its plan by a board's slop and a misplacement; its touches
          are read with noise, on features as their making leaves them and as the placements that cut them were found;
          the work is located by ``pose``. Walls step where placements meet: two sides all along the outline that both
          finish, placements of one side where their regions meet
Source    the same draws every time; predictions by chain and mismatch
Valid     as pose
Refuses   as pose (ValueError)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.placement import Placement
from witnessmark.shapes.solid import Solid

from .chain import CUT_IN, drawn, into_piece, links_of
from .mismatch import Seam, greatest_of_all_mm, moves_of, steps_of
from .outline import outline_places
from .pose import located
from .readings import Rows
from .typed import STEP_U_MM, planned_readings, rows_read

Floats = NDArray[np.float64]

RUNS, SEED = 2000, 20261126
STYLUS_RADIUS_MM = 2.0
SLOP_MM, MISPLACED_RAD = 0.3, math.radians(0.3)
NEAR_SEAM_MM = 12.0
FAR_MM = 1e5


@dataclass(frozen=True, eq=False)
class Trial:
    """A piece's placements with the seams where they meet, and the rows of their touches by placement."""

    places: tuple[Placement, ...]
    seams: tuple[Seam, ...]
    rows: dict[str, Rows]

    @staticmethod
    def of(places: Sequence[Placement], piece: Solid) -> Trial:
        """``piece`` in the piece frame."""
        rows, outlines = {}, []
        for place in places:
            at, normals = outline_places(place, piece.moved(place.stand))
            outlines.append((place.stand.inverse().apply(at), normals @ place.stand.rotation))
            if len(place.touches) >= 3:
                rows[place.name] = rows_read(planned_readings(place, place.touches, STYLUS_RADIUS_MM))[0]
        pairs = [(i, j) for j in range(1, len(places)) for i in range(j)]
        seams = [_seam_between(i, j, places, outlines) for i, j in pairs]
        return Trial(tuple(places), tuple(seam for seam in seams if seam is not None), rows)

    def predicted_mm(self, noise_ratio: float = 1.0) -> float:
        """What the greatest step of all seams stays under in 95 of 100 cases."""
        poses = noise_ratio * drawn(links_of(self.places, STYLUS_RADIUS_MM))
        return greatest_of_all_mm(poses, self.seams, STEP_U_MM)


@dataclass(frozen=True, eq=False)
class Runs:
    """What came of the runs; ``errors`` where corrected by what was read, ``slips`` where nothing was."""

    true: Floats
    found: Floats
    errors: Floats
    slips: Floats
    rng: np.random.Generator

    def greatest_mm(self, trial: Trial) -> tuple[Floats, Floats]:
        """The greatest step of each run, corrected, and left alone, (runs,)."""
        count = sum(len(seam.places_mm) for seam in trial.seams)
        scatter = STEP_U_MM * self.rng.standard_normal((len(self.true), count))
        one, other = (np.abs(steps_of(of, trial.seams) + scatter).max(axis=1) for of in (self.errors, self.slips))
        return one, other


@dataclass(frozen=True)
class Tried:
    """What a trial says: the step predicted, the share of runs within it, and the median of the greatest steps."""

    predicted_mm: float
    within_ratio: float
    median_mm: float
    left_alone_mm: float
    runs: int

    @staticmethod
    def of(trial: Trial) -> Tried:
        corrected, left_alone = tried(trial).greatest_mm(trial)
        bound = trial.predicted_mm()
        within, middle = float((corrected <= bound).mean()), float(np.median(corrected))
        return Tried(bound, within, middle, float(np.median(left_alone)), len(corrected))

    def words(self) -> str:
        return (
            f"in {self.runs} simulated runs the greatest step at all seams stays under the predicted "
            f"{self.predicted_mm:.3f} mm in {100 * self.within_ratio:.1f} of 100, half of them under "
            f"{self.median_mm:.3f} mm; without reading anything half would pass {self.left_alone_mm:.2f} mm"
        )


def tried(trial: Trial, noise_ratio: float = 1.0, runs: int = RUNS) -> Runs:
    """Put every placement down somewhere, read its touches, and find it; ``noise_ratio``: of the readings' own u."""
    rng, count = np.random.default_rng(SEED), len(trial.places)
    true, found = np.zeros((runs, count, 3)), np.zeros((runs, count, 3))
    errors, slips = np.zeros((runs, count, 6)), np.zeros((runs, count, 6))
    number = {place.name: k for k, place in enumerate(trial.places)}
    for k, place in enumerate(trial.places):
        if place.name not in trial.rows:
            continue
        rows = trial.rows[place.name]
        lies = np.column_stack([*rng.normal(0.0, SLOP_MM, (2, runs)), MISPLACED_RAD * rng.uniform(-1.0, 1.0, runs)])
        c, s = np.cos(lies[:, 2]), np.sin(lies[:, 2])
        rotation = np.stack([np.stack([c, -s], -1), np.stack([s, c], -1)], -2)
        off = rng.standard_normal((runs, len(rows))) @ np.linalg.cholesky(rows.covariance_mm2).T * noise_ratio
        for m, touch in enumerate(place.touches):  # what a later placement cut lies where that one was found to
            cut = number.get(touch.known_from.removeprefix(CUT_IN))
            if touch.known_from.startswith(CUT_IN) and cut is not None:
                normal = place.stand.rotation.T @ rows.normals[m]
                off[:, m] += errors[:, cut] @ (normal @ moves_of(np.array([touch.point_mm]))[0])
        out = rows.points_mm[:, :2] + rows.radius_mm[:, None] * rows.normals[:, :2]
        out = out + off[..., None] * rows.normals[:, :2]
        centres = np.zeros((runs, len(rows), 3))
        centres[..., 2] = rows.points_mm[:, 2]
        centres[..., :2] = np.einsum("rij,rmj->rmi", rotation, out) + np.array(place.shift_mm) + lies[:, None, :2]
        true[:, k], found[:, k] = lies, located(rows, centres, place.shift_mm).pose
        wrong = found[:, k] - lies
        wrong[:, :2] = np.einsum("rji,rj->ri", rotation, wrong[:, :2])  # as the work lies
        errors[:, k, :3], slips[:, k, :3] = wrong, -lies
        turned = into_piece(place)
        errors[:, k], slips[:, k] = errors[:, k] @ turned.T, slips[:, k] @ turned.T
    return Runs(true, found, errors, slips, rng)


def _seam_between(
    one: int, other: int, places: Sequence[Placement], outlines: Sequence[tuple[Floats, Floats]]
) -> Seam | None:
    a, b = places[one], places[other]
    at, normals = outlines[other]
    if not len(at):
        return None
    region = shapely.box(*np.clip(np.array(a.region_mm), -FAR_MM, FAR_MM))
    if a.up == b.up:
        near = shapely.dwithin(region, shapely.points(b.stand.apply(at)[:, :2]), NEAR_SEAM_MM)
    else:
        near = shapely.intersects(region, shapely.points(a.stand.apply(at)[:, :2]))
    return Seam(one, other, at[near], normals[near]) if near.any() else None
