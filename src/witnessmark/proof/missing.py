"""Programs that the plan has and the judge was not given: what they leave uncut is their absence's doing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .finding import Finding
from .verdict import ProgramText


@dataclass(frozen=True)
class Planned:
    """A program as the plan lists it: its file, placement and cutter."""

    file: str
    placement: str
    cutter: str


def missing_findings(planned: Sequence[Planned], programs: Sequence[ProgramText]) -> list[Finding]:
    """One for each planned program whose file is not among those given."""
    given = {program.file for program in programs}
    return [_missing(one) for one in planned if one.file not in given]


def _missing(one: Planned) -> Finding:
    what = f"the plan has a program for cutter {one.cutter} here, {one.file}, and it was not given"
    remedies = (
        "write the programs again (witnessmark program), and prove all of them",
        "if it is not to be cut, change job.toml so that the plan does without it, and plan again",
    )
    return Finding("missing program", what, "stop", None, "piece", one.placement, one.file, 0, 0.0, remedies)
