"""What puts a latch's holes off beside what its file states: the year, the placements of lid and body, and the way in
which the holes are made."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from witnessmark.job.catalog import Species
from witnessmark.job.errors import Refusal
from witnessmark.job.files import JOB_FILE, load_job
from witnessmark.job.latch import Latch, Place
from witnessmark.job.models import Job, Season
from witnessmark.latch.bolts import SpringReturn
from witnessmark.latch.chances import Astray, Loose
from witnessmark.latch.design import Design
from witnessmark.latch.inward import made_by
from witnessmark.latch.search import magnets_ratio
from witnessmark.locate.apart import apart_mm2
from witnessmark.plan.store import load_plans
from witnessmark.wood.movement import change_mm

from .season import year_of_job

LONG_MM = 40.0  # of the wood that moves a bolt against its hole


@dataclass(frozen=True)
class Off:
    """How far wood moves to either side over the year; how true lid and body are found again, together (None: they
    are not planned yet)."""

    season_mm: float
    found: FoundAgain | None

    @staticmethod
    def of(root: Path, latch: Latch, wood: Species) -> Off:
        job = load_job(root) if (root / JOB_FILE).is_file() else None
        found = found_again(root, job, latch.place, latch.wish.bolts) if job and latch.place else None
        return Off(season_mm(job, wood), found)

    def loose(self, latch: Latch, design: Design | None = None) -> Loose:
        """With what the way to make the holes adds, where it is known."""
        loose = self.before(latch, design)
        if latch.place is None:
            return loose
        wide, deep = (
            (design.hole_mm, design.hole_deep_mm) if design else (latch.rods[0].diameter_mm, latch.wish.throw_mm)
        )
        return made_by(latch.place.holes_of(latch.wish.bolts), loose, wide, deep)

    def before(self, latch: Latch, design: Design | None = None) -> Loose:
        """Before any hole is made."""
        spring = design is not None and isinstance(design.back, SpringReturn)
        found = Astray()
        if latch.place:
            found = self.found.astray if self.found else UNPLANNED.astray
        return Loose(magnets_ratio(latch), self.season_mm, spring, (found,) * latch.wish.bolts)


@dataclass(frozen=True)
class FoundAgain:
    """Standard deviations of a hole against its bolt, the worst of them: in height, sideways, along the bolt."""

    up_mm: float
    aside_mm: float
    along_mm: float

    @property
    def astray(self) -> Astray:
        return Astray(self.up_mm, self.aside_mm, self.along_mm)

    @property
    def words(self) -> str:
        return (
            f"Lid and body found again as planned, the holes lie {self.aside_mm:.2f} mm off their bolts sideways and "
            f"{self.along_mm:.2f} mm along them (standard deviations): that is in it."
        )


# What is reckoned with until the pieces are planned: a little more than a chest longer than the travel came to
UNPLANNED = FoundAgain(0.0, 0.04, 0.04)


def season_mm(job: Job | None, wood: Species, long_mm: float = LONG_MM) -> float:
    """How far wood of that length moves to either side over the year of a job, across the grain; over a usual one
    (20 C, 35 to 65 %) where there is no job, or it states none."""
    low, high = year_of_job((job.season if job else None) or Season()).range_pct
    return abs(change_mm(long_mm, wood, "tangential", low, high)) / 2


def found_again(root: Path, job: Job, place: Place, bolts: int) -> FoundAgain | None:
    """By the placements of lid and body together; None before both are planned."""
    try:
        plans = load_plans(job, root / "out" / "plan.toml", None)
    except Refusal:  # none yet, or one of other pieces: as before planning
        return None
    by_piece = {plan.piece.name: plan for plan in plans}
    if place.lid not in by_piece or place.body not in by_piece:
        return None
    axis_mm = np.array([place.x_mm, place.y_mm, 0.0])
    covariance = np.zeros((3, 3))
    for name, up in ((place.lid, "-z"), (place.body, "+z")):
        covariance += apart_mm2([step.placement for step in by_piece[name].placements], up, axis_mm)
    turns = [math.radians(place.first_deg + 360.0 * bolt / bolts) for bolt in range(bolts)]
    return FoundAgain(
        _spread_mm(covariance, np.array([0.0, 0.0, 1.0])),
        max(_spread_mm(covariance, np.array([-math.sin(turn), math.cos(turn), 0.0])) for turn in turns),
        max(_spread_mm(covariance, np.array([math.cos(turn), math.sin(turn), 0.0])) for turn in turns),
    )


def _spread_mm(covariance: np.ndarray, way: np.ndarray) -> float:
    return math.sqrt(max(float(way @ covariance @ way), 0.0))
