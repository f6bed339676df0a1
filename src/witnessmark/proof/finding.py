"""Findings and the verdict: what went wrong, where, by how much, and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Certainty = Literal["certain", "within the bracket"]


@dataclass(frozen=True)
class Finding:
    """One thing the judge found. Places are mm in the named frame; line counts from 1 (0: no line)."""

    kind: str
    what: str
    harm: Literal["stop", "warning", "note"]
    place_mm: tuple[float, float, float] | None
    frame: str
    placement: str
    file: str
    line: int
    by_mm: float
    remedies: tuple[str, ...]
    certainty: Certainty = "certain"

    def __str__(self) -> str:
        at = (
            f" at x {self.place_mm[0]:.1f} y {self.place_mm[1]:.1f} z {self.place_mm[2]:.1f}" if self.place_mm else ""
        )
        line = f":{self.line}" if self.line else ""
        source = f" ({self.file}{line})" if self.file else ""
        whose = f"placement {self.placement}" if self.placement else "the made piece"
        lines = [f"{whose}{source}{at}: {self.what}"]
        return "\n".join(lines + [f"  - {remedy}" for remedy in self.remedies])
