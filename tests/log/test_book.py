"""The log keeps every confirmed step, takes steps back without losing them, and knows its own file."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.job.errors import Refusal
from witnessmark.log.book import Log
from witnessmark.log.entries import EndEntry, MishapEntry, PoseEntry, ReadingEntry, RunEntry, Step
from witnessmark.log.export import log_csv, log_json
from witnessmark.log.tables import numbered_sql


class Clock:
    """A clock that goes on by a minute whenever it is looked at."""

    def __init__(self) -> None:
        self.at = datetime(2026, 1, 1, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.at += timedelta(minutes=1)
        return self.at


READING = ReadingEntry(1, "1 wall", 12.345, 6.0, 0.02, 0.004, 0.6)
POSE = PoseEntry(0.8, -0.6, 0.005, ((1e-4, 0.0, 0.0), (0.0, 1e-4, 0.0), (0.0, 0.0, 1e-9)), 2.5, 3, 0.06)


def test_what_was_confirmed_is_read_back_alike_by_another_opening(tmp_path: Path) -> None:
    with Log(tmp_path / "log.sqlite", Clock()) as log:
        run = RunEntry("a.nc", "AAAA-BBBB", "end 6", 12.5)
        written = [
            log.confirm("mounted", "lid", "1", photographs=["one.jpg", "two.jpg"]),
            log.confirm("found", "lid", "2", readings=[READING], pose=POSE),
            started := log.confirm("started", "lid", "2", "a.nc", run=run),
            log.confirm("ended", "lid", "2", "a.nc", end=EndEntry(started.id, 120, 4.5)),
            log.confirm("mishap", "lid", "2", mishap=MishapEntry("a.nc", 1.0, 2.0, 0.1)),
            log.confirm("mishap", "lid", mishap=MishapEntry(box_mm=(0.0, 0.0, 0.0, 5.0, 5.0, 3.0))),
            log.confirm("remark", "body", what="knot at the left end"),
        ]
    with Log(tmp_path / "log.sqlite") as log:
        assert list(log.steps()) == written
        assert [step.id for step in log.steps("body")] == [written[-1].id]


def test_a_step_taken_back_stays_with_its_time(tmp_path: Path) -> None:
    with Log(tmp_path / "log.sqlite", Clock()) as log:
        one, two = log.confirm("mounted", "lid", "1"), log.confirm("rehearsed", "lid", "1")
        log.take_back(two.id)
        assert [step.id for step in log.steps()] == [one.id]
        assert [(step.id, step.stands) for step in log.steps(everything=True)] == [(one.id, True), (two.id, False)]
        with pytest.raises(Refusal, match="not there to be taken back"):
            log.take_back(two.id)


def test_a_step_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    with Log(tmp_path / "log.sqlite") as log:
        with pytest.raises(Refusal, match="not confirmed"):
            log.confirm("ended", "lid", "1", end=EndEntry(999))  # no such run: the foreign key stops it
        with pytest.raises(Refusal, match="not confirmed"):
            log.confirm("found", "lid", "1", readings=[READING, READING])  # one touch, read twice in one step
        assert log.steps(everything=True) == ()


def test_the_file_is_what_it_is_said_to_be(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with Log(path):
        pass
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA user_version").fetchone()[0] == numbered_sql()[-1][0]
    assert connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    connection.execute("PRAGMA user_version = 9999")
    connection.close()
    with pytest.raises(Refusal, match="newer edition"):
        Log(path)


def test_the_file_of_another_program_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE step (id)")
    connection.commit()
    connection.close()
    before = path.read_bytes()
    with pytest.raises(Refusal, match="another program"):
        Log(path)
    assert path.read_bytes() == before
    path.write_bytes(b"these are no tables" * 100)
    with pytest.raises(Refusal, match="cannot be read as a log"):
        Log(path)
    with pytest.raises(Refusal, match="cannot be opened"):
        Log(tmp_path / "nowhere" / "log.sqlite")


def test_two_may_read_and_one_writes_at_a_time(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with Log(path) as one, Log(path) as other:
        one.confirm("mounted", "lid", "1")
        assert len(other.steps()) == 1
        other.confirm("rehearsed", "lid", "1")
        assert [step.kind for step in one.steps()] == ["mounted", "rehearsed"]


def test_an_export_holds_every_step_and_reading(tmp_path: Path) -> None:
    with Log(tmp_path / "log.sqlite", Clock()) as log:
        log.confirm("found", "lid", "2", readings=[READING], pose=POSE)
        log.confirm("remark", "lid", "2", '=1+1, said "so"\nand more')
        steps = log.steps()
    rows = list(csv.DictReader(io.StringIO(log_csv(steps), newline="")))
    assert [row["kind"] for row in rows] == ["found", "reading", "remark"]
    assert float(rows[0]["dx_mm"]) == POSE.dx_mm
    assert float(rows[1]["value_mm"]) == READING.value_mm
    assert rows[2]["what"] == '\'=1+1, said "so"\nand more'  # no spreadsheet works it out
    records = json.loads(json.dumps(log_json(steps)))
    assert records[0]["readings"][0]["name"] == "1 wall"


texts = st.text(st.characters(blacklist_categories=("Cs",), blacklist_characters="\x00"), max_size=30)


@settings(max_examples=25, deadline=None)
@given(steps=st.lists(st.tuples(texts, texts, texts, st.booleans()), max_size=12))
def test_any_words_come_back_as_they_were(tmp_path_factory: pytest.TempPathFactory, steps: list[tuple]) -> None:
    kept: list[Step] = []
    with Log(tmp_path_factory.mktemp("log") / "log.sqlite") as log:
        for piece, placement, what, back in steps:
            step = log.confirm("remark", piece, placement, what)
            if back:
                log.take_back(step.id)
            else:
                kept.append(step)
        assert list(log.steps()) == kept
