"""The motion table while it grows, and the remarks."""

from __future__ import annotations

import numpy as np

from witnessmark.job.errors import refuse

from .motion import MotionTable, Place, Remark

MOST_MOTIONS = 2**22
MOST_REMARKS = 1000

_COLUMNS: dict[str, tuple[type, int]] = {
    "kind": (np.int8, 1),
    "start_mm": (np.float64, 3),
    "end_mm": (np.float64, 3),
    "centre_mm": (np.float64, 3),
    "plane": (np.int8, 1),
    "feed_mm_min": (np.float64, 1),
    "spindle_rpm": (np.float64, 1),
    "cutter": (np.int32, 1),
    "line": (np.int32, 1),
    "dwell_s": (np.float64, 1),
}
NO_CENTRE: Place = (float("nan"),) * 3


class Record:
    """Columns of the motion table, grown by doubling; ``count`` rows are filled."""

    def __init__(self) -> None:
        self.count = 0
        self.room = 0
        self.columns: dict[str, np.ndarray] = {}
        self.remarks: list[Remark] = []
        self.noted: set[str] = set()
        self.header: dict[str, str] = {}
        self.used: dict[str, int] = {}
        self.grow(1024)

    def grow(self, room: int) -> None:
        """Make room for so many rows in all."""
        if room > MOST_MOTIONS:
            raise refuse(
                "program", f"it comes to more than {MOST_MOTIONS} motions", "split it", "look at its repeats (L)"
            )
        for name, (dtype, width) in _COLUMNS.items():
            column: np.ndarray = np.zeros((room, width) if width > 1 else (room,), dtype=dtype)
            if self.count:
                column[: self.count] = self.columns[name][: self.count]
            self.columns[name] = column
        self.room = room

    def add(
        self,
        kind: int,
        start: Place,
        end: Place,
        line: int,
        *,
        centre: Place = NO_CENTRE,
        plane: int = 17,
        feed_mm_min: float = float("nan"),
        spindle_rpm: float = 0.0,
        cutter: int = 0,
        dwell_s: float = 0.0,
    ) -> None:
        if self.count == self.room:
            self.grow(2 * self.room)
        row = (kind, start, end, centre, plane, feed_mm_min, spindle_rpm, cutter, line, dwell_s)
        for name, value in zip(_COLUMNS, row):
            self.columns[name][self.count] = value
        self.count += 1

    def use(self, what: str, line: int) -> None:
        """Something that not every controller takes is used; the first line counts."""
        self.used.setdefault(what, line)

    def remark(self, line: int, what: str, harm: str = "error") -> None:
        """Keep a remark; a note is kept once. Past the most that are kept, one last error says so."""
        if harm == "note":
            if what in self.noted:
                return
            self.noted.add(what)
        if len(self.remarks) < MOST_REMARKS:
            self.remarks.append(Remark(line, what, harm))
        elif len(self.remarks) == MOST_REMARKS:
            self.remarks.append(Remark(line, f"there are more than {MOST_REMARKS} remarks; the rest are left out"))

    def table(self) -> MotionTable:
        columns = {name: column[: self.count].copy() for name, column in self.columns.items()}
        turns = np.zeros(self.count, dtype=np.int32)
        return MotionTable(
            **columns, turns=turns, remarks=tuple(self.remarks), header=dict(self.header), used=dict(self.used)
        )
