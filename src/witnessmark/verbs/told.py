"""What the maker says at the machine: each answer is confirmed in the log, or refused with the reason.

``flow`` says what is next; these take the answer. A terminal and a page both call them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np

from witnessmark.job.errors import refuse
from witnessmark.locate.level import Level
from witnessmark.locate.repeat import Repeat, repeated
from witnessmark.log.book import Log
from witnessmark.log.entries import EndEntry, PoseEntry, ReadingEntry, Step
from witnessmark.program.fingerprint import fingerprint, stamped_of

from .find import find
from .flow import LEVEL, Bench, Task, last_found
from .found import FindAnswer
from .history import NEXT_BLANK, REPLANNED, of_this_blank
from .level import level
from .make import silent
from .prove import Progress
from .restart import RestartAnswer, restart

FIXTURE_MM = 0.05  # what a fixture repeats to where the machine has no movable board that says (our own choice)


def confirm(log: Log, task: Task, what: str = "", photographs: Sequence[str] = ()) -> Step:
    """A stage, a mounting or a rehearsal is done; ``what``: a mounting in the kept fixture."""
    assert task.kind in ("stage", "mounted", "rehearsed")
    return log.confirm(task.kind, task.piece, task.placement, what or task.what, photographs=photographs)


def note(log: Log, task: Task | None, words: str, photographs: Sequence[str] = ()) -> Step:
    """A remark on what is being done."""
    piece, placement = (task.piece, task.placement) if task is not None else ("", "")
    return log.confirm("remark", piece, placement, words, photographs=photographs)


def typed_reading(log: Log, task: Task, value_mm: float, stylus_mm: float, u_mm: float, number: str = "") -> Step:
    """A number read at a touch; an earlier one of the same touch is taken back. ``number``: another touch's."""
    touch = number or task.what
    for step in of_this_blank(log.steps(), task.piece):
        if (step.placement, step.kind, step.what) == (task.placement, "read", touch):
            log.take_back(step.id)
    entry = ReadingEntry(int(touch.lstrip("L")), f"touch {touch}", value_mm, stylus_mm, u_mm)
    return log.confirm("read", task.piece, task.placement, touch, readings=[entry])


def left_out(log: Log, task: Task) -> Step:
    """A height that is not read."""
    assert task.touch is not None
    if not task.touch.level:
        raise refuse(task.title, "is needed to find the work", "read it, or step back")
    return log.confirm("read", task.piece, task.placement, task.what)


def _read(log: Log, task: Task, level: bool) -> list[ReadingEntry]:
    """What has been read in the placement of a task: heights, or touches."""
    return [
        step.readings[0]
        for step in of_this_blank(log.steps(), task.piece)
        if (step.placement, step.kind) == (task.placement, "read")
        and step.readings
        and step.what.startswith("L") == level
    ]


def is_level(bench: Bench, log: Log, task: Task) -> Level | None:
    """From the heights read; confirmed if it lies level, or if none was read (None)."""
    own = _read(log, task, level=True)
    answer = None
    if own:
        heights = {entry.touch: entry.value_mm for entry in own}
        answer = level(bench.folder, task.piece, task.placement, heights, max(entry.u_mm for entry in own))
    if answer is None or answer.holds:
        log.confirm("found", task.piece, task.placement, LEVEL)
    return answer


def located(bench: Bench, log: Log, task: Task, progress: Progress = silent) -> FindAnswer:
    """From the numbers typed: the work found, its programs corrected and proven; confirmed only if they pass."""
    own = _read(log, task, level=False)
    if not own:
        raise refuse(f"placement {task.placement}", "nothing has been read yet", "read its touches first")
    numbers = {entry.touch: entry.value_mm for entry in own}
    stylus_mm, u_mm = own[-1].stylus_mm, max(entry.u_mm for entry in own)
    answer = find(bench.folder, task.piece, task.placement, numbers, stylus_mm, u_mm, progress)
    if answer.passed:
        log.confirm("found", task.piece, task.placement, readings=_residuals(answer, own), pose=_pose(answer))
    return answer


