"""Weighted linear least squares with a full covariance of the readings.

Question  what parameters fit readings that are uncertain, together and each, and how uncertain are they
Units     the readings'; parameters in theirs by the design
Arrays    design (..., m, k), readings (..., m), covariance (m, m) of the readings; leading axes: many sets at once
Method    whitened by the Cholesky factor of the covariance, then solved by QR, which keeps the digits that normal
          equations lose on badly conditioned designs
Source    JCGM 100 (GUM) H.3 for its use; Golub, G. and Van Loan, C., Matrix Computations (from memory)
Valid     covariance positive definite, design of full column rank
Refuses   ValueError: shapes that do not fit, fewer readings than parameters
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Fit:
    """``parameters`` (..., k), their ``covariance`` (..., k, k), ``residuals`` (..., m) readings less what fits."""

    parameters: Floats
    covariance: Floats
    residuals: Floats


def whitening(covariance: Floats) -> Floats:
    """The matrix (m, m) that turns readings of this covariance into ones of unit variance, free of each other."""
    lower = np.linalg.cholesky(np.asarray(covariance, dtype=np.float64))
    return np.asarray(np.linalg.solve(lower, np.eye(len(lower))), dtype=np.float64)


def fit(design: Floats, readings: Floats, covariance: Floats) -> Fit:
    """The best parameters; their covariance goes by the readings' own, not by how well they happen to agree."""
    design, readings = np.asarray(design, dtype=np.float64), np.asarray(readings, dtype=np.float64)
    m, k = design.shape[-2:]
    if readings.shape[-1] != m or np.shape(covariance) != (m, m):
        raise ValueError(
            f"a design of {m} readings, {readings.shape[-1]} readings, covariance {np.shape(covariance)}"
        )
    if m < k:
        raise ValueError(f"{m} readings do not fix {k} parameters")
    white = whitening(covariance)
    q, r = np.linalg.qr(white @ design)
    parameters = np.linalg.solve(r, np.swapaxes(q, -1, -2) @ (readings @ white.T)[..., None])[..., 0]
    inverse = np.linalg.solve(r, np.broadcast_to(np.eye(k), r.shape))
    residuals = readings - (design @ parameters[..., None])[..., 0]
    return Fit(parameters, inverse @ np.swapaxes(inverse, -1, -2), residuals)
