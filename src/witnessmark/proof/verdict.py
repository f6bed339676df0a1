"""What the judge is given and what it answers."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.field.columns import Columns

from .finding import Finding
from .floors import Floors
from .meet import Step
from .seams import SeamStep
from .walls import Walls

Point = tuple[float, float, float]


@dataclass(frozen=True)
class ProgramText:
    """A program as it will be run: its text, the placement and the cutter that it is for.

    ``origin_mm``: where its own zero lies: x, y from the travel's front left corner, z above the supporting face.
    """

    file: str
    placement: str
    cutter: str
    text: str
    origin_mm: Point = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class ProgramRow:
    """One program of the table: what it takes and what it does.

    ``minutes``: all of it; ``peak_bite_mm``: the most a tooth moves on by while cutting; ``peak_removal``: in any
    second; ``widest_cut_mm``: mean width of cut of a motion, the greatest; all 0 where nothing is cut.
    """

    file: str
    placement: str
    cutter: str
    fingerprint: str
    motions: int
    minutes: float
    cutting_minutes: float
    rapid_minutes: float
    cutting_m: float
    rapid_m: float
    peak_bite_mm: float
    peak_removal_mm3_min: float
    removed_by_minute_mm3: tuple[float, ...]
    removed_mm3: float
    deepest_cut_mm: float
    deepest_cut_line: int
    widest_cut_mm: float
    widest_cut_line: int
    lowest_tip_mm: float
    loose_pieces: int


@dataclass(frozen=True)
class EasedPlace:
    """Wood that no listed cutter can take: where (piece frame), the radius it is left with, and how much."""

    place_mm: Point
    radius_mm: float
    leftover_mm: float
    z_from_mm: float
    z_to_mm: float


@dataclass(frozen=True, eq=False)
class Watched:
    """What the programs do to the wood and where they fail, whatever is to be made; ``passed`` without a stop."""

    findings: tuple[Finding, ...]
    columns_after: Columns
    programs: tuple[ProgramRow, ...]

    @property
    def passed(self) -> bool:
        return not any(finding.harm == "stop" for finding in self.findings)


@dataclass(frozen=True, eq=False)
class Verdict:
    """The answer for one piece; ``passed`` where no finding is a stop."""

    piece: str
    findings: tuple[Finding, ...]
    passed: bool
    columns_after: Columns
    walls: Walls
    floors: tuple[Floors, ...]
    programs: tuple[ProgramRow, ...]
    eased: tuple[EasedPlace, ...]
    fingerprint: str
    pitch_mm: float
    seconds: float
    gouge_tolerance_mm: float
    allowance_mm: float
    step: Step | None = None  # where the cuts of two sides meet; None with one side only
    seams: tuple[SeamStep, ...] = ()  # where placements of one side meet

    @property
    def worst_gouge_mm(self) -> float:
        """Deepest cut into the piece along its normal, walls and floors."""
        return max([self.walls.worst_gouge_mm, *(f.worst_gouge_mm for f in self.floors)])

    @property
    def worst_left_mm(self) -> float:
        """Most wood left along the normal, but for the eased places."""
        return max([self.walls.worst_left_mm, *(f.worst_left_mm for f in self.floors)])