def _residuals(answer: FindAnswer, read: Sequence[ReadingEntry]) -> list[ReadingEntry]:
    by_name = {name: k for k, (name, _) in reversed(list(enumerate(answer.residuals_mm)))}
    entries = []
    for entry in read:
        k = next((k for name, k in by_name.items() if name.split()[0] == str(entry.touch)), None)
        if k is not None:
            name, off_mm = answer.residuals_mm[k]
            shown = float(answer.agreement.redundancy[k])
            entries.append(replace(entry, name=name, residual_mm=off_mm, freedom_ratio=shown))
    return entries


def _pose(answer: FindAnswer) -> PoseEntry:
    dx, dy, turn = (float(v) for v in answer.found.pose)
    rows = [tuple(float(v) for v in row) for row in answer.found.covariance]
    covariance = tuple((row[0], row[1], row[2]) for row in rows)
    return PoseEntry(dx, dy, turn, covariance, float(answer.found.chi_square), answer.found.freedom, answer.step_mm)


def repeats(bench: Bench, log: Log, task: Task) -> Repeat:
    """The next blank in a kept fixture: one reading against the last pose; confirmed only if it holds."""
    steps = log.steps()
    last = last_found(steps, task.piece, task.placement)
    own = _read(log, task, level=False)
    if last is None or last.pose is None or not own:
        raise refuse(f"placement {task.placement}", "there is no earlier blank to compare with", "read every touch")
    place, pose, read = bench.place_of(task.piece, task.placement), last.pose, own[-1]
    board = bench.workshop.job.machine.board
    answer = repeated(
        place,
        place.touches[read.touch - 1],
        read.value_mm,
        read.stylus_mm / 2,
        (pose.dx_mm, pose.dy_mm, pose.turn_rad),
        np.array(pose.covariance),
        board.repeatability_mm if board else FIXTURE_MM,
        read.u_mm,
    )
    if answer.holds:
        log.confirm("found", task.piece, task.placement, pose=pose)
    return answer


def start(bench: Bench, log: Log, task: Task) -> Step:
    """A program is started; refused where the file is not there or not as it was proven."""
    assert task.run is not None
    assert task.path is not None
    if not task.path.is_file():
        raise refuse(str(task.path), "is not there", "prove the programs again, or find the placement again")
    text = task.path.read_text(encoding="utf-8")
    if stamped_of(text) is not None and stamped_of(text) != fingerprint(text):
        raise refuse(str(task.path), "has been changed since it was proven", "prove the programs again")
    return log.confirm("started", task.piece, task.placement, task.what, run=task.run)


def end(log: Log, task: Task, minutes: float | None = None, stop_line: int | None = None) -> Step:
    """The program that runs came to its end, or stopped: ``stop_line`` is the last line that was surely reached."""
    assert task.running is not None
    entry = EndEntry(task.running.id, stop_line, minutes)
    return log.confirm("ended", task.piece, task.placement, task.what, end=entry)


def take_up(bench: Bench, task: Task, stop_line: int, progress: Progress = silent) -> RestartAnswer:
    """What is left of a program that stopped, written and proven from the wood as it is."""
    return restart(bench.folder, task.what, stop_line, progress)


def last_step(steps: Sequence[Step]) -> Step | None:
    """The step that stepping back takes back: the last that is more than a remark, since the last plan was begun."""
    last = next((step for step in reversed(steps) if step.stands and step.kind not in ("remark", "mishap")), None)
    return None if last is not None and (last.kind, last.what) == ("stage", REPLANNED) else last


def step_back(log: Log) -> Step | None:
    """Take back the last step; None where there is none."""
    last = last_step(log.steps())
    if last is not None:
        log.take_back(last.id)
    return last


def next_blank(log: Log, piece: str) -> Step:
    """Begin the same piece again with another blank."""
    return log.confirm("stage", piece, "", NEXT_BLANK)


def elapsed_minutes(step: Step, now: datetime) -> float:
    """Since a step was confirmed."""
    return (now - datetime.fromisoformat(step.at)).total_seconds() / 60
