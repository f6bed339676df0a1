"""The log itself: steps are confirmed, one transaction each, and taken back; none is ever lost or overwritten."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from witnessmark.job.errors import refuse

from .entries import EndEntry, Kind, MishapEntry, PoseEntry, ReadingEntry, RunEntry, Step
from .tables import opened

LOG_FILE = "log.sqlite"
Now = Callable[[], datetime]


def utc_now() -> datetime:
    return datetime.now(UTC)


class Log:
    """An open log. What ``confirm`` and ``take_back`` return is on the disk by then."""

    def __init__(self, path: Path, now: Now = utc_now) -> None:
        self.path = path
        self._now = now
        self._connection = opened(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        self._connection.close()

    def confirm(
        self,
        kind: Kind,
        piece: str,
        placement: str = "",
        what: str = "",
        *,
        readings: Sequence[ReadingEntry] = (),
        pose: PoseEntry | None = None,
        run: RunEntry | None = None,
        end: EndEntry | None = None,
        mishap: MishapEntry | None = None,
        photographs: Sequence[str] = (),
    ) -> Step:
        """Write down one step with all that belongs to it."""
        at = self._stamp()

        def write(c: sqlite3.Connection) -> int:
            row = (piece, placement, kind, what, at)
            own = c.execute(
                "INSERT INTO step (piece, placement, kind, what, at) VALUES (?, ?, ?, ?, ?)", row
            ).lastrowid
            assert own is not None
            _insert(c, "reading", [{"step_id": own, **vars(reading)} for reading in readings])
            if pose is not None:
                _insert(c, "pose", [{"step_id": own, **vars(pose), "covariance": json.dumps(pose.covariance)}])
            if run is not None:
                _insert(c, "run", [{"step_id": own, **vars(run)}])
            if end is not None:
                _insert(c, "run_end", [{"step_id": own, **vars(end)}])
            if mishap is not None:
                _insert(c, "mishap", [{"step_id": own, **vars(mishap), "box_mm": json.dumps(mishap.box_mm)}])
            _insert(c, "photograph", [{"step_id": own, "file": file} for file in photographs])
            return own

        number = self._whole(write)
        parts = (tuple(readings), pose, run, end, mishap, tuple(photographs))
        return Step(number, piece, placement, kind, what, at, None, *parts)

    def take_back(self, step_id: int) -> None:
        """A confirmed step is no longer so; it stays in the log with the time."""
        at = self._stamp()

        def write(c: sqlite3.Connection) -> int:
            text = "UPDATE step SET taken_back_at = ? WHERE id = ? AND taken_back_at IS NULL"
            return c.execute(text, (at, step_id)).rowcount

        if self._whole(write) != 1:
            raise refuse(str(self.path), f"step {step_id} is not there to be taken back", "list the log")

    def steps(self, piece: str | None = None, everything: bool = False) -> tuple[Step, ...]:
        """The steps that stand, in order; ``everything``: those taken back as well."""
        try:
            return tuple(
                step
                for step in self._read()
                if (everything or step.stands) and (piece is None or step.piece == piece)
            )
        except (sqlite3.Error, ValueError) as error:
            raise refuse(str(self.path), f"cannot be read ({error})", "put back a copy of it") from None

    def _read(self) -> list[Step]:
        readings: dict[int, list[ReadingEntry]] = {}
        for row in self._rows("reading"):
            row.pop("id")
            readings.setdefault(row.pop("step_id"), []).append(ReadingEntry(**row))
        poses = {}
        for own, row in self._of_steps("pose"):
            row["covariance"] = tuple(tuple(line) for line in json.loads(row["covariance"]))
            poses[own] = PoseEntry(**row)
        runs = {own: RunEntry(**row) for own, row in self._of_steps("run")}
        ends = {own: EndEntry(**row) for own, row in self._of_steps("run_end")}
        mishaps = {}
        for own, row in self._of_steps("mishap"):
            box = json.loads(row["box_mm"])
            row["box_mm"] = None if box is None else tuple(box)
            mishaps[own] = MishapEntry(**row)
        photographs: dict[int, list[str]] = {}
        for row in self._rows("photograph"):
            photographs.setdefault(row["step_id"], []).append(row["file"])
        return [
            Step(
                **row,
                readings=tuple(readings.get(row["id"], ())),
                pose=poses.get(row["id"]),
                run=runs.get(row["id"]),
                end=ends.get(row["id"]),
                mishap=mishaps.get(row["id"]),
                photographs=tuple(photographs.get(row["id"], ())),
            )
            for row in self._rows("step")
        ]

    def _rows(self, table: str) -> list[dict[str, Any]]:
        cursor = self._connection.execute(f"SELECT * FROM {table} ORDER BY 1")
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row)) for row in cursor]

    def _of_steps(self, table: str) -> list[tuple[int, dict[str, Any]]]:
        return [(row.pop("step_id"), row) for row in self._rows(table)]

    def _whole(self, write: Callable[[sqlite3.Connection], int]) -> int:
        """Carry out all of it or nothing."""
        connection = self._connection
        try:
            connection.execute("BEGIN IMMEDIATE")
            try:
                result = write(connection)
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            what = f"the step could not be written down ({error}): it is not confirmed"
            raise refuse(str(self.path), what, "see that the disk has room and no other program writes") from None
        return result

    def _stamp(self) -> str:
        return self._now().astimezone(UTC).isoformat(timespec="milliseconds")


def _insert(connection: sqlite3.Connection, table: str, rows: Sequence[dict[str, Any]]) -> None:
    for row in rows:
        names, marks = ", ".join(row), ", ".join(f":{name}" for name in row)
        connection.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", row)
