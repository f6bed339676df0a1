"""The log's file: opened, recognised and brought to the newest tables by the numbered SQL files.

Source  SQLite's documentation of write-ahead logging, synchronous, user_version and application_id (from memory)
"""

from __future__ import annotations

import re
import sqlite3
from importlib.resources import files
from pathlib import Path

from witnessmark.job.errors import Refusal, refuse

APPLICATION_ID = 0x574D4C47  # "WMLG": so that another program's file is never taken for a log
BUSY_S = 5.0
_NUMBERED = re.compile(r"^(\d{4})_\w+\.sql$")


def numbered_sql() -> list[tuple[int, str]]:
    """The tables' history: number and text of each SQL file, in order."""
    found = []
    for entry in files("witnessmark.log").joinpath("schema").iterdir():
        match = _NUMBERED.match(entry.name)
        if match:
            found.append((int(match[1]), entry.read_text(encoding="utf-8")))
    return sorted(found)


def opened(path: Path) -> sqlite3.Connection:
    """A connection on which every commit is on the disk before it returns; the file is made if it is not there.

    Refused: no log of this tool, one of a newer edition, damaged, or in use by another program.
    """
    try:
        connection = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
    except sqlite3.Error as error:
        raise _told(path, error) from None
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        _must_be_ours(connection, path)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        _brought_up(connection, path)
    except (sqlite3.Error, Refusal) as error:
        connection.close()
        raise (error if isinstance(error, Refusal) else _told(path, error)) from None
    return connection


def _must_be_ours(connection: sqlite3.Connection, path: Path) -> None:
    known = connection.execute("PRAGMA application_id").fetchone()[0]
    if known == APPLICATION_ID:
        return
    if known or connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        raise refuse(str(path), "is the file of another program, no log", "move it away; a new log is made")


def _brought_up(connection: sqlite3.Connection, path: Path) -> None:
    """Carry out the SQL files whose number the log has not reached, each whole or not at all."""
    history = numbered_sql()
    newest = history[-1][0]
    for number, text in history:
        connection.execute("BEGIN IMMEDIATE")
        try:
            reached = connection.execute("PRAGMA user_version").fetchone()[0]
            if reached > newest:
                what = f"was written by a newer edition (its tables are number {reached}, known are {newest})"
                raise refuse(str(path), what, "use that edition")
            if reached < number:
                for statement in _statements(text):
                    connection.execute(statement)
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {number}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise


def _statements(text: str) -> list[str]:
    """The statements of an SQL file; ``executescript`` would commit before the first."""
    found, part = [], ""
    for line in text.splitlines(keepends=True):
        part += line
        if sqlite3.complete_statement(part):
            found.append(part)
            part = ""
    return found


def _told(path: Path, error: sqlite3.Error) -> Refusal:
    text = str(error)
    if "locked" in text:
        return refuse(str(path), "another program is writing in the log", "finish there first")
    if isinstance(error, sqlite3.OperationalError) and "open" in text:
        return refuse(str(path), f"the log cannot be opened ({text})", "look whether the folder may be written")
    return refuse(str(path), f"cannot be read as a log ({text})", "put back a copy of it, or move it away")
