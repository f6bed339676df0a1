"""What many entries teach: how long this machine really takes, and how far this maker's readings scatter.

Question  by what factor do programs take longer than predicted; what is the standard uncertainty of a reading
Units     minutes, mm
Method    the factor is that of all minutes together; its spread is the standard deviation of single runs' factors.
          The scatter is the root of the sum of squared residuals over the sum of their freedoms (a residual of a fit
          shows only part of its reading's scatter), less what the touched features are off themselves
Source    least squares' residuals: JCGM 100; the interval of a standard deviation: the chi-square distribution
          (textbook)
Valid     steps that stand, runs that went to their end and were timed
Refuses   nothing: fewer than ``ENOUGH`` entries teach nothing (None)
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from .entries import Step

ENOUGH = 5
SHORTEST_MIN = 0.2  # a run timed shorter than this says more about the maker's hand than about the machine


@dataclass(frozen=True)
class MinutesLesson:
    """True minutes are ``factor_ratio`` times those predicted; single runs scatter by ``spread_ratio``."""

    factor_ratio: float
    spread_ratio: float
    count: int

    def words(self) -> str:
        return (
            f"programs take {self.factor_ratio:.2f} times the minutes predicted (single ones scatter by "
            f"{self.spread_ratio:.2f}; {self.count} runs)"
        )


@dataclass(frozen=True)
class ReadingLesson:
    """Readings scatter by ``u_mm`` (standard deviation); it lies between the other two in 95 of 100 cases."""

    u_mm: float
    from_mm: float
    to_mm: float
    count: int

    def words(self) -> str:
        return (
            f"your readings scatter by {self.u_mm:.3f} mm (between {self.from_mm:.3f} and {self.to_mm:.3f} mm in 95 "
            f"of 100 cases; {self.count} readings)"
        )


def minutes_lesson(steps: Sequence[Step]) -> MinutesLesson | None:
    """From the runs that went to their end; None below ``ENOUGH`` of them."""
    runs = {step.id: step.run for step in steps if step.stands and step.run is not None}
    pairs = [
        (runs[step.end.run_id].minutes, step.end.minutes)
        for step in steps
        if step.stands
        and step.end is not None
        and step.end.stop_line is None
        and step.end.minutes is not None
        and step.end.run_id in runs
    ]
    pairs = [(said, took) for said, took in pairs if said > SHORTEST_MIN and took > SHORTEST_MIN]
    if len(pairs) < ENOUGH:
        return None
    factor = sum(took for _, took in pairs) / sum(said for said, _ in pairs)
    return MinutesLesson(factor, statistics.stdev(took / said for said, took in pairs), len(pairs))


def reading_lesson(steps: Sequence[Step], feature_u_mm: float) -> ReadingLesson | None:
    """From the residuals of readings that agreed; ``feature_u_mm`` is what a touched feature is off by itself."""
    squares, freedom, count = 0.0, 0.0, 0
    for step in steps:
        for reading in step.readings if step.stands else ():
            if reading.residual_mm is not None and reading.freedom_ratio:
                squares += reading.residual_mm**2
                freedom += reading.freedom_ratio
                count += 1
    if count < ENOUGH or freedom < 1.0:
        return None
    from scipy.stats import chi2

    low, high = (squares / float(chi2.ppf(p, freedom)) for p in (0.975, 0.025))

    def own(square_mm2: float) -> float:
        return math.sqrt(max(square_mm2 - feature_u_mm**2, 0.0))

    return ReadingLesson(own(squares / freedom), own(low), own(high), count)
