"""What a program does, as a table of motions: the reader's output and the judge's input. Program frame, mm."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

RAPID, LINE, ARC_CW, ARC_CCW, DWELL, PROBE = 0, 1, 2, 3, 4, 5

ARC_BY_RADIUS, CYCLE, CALLS_CUTTER, BESIDE, PROBING, COMMENT, EXPRESSION = USES = (
    "arcs by radius (R)",
    "drilling cycles",
    "calling a cutter (M6)",
    "cutter radius compensation (G41, G42)",
    "probing (G38.2)",
    "comments",
    "parameters and expressions",
)

Place = tuple[float, float, float]


@dataclass(frozen=True)
class Remark:
    """Something the reader met that is wrong or unknown: the line (from 1) and what it is."""

    line: int
    what: str
    harm: str = "error"  # "error" or "note"


@dataclass(frozen=True)
class MotionTable:
    """n motions in the order they happen.

    kind (n,) int8; start_mm, end_mm (n, 3); centre_mm (n, 3) nan where none; plane (n,) int8 17, 18, 19;
    turns (n,) int32 whole turns beyond the first; feed_mm_min (n,) nan for rapids; spindle_rpm (n,) signed, 0 = off;
    cutter (n,) int32 number in the spindle; line (n,) int32 from 1; dwell_s (n,).
    ``used``: what not every controller takes (see ``USES``), and the line that uses it first.
    A PROBE goes towards its end and stops where it touches.
    """

    kind: NDArray[np.int8]
    start_mm: NDArray[np.float64]
    end_mm: NDArray[np.float64]
    centre_mm: NDArray[np.float64]
    plane: NDArray[np.int8]
    turns: NDArray[np.int32]
    feed_mm_min: NDArray[np.float64]
    spindle_rpm: NDArray[np.float64]
    cutter: NDArray[np.int32]
    line: NDArray[np.int32]
    dwell_s: NDArray[np.float64]
    remarks: tuple[Remark, ...] = ()
    header: dict[str, str] = field(default_factory=dict)
    used: dict[str, int] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.kind)
