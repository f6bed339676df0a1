"""The way through the job at a terminal: one thing at a time, each answer on the disk before the next is asked."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from witnessmark.job.errors import Refusal

from .answer import print_json, progress_bar
from .ask import Terminal
from .sizes import typed

MOST_MINUTES = 10_000.0
COMMON = "b: a step back   n WORDS: a remark   p FILE: a photograph   l: all that is to do   q: leave"
HELP = {
    "mounted": "Enter: it is mounted",
    "stage": "Enter: it is done",
    "rehearsed": "Enter: every stop looked as it should",
    "read": "the number that the machine shows   (Enter: a height is left out)",
    "found": "Enter: work it out   N=VALUE (LN=VALUE for a height): N read again",
    "run": "Enter: it is started",
    "running": "Enter: it ran to its end   s LINE: it stopped; the last line that was surely reached",
}


@dataclass
class Work:
    """One sitting: the bench, the log, and the terminal."""

    bench: Any
    log: Any
    terminal: Terminal
    stylus_mm: float
    photographs: list[str] = field(default_factory=list)

    def go(self) -> bool:
        """Until everything is done (True), or the maker leaves."""
        from witnessmark.verbs.flow import next_task, tasks

        shown = None
        while True:
            listed = tasks(self.bench, self.log.steps())
            task = next_task(listed)
            if task is None:
                self.terminal.say("Everything is done. For another blank of a piece: witnessmark work --again PIECE")
                return True
            if (task.piece, task.placement, task.kind, task.what, task.running) != shown:
                self.show(task, listed)
                shown = (task.piece, task.placement, task.kind, task.what, task.running)
            try:
                if not self.answered(task, listed):
                    return False
            except Refusal as refusal:
                self.terminal.say(f"\n{refusal}\n")
            except EOFError:
                self.terminal.say("\nLeft here; what was confirmed is kept.")
                return False

    def show(self, task: Any, listed: Any) -> None:
        done = sum(one.done for one in listed)
        self.terminal.say(f"\n--- {done + 1} of {len(listed)}. {task.title}")
        for line in task.lines:
            self.terminal.say(f"  - {line}")
        if task.path is not None:
            self.terminal.say(f"  file: {task.path}")
        if task.run is not None and task.run.fingerprint:
            self.terminal.say(f"  fingerprint: {task.run.fingerprint}")
        if task.running is not None:
            self.terminal.say(f"  started at {task.running.at}")
        kind = "running" if task.running is not None else task.kind
        kept = "   k: mounted in the same fixture as the last blank, which was not moved" if _may_keep(task) else ""
        self.terminal.say(f"  {HELP[kind]}{kept}\n  {COMMON}")

    def answered(self, task: Any, listed: Any) -> bool:
        """One line of the maker's; False to leave."""
        words = self.terminal.line("> ")
        command, _, rest = words.partition(" ")
        if command == "q":
            return False
        if command == "b" and not rest:
            self.back()
        elif command == "l" and not rest:
            self.list(listed)
        elif command == "n" and rest:
            self.note(task, rest)
        elif command == "p" and rest:
            self.photograph(rest)
        else:
            handlers: dict[str, Callable[[Any, str], None]] = {
                "read": self.read,
                "found": self.find,
                "run": self.run,
            }
            handlers.get(task.kind, self.done)(task, words)
        return True

    def back(self) -> None:
        from witnessmark.verbs.told import step_back

        step = step_back(self.log)
        if step is None:
            self.terminal.say("There is no step to take back.")
        else:
            self.terminal.say(f"Taken back: {step.piece} {step.placement} {step.kind} {step.what}".rstrip())

    def list(self, listed: Any) -> None:
        for task in listed:
            self.terminal.say(f"  {'x' if task.done else '.'} {task.title}")

    def note(self, task: Any, words: str) -> None:
        from witnessmark.verbs.told import note

        note(self.log, task, words, self.taken_photographs())
        self.terminal.say("Noted.")

    def photograph(self, file: str) -> None:
        self.photographs.append(file)
        missing = "" if (self.bench.folder / file).is_file() else " (it is not in the job's folder yet)"
        self.terminal.say(f"{file} goes with the next answer{missing}.")

    def taken_photographs(self) -> tuple[str, ...]:
        taken = tuple(self.photographs)
        self.photographs.clear()
        return taken

    def done(self, task: Any, words: str) -> None:
        from witnessmark.verbs.flow import KEPT_FIXTURE
        from witnessmark.verbs.told import confirm

        if words == "k" and _may_keep(task):
            confirm(self.log, task, KEPT_FIXTURE, self.taken_photographs())
        elif words:
            self.not_understood(task)
        else:
            confirm(self.log, task, "", self.taken_photographs())

    def read(self, task: Any, words: str) -> None:
        from witnessmark.verbs.logged import reading_u_mm
        from witnessmark.verbs.told import left_out, typed_reading

        if not words:
            left_out(self.log, task)
            return
        value_mm = typed(f"touch {task.what}", words, 1, signed=True)[0]
        if not task.touch.level and not self.stylus():
            self.stylus_mm = typed("stylus", self.terminal.line("diameter of the stylus or edge finder: "), 1)[0]
        typed_reading(self.log, task, value_mm, self.stylus_mm, reading_u_mm(self.log.steps()))

    def find(self, task: Any, words: str) -> None:
        from witnessmark.verbs.flow import LEVEL
        from witnessmark.verbs.logged import reading_u_mm
        from witnessmark.verbs.told import is_level, located, repeats, typed_reading

        if words:
            number, sign, value = words.partition("=")
            number = number.strip().upper()
            if not sign or not number.removeprefix("L").isdigit() or number.startswith("L") != (task.what == LEVEL):
                self.not_understood(task)
                return
            value_mm = typed(f"touch {number}", value, 1, signed=True)[0]
            typed_reading(self.log, task, value_mm, self.stylus(), reading_u_mm(self.log.steps()), number)
        elif task.what == LEVEL:
            found = is_level(self.bench, self.log, task)
            self.terminal.say("No height was read." if found is None else found.words())
        elif task.repeat:
            self.terminal.say(repeats(self.bench, self.log, task).words())
        else:
            with progress_bar(False) as progress:
                self.terminal.say(located(self.bench, self.log, task, progress).words())

    def stylus(self) -> float:
        """As it was typed last."""
        if not self.stylus_mm:
            last = [step.readings[-1] for step in self.log.steps() if step.readings]
            self.stylus_mm = last[-1].stylus_mm if last else 0.0
        return self.stylus_mm

    def run(self, task: Any, words: str) -> None:
        from witnessmark.log.book import utc_now
        from witnessmark.verbs.told import elapsed_minutes, end, start, take_up

        if task.running is None:
            if words:
                self.not_understood(task)
                return
            start(self.bench, self.log, task)
            return
        if not words:
            minutes = elapsed_minutes(task.running, utc_now())
            end(self.log, task, self.minutes_that_it_ran(minutes))
            return
        command, _, rest = words.partition(" ")
        line = rest.strip().lstrip("Nn")
        if command != "s" or not line.isdigit() or int(line) < 1:
            self.not_understood(task)
            return
        with progress_bar(False) as progress:
            answer = take_up(self.bench, task, int(line), progress)
        self.terminal.say(answer.words())
        if answer.passed:
            end(self.log, task, None, int(line))

    def minutes_that_it_ran(self, since_minutes: float) -> float | None:
        """As the maker knows it; asked until it can be used."""
        while True:
            words = self.terminal.line(f"minutes that it ran [{since_minutes:.1f}], - if nobody knows: ")
            if words == "-":
                return None
            try:
                minutes = float(words) if words else since_minutes
            except ValueError:
                minutes = math.nan
            if 0.0 <= minutes < MOST_MINUTES:
                return minutes
            self.terminal.say("  that is no number of minutes")

    def not_understood(self, task: Any) -> None:
        kind = "running" if task.running is not None else task.kind
        self.terminal.say(f"Not understood. {HELP[kind]}   {COMMON}")


def _may_keep(task: Any) -> bool:
    return bool(task.kind == "mounted" and task.repeat)


def work(asked: argparse.Namespace) -> int:
    """The guided way; with --json only what is to do and what is done."""
    from witnessmark.verbs.flow import open_bench, tasks
    from witnessmark.verbs.told import next_blank

    bench = open_bench(Path(asked.folder))
    stylus_mm = typed("--stylus", asked.stylus, 1)[0] if asked.stylus else 0.0
    with bench.log() as log:
        if asked.again:
            next_blank(log, bench.plan_of(asked.again).piece.name)
        if asked.json:
            print_json([task.record() for task in tasks(bench, log.steps())])
            return 0
        return 0 if Work(bench, log, Terminal(False), stylus_mm).go() else 1
