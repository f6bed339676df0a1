"""Power loss at any moment: what was said to be confirmed is there, and nothing is half there."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

from witnessmark.log.book import Log

WRITER = """
import sys
from pathlib import Path
from witnessmark.log.book import Log
from witnessmark.log.entries import ReadingEntry
log = Log(Path(sys.argv[1]))
while True:
    readings = [ReadingEntry(k, f"{k} wall", 1.5 * k, 6.0, 0.02) for k in range(1, 9)]
    step = log.confirm("found", "lid", "2", readings=readings)
    sys.stdout.write(f"{step.id}\\n")
    sys.stdout.flush()
    if step.id % 5 == 0:
        log.take_back(step.id)
        sys.stdout.write(f"-{step.id}\\n")
        sys.stdout.flush()
"""
DEATHS, AT_ONCE = 100, 4


def test_a_hundred_deaths_lose_no_confirmed_step(tmp_path: Path) -> None:
    """The writer is killed (SIGKILL) at 100 random moments; each time it goes on in the log that it left."""
    rng = random.Random(20261126)
    confirmed: dict[Path, list[int]] = {tmp_path / f"{k}.sqlite": [] for k in range(AT_ONCE)}
    for _ in range(DEATHS // AT_ONCE):
        running = {path: _writer(path) for path in confirmed}
        for path, writer in running.items():
            assert writer.stdout is not None
            confirmed[path].append(int(writer.stdout.readline()))  # it has begun
        for path, writer in running.items():
            time.sleep(rng.uniform(0.0, 0.03))
            os.kill(writer.pid, signal.SIGKILL)
            rest = writer.communicate()[0]
            confirmed[path] += [int(line) for line in rest.splitlines(keepends=True) if line.endswith("\n")]
        for path, told in confirmed.items():
            with Log(path) as log:
                steps = log.steps(everything=True)
            numbers = [step.id for step in steps]
            assert numbers == list(range(1, len(steps) + 1))
            assert {n for n in told if n > 0} <= set(numbers)
            assert all(not step.stands for step in steps if -step.id in told)
            assert all(len(step.readings) == 8 for step in steps)  # whole steps only
    for path in confirmed:
        connection = sqlite3.connect(path)
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        connection.close()
    assert max(len(told) for told in confirmed.values()) > 100  # it was killed at work


def _writer(path: Path) -> subprocess.Popen[str]:
    return subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True)
