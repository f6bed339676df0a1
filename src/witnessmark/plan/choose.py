"""Of the choices that could do with the fewest placements, the one that really does, on the real floors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.field.columns import Columns
from witnessmark.job.models import Job
from witnessmark.job.placement import Placement
from witnessmark.shapes.solid import Solid

from .evaluate import Evaluation
from .near import evaluate_near
from .search import SideChoice
from .spindle import Reachable


@dataclass(frozen=True, eq=False)
class Chosen:
    """The placements taken with what each does, and how many choices were evaluated on the real floors."""

    placements: tuple[Placement, ...]
    results: tuple[Evaluation, ...]
    tried: int

    @property
    def unreached(self) -> int:
        return sum(int(result.unreached.sum()) for result in self.results)

    @property
    def clearance_mm3(self) -> float:
        return sum(result.clearance_mm3 for result in self.results)


def choose(
    job: Job, side: SideChoice, piece: Solid, columns: Columns, main: Reachable, finishing: Sequence[Reachable]
) -> Chosen:
    """The first choice, in order of preference, that reaches everything; else the one that reaches most."""
    best: Chosen | None = None
    for tried, option in enumerate(side.options, start=1):
        left, results = columns, []
        for place in option:
            result = evaluate_near(job, place, piece, left, main, finishing)
            left = left.lowered(result.top_after, place.stand.rotation)
            results.append(result)
        found = Chosen(option, tuple(results), tried)
        if best is None or (found.unreached, found.clearance_mm3) < (best.unreached, best.clearance_mm3):
            best = found
        if found.unreached == 0:
            break
    assert best is not None
    return Chosen(best.placements, best.results, tried)
