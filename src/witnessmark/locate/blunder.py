"""Whether the readings agree, and which one does not.

Question  do these readings belong together; if not, which of them is wrong, or can that not be told
Units     mm
Arrays    m rows, n readings
Method    chi-square of the whole; then each reading is left out in turn: what chi-square loses by that is its own
          disagreement (for one row it is the square of Baarda's standardised residual). A reading is named if that is
          beyond ALPHA, more than SEPARATE greater than any other's, and the rest agrees
          Redundancy number of a row: the share of an error in it that shows in its own residual
          Detectable: the error that the test finds in 80 of 100 cases
Source    Baarda, W. (1968), A testing procedure for use in geodetic networks (from memory: 3.29 for one in a
          thousand, 4.13 for that and a power of 0.80)
Valid     one wrong reading; with more of them it is told that more than one disagrees
Refuses   as pose
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from .pose import Located, located
from .readings import Rows

Floats = NDArray[np.float64]

ALPHA = 0.001
AGREE_P = 0.01  # readings that agree less often than this by chance do not agree
SEPARATE = 10.83  # chi-square of one degree at one in a thousand: another reading is no better suspect within this
DETECTED = 4.13
LEAST_REDUNDANCY = 0.1  # below this an error in a reading hides in the pose


@dataclass(frozen=True, eq=False)
class Agreement:
    """``chance_ratio``: how often right readings agree no better; ``redundancy`` (m,), ``detectable_mm`` (m,).

    ``gain`` (n,): what chi-square loses when a reading is left out, nan where the rest does not fix the pose.
    ``wrong``: the reading that disagrees, None where none does or it cannot be told; ``suspects``: those it may be.
    """

    chance_ratio: float
    redundancy: Floats
    detectable_mm: Floats
    gain: Floats
    wrong: int | None
    suspects: tuple[int, ...]
    agrees: bool

    def words(self, names: tuple[str, ...]) -> str:
        """For the maker."""
        if self.agrees and self.wrong is None:
            return "the readings agree"
        if self.wrong is not None:
            return f"{names[self.wrong]} disagrees with all the others: read it again (sign, unit, face)"
        if self.suspects:
            which = ", ".join(names[k] for k in self.suspects)
            return f"the readings disagree; it cannot be told which is wrong: {which}"
        return "the readings disagree, and more than one of them: read all of them again"


def agreement(rows: Rows, centres_mm: Floats, shift_mm: tuple[float, float]) -> Agreement:
    """Judge one set of readings (m, 3)."""
    whole = located(rows, centres_mm, shift_mm)
    count = len(rows.names)
    gain, rest_p = np.full(count, np.nan), np.full(count, np.nan)
    for k in range(count):
        rest = _without(rows, centres_mm, shift_mm, k)
        if rest is not None:
            gain[k] = max(float(whole.chi_square) - float(rest.chi_square), 0.0)
            rest_p[k] = _chance(rest)
    redundancy, detectable = redundancy_of(rows)
    p = _chance(whole)
    of = np.bincount(rows.of, minlength=count)
    beyond = np.nan_to_num(gain) > chi2.isf(ALPHA, np.maximum(of, 1))
    agrees = p >= AGREE_P and not beyond.any()
    if agrees:
        return Agreement(p, redundancy, detectable, gain, None, (), True)
    if not beyond.any():
        return Agreement(p, redundancy, detectable, gain, None, tuple(range(count)), False)
    best = int(np.nanargmax(gain))
    near = tuple(int(k) for k in np.flatnonzero(np.nan_to_num(gain, nan=np.inf) > gain[best] - SEPARATE))
    if rest_p[best] < ALPHA and len(near) == 1:
        return Agreement(p, redundancy, detectable, gain, None, (), False)
    return Agreement(p, redundancy, detectable, gain, best if near == (best,) else None, near, False)


def _without(rows: Rows, centres_mm: Floats, shift_mm: tuple[float, float], reading: int) -> Located | None:
    keep = rows.of != reading
    try:
        return located(rows.kept(keep), centres_mm[keep], shift_mm)
    except ValueError:
        return None


def _chance(found: Located) -> float:
    return float(chi2.sf(float(found.chi_square), found.freedom)) if found.freedom > 0 else 1.0


def redundancy_of(rows: Rows) -> tuple[Floats, Floats]:
    """Redundancy number of each row, and the error in it that is found in 80 of 100 cases, mm (inf: never)."""
    design = rows.design
    weight = np.linalg.inv(rows.covariance_mm2)
    normal = np.linalg.pinv(design.T @ weight @ design)
    residual_covariance = rows.covariance_mm2 - design @ normal @ design.T
    redundancy = np.diag(residual_covariance @ weight)
    shows = np.clip(np.diag(weight @ residual_covariance @ weight), 0.0, None)
    hidden = redundancy < 1e-9
    with np.errstate(divide="ignore"):
        detectable = np.where(hidden, np.inf, DETECTED / np.sqrt(np.where(hidden, 1.0, shows)))
    return np.asarray(redundancy), np.asarray(detectable)
