"""log: what was confirmed at the machine, as a list, as CSV or JSON, and what it teaches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.job.errors import refuse
from witnessmark.job.whole import write_text_whole
from witnessmark.locate.typed import CUT_U_MM, READ_U_MM
from witnessmark.log.book import LOG_FILE, Log
from witnessmark.log.entries import Step
from witnessmark.log.export import log_csv, log_json
from witnessmark.log.lessons import ENOUGH, MinutesLesson, ReadingLesson, minutes_lesson, reading_lesson

LEAST_U_MM = 0.005  # no reading is taken for better, however well a few have agreed


@dataclass(frozen=True)
class Logged:
    """The steps, what they teach (None: too few yet), and the file written."""

    steps: tuple[Step, ...]
    minutes: MinutesLesson | None
    readings: ReadingLesson | None
    file: Path | None

    def words(self) -> list[str]:
        lines = [_line(step) for step in self.steps] or ["nothing has been confirmed yet"]
        few = f"too few entries yet to say ({ENOUGH} are needed)"
        lines.append(f"minutes: {self.minutes.words() if self.minutes else few}")
        lines.append(f"readings: {self.readings.words() if self.readings else few}")
        return [*lines, f"written: {self.file}"] if self.file else lines

    def record(self) -> dict[str, Any]:
        return {
            "steps": log_json(self.steps),
            "minutes": None if self.minutes is None else vars(self.minutes),
            "readings": None if self.readings is None else vars(self.readings),
        }


def logged(folder: Path | str, everything: bool = False, csv_file: Path | None = None) -> Logged:
    """Read the log of a job; ``everything``: steps that were taken back as well. Refused where there is none."""
    path = Path(folder) / LOG_FILE
    if not path.is_file():
        raise refuse(str(path), "there is no log yet", "work through the job: witnessmark work")
    with Log(path) as log:
        steps = log.steps(everything=everything)
    if csv_file is not None:
        write_text_whole(csv_file, log_csv(steps))
    return Logged(steps, minutes_lesson(steps), reading_lesson(steps, CUT_U_MM), csv_file)


def learned_u_mm(folder: Path | str) -> float:
    """The standard uncertainty of this maker's readings, as the job's log teaches it; what is usual before."""
    path = Path(folder) / LOG_FILE
    if not path.is_file():
        return READ_U_MM
    with Log(path) as log:
        return reading_u_mm(log.steps())


def reading_u_mm(steps: Sequence[Step]) -> float:
    """As these steps teach it, or what is usual."""
    lesson = reading_lesson(steps, CUT_U_MM)
    return READ_U_MM if lesson is None else max(lesson.u_mm, LEAST_U_MM)


def _line(step: Step) -> str:
    parts = [step.at[:19].replace("T", " "), f"{step.piece} {step.placement}".strip(), step.kind, step.what]
    if step.pose is not None:
        pose = step.pose
        parts.append(f"x {pose.dx_mm:+.3f} y {pose.dy_mm:+.3f} mm, step {pose.step_mm:.3f}")
    if step.kind == "read" and step.readings:
        parts.append(f"= {step.readings[0].value_mm:.3f}")
    if step.end is not None:
        parts.append("to its end" if step.end.stop_line is None else f"stopped after line {step.end.stop_line}")
        if step.end.minutes is not None:
            parts.append(f"{step.end.minutes:.1f} min")
    parts += step.photographs
    return "  ".join(part for part in parts if part) + ("" if step.stands else "  (taken back)")
