"""From many suspicious moves to one finding of a kind: the first line, the worst place, how many there are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .finding import Certainty, Finding

Floats = NDArray[np.float64]
Harm = Literal["stop", "warning", "note"]

# the worst first: what breaks machine or maker, what lets wood fly, what spoils the work, what is worth knowing
ORDER = (
    "outside travel",
    "gantry meets wood",
    "wood meets upright",
    "board meets upright",
    "hardware touched",
    "rapid through wood",
    "assembly contact",
    "spindle off while cutting",
    "spindle turns backwards",
    "spindle speed out of range",
    "into the supporting face",
    "loose wood",
    "nothing holds the work",
    "plunge without centre cutting",
    "cutting deeper than the flutes",
    "no feed",
    "wrong side up",
    "wrong cutter",
    "wrong placement",
    "cannot be read",
    "beyond the controller",
    "touch-off spot cut",
    "missing program",
    "gouge",
    "leftover",
    "hole left uncut",
    "not decided",
    "feed too fast",
    "near miss",
    "plunge feed",
    "crumbs",
    "bridges",
    "hold-down",
    "remark",
)
_HARMS = {"stop": 0, "warning": 1, "note": 2}


def ranked(findings: list[Finding]) -> tuple[Finding, ...]:
    """The findings by harm, then kind, then in the order of the programs."""
    places = {kind: i for i, kind in enumerate(ORDER)}
    return tuple(sorted(findings, key=lambda f: (_HARMS[f.harm], places.get(f.kind, len(ORDER)))))


@dataclass(frozen=True, eq=False)
class Dock:
    """Where the moves of one program come from: file, placement, and for each move its line and its place (n, 3)."""

    file: str
    placement: str
    lines: NDArray[np.int32]
    places_mm: Floats
    frame: str = "program"

    def charge(
        self,
        kind: str,
        harm: Harm,
        suspects: NDArray[np.bool_],
        by_mm: Floats,
        what: Callable[[int], str],
        remedies: tuple[str, ...],
        places_mm: Floats | None = None,
        certainty: Certainty = "certain",
    ) -> list[Finding]:
        """One finding for all ``suspects`` (n,), or none; ``what(worst)`` tells it in words."""
        rows = np.flatnonzero(suspects)
        if not len(rows):
            return []
        worst = int(rows[np.argmax(by_mm[rows])])
        text = what(worst)
        first = int(rows[0])
        if len(rows) > 1:
            text += f" ({len(rows)} moves do so, the first in line {int(self.lines[first])})"
        place = (self.places_mm if places_mm is None else places_mm)[worst]
        x, y, z = (float(v) for v in place)
        return [
            Finding(
                kind,
                text,
                harm,
                (x, y, z),
                self.frame,
                self.placement,
                self.file,
                int(self.lines[worst]),
                round(float(by_mm[worst]), 4),
                remedies,
                certainty,
            )
        ]
