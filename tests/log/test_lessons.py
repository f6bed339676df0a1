"""What many entries teach, against draws with known truth."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.locate.blunder import redundancy_of
from witnessmark.locate.pose import located
from witnessmark.locate.readings import Reading, rows_of
from witnessmark.log.entries import EndEntry, ReadingEntry, RunEntry, Step
from witnessmark.log.lessons import minutes_lesson, reading_lesson


def _runs(pairs: list[tuple[float, float | None]], stop_line: int | None = None) -> list[Step]:
    steps: list[Step] = []
    for said, took in pairs:
        number = len(steps) + 1
        steps.append(Step(number, "lid", "1", "started", "a", "", run=RunEntry("a.nc", "", "c", said)))
        steps.append(Step(number + 1, "lid", "1", "ended", "a", "", end=EndEntry(number, stop_line, took)))
    return steps


def test_the_factor_is_that_of_all_minutes_and_has_its_spread() -> None:
    told = [(10.0, 12.0), (20.0, 24.0), (5.0, 6.5), (2.0, 2.4), (8.0, 8.8)]
    lesson = minutes_lesson(_runs(told))
    assert lesson is not None
    assert lesson.factor_ratio == pytest.approx(53.7 / 45.0)
    assert lesson.spread_ratio == pytest.approx(np.std([t / s for s, t in told], ddof=1))
    assert lesson.count == 5


def test_few_untimed_or_stopped_runs_teach_nothing() -> None:
    assert minutes_lesson(_runs([(10.0, 12.0)] * 4)) is None
    assert minutes_lesson(_runs([(10.0, None)] * 9)) is None
    assert minutes_lesson(_runs([(10.0, 3.0)] * 9, stop_line=55)) is None
    assert reading_lesson([], 0.01) is None


@pytest.mark.parametrize("u_mm", [0.01, 0.03, 0.05])
def test_the_scatter_of_the_readings_is_found_from_their_residuals(u_mm: float) -> None:
    """60 simulated placements of eight touches, features off by 0.01 mm: the truth lies in the stated interval."""
    rng = np.random.default_rng(7)
    spots = [(0, 0, 0, -1), (300, 0, 0, -1), (600, 0, 0, -1), (0, 200, 0, 1), (600, 200, 0, 1), (0, 50, -1, 0)]
    spots += [(0, 150, -1, 0), (600, 100, 1, 0)]
    steps = []
    for _ in range(60):
        readings = [
            Reading(str(k), "face", (x, y, 10.0), (nx, ny, 0.0), (x + 3.0 * nx, y + 3.0 * ny, 10.0), u_mm, 3.0)
            for k, (x, y, nx, ny) in enumerate(spots)
        ]
        rows, centres = rows_of(readings)
        off = rng.normal(0.0, np.hypot(u_mm, 0.01), len(rows))
        found = located(rows, centres + off[:, None] * rows.normals, (0.0, 0.0))
        freedom, _ = redundancy_of(rows)
        entries = [
            ReadingEntry(k + 1, str(k), 0.0, 6.0, u_mm, float(found.residuals_mm[k]), float(freedom[k]))
            for k in range(len(rows))
        ]
        steps.append(Step(len(steps) + 1, "lid", "2", "found", "", "", readings=tuple(entries)))
    lesson = reading_lesson(steps, 0.01)
    assert lesson is not None
    assert lesson.from_mm < u_mm < lesson.to_mm
    assert lesson.u_mm == pytest.approx(u_mm, rel=0.15)
    assert lesson.count == 480
