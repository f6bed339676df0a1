"""restart: a program that stopped part way is taken up again, proven from the wood as it is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from witnessmark.job.errors import refuse
from witnessmark.job.whole import write_text_whole
from witnessmark.log.book import LOG_FILE, Log
from witnessmark.log.entries import EndEntry, RunEntry, Step
from witnessmark.plan.store import load_plans
from witnessmark.program.fingerprint import fingerprint, stamped
from witnessmark.program.header import filled
from witnessmark.program.minutes import minutes
from witnessmark.program.read import read
from witnessmark.proof.report import summary_text
from witnessmark.proof.verdict import Verdict

from .history import Stopped, as_run, current_text, poses_of, rest_text, runs_of, stop_at, stops_of
from .made_from import must_be_as_planned
from .make import DraftFile, drafts_of, silent
from .prove import Progress, prove_piece
from .workshop import Workshop, open_workshop


@dataclass(frozen=True, eq=False)
class RestartAnswer:
    """What is left of the program, and the verdict on the piece with it; ``path`` only where it passed."""

    program: str
    line: int
    minutes: float
    verdict: Verdict
    path: Path | None

    @property
    def passed(self) -> bool:
        return self.verdict.passed

    def words(self) -> str:
        if self.path is None:
            return f"what is left of {self.program} does NOT pass its proof:\n{summary_text(self.verdict)}"
        return (
            f"{self.path}: goes on with line {self.line} of {self.program}, about {self.minutes:.0f} min, proven "
            "from the wood as it is\n"
            "  touch the cutter off again; it comes down over a place already cut, by the feed of entries, and does "
            f"line {self.line} once more, slowly"
        )

    def record(self) -> dict[str, Any]:
        return {
            "program": self.program,
            "line": self.line,
            "minutes": round(self.minutes, 1),
            "passed": self.passed,
            "file": None if self.path is None else str(self.path),
        }


def restart(folder: Path | str, program: str, line: int, progress: Progress = silent) -> RestartAnswer:
    """Write and prove what is left of a program that surely came to ``line``; the log, if there is one, is heeded.

    Everything before the program in running order has run, what comes after it has not.
    Refused where nothing is left of it.
    """
    if line < 1:
        raise refuse(f"--line {line}", "is no line of a program", "name the last line that was surely reached")
    workshop = open_workshop(folder)
    must_be_as_planned(workshop)
    drafts = drafts_of(workshop)
    steps = _logged(workshop)
    draft = _draft_of(program, drafts, workshop, steps)
    stopped = stop_at(draft.text, line, program)
    if stopped is None:
        raise refuse(f"{program}:{line}", "nothing of it is left to cut after this line", "go on with the next one")
    text = rest_text(draft.text, stopped)
    takes = minutes(read(text), workshop.job.machine).total_min
    text = filled(text, "minutes", f"{takes:.0f}")
    mine = _stopping(steps, draft, stopped)
    programs, poses = as_run(workshop, drafts, mine, draft.piece)
    programs = [replace(one, text=text) if one.file == stopped.rest else one for one in programs]
    plans = load_plans(workshop.job, workshop.folder.out("plan.toml"), None)
    plan = next(plan for plan in plans if plan.piece.name == draft.piece)
    verdict = prove_piece(workshop, plan, programs, progress, None, poses)
    path = None
    if verdict.passed:
        path = workshop.folder.out("restart", stopped.rest)
        write_text_whole(path, stamped(text, fingerprint(text), verdict.fingerprint))
    return RestartAnswer(program, stopped.line, takes, verdict, path)


def _logged(workshop: Workshop) -> tuple[Step, ...]:
    path = workshop.folder.root / LOG_FILE
    if not path.is_file():
        return ()
    with Log(path) as log:
        return log.steps()


def _draft_of(program: str, drafts: list[DraftFile], workshop: Workshop, steps: tuple[Step, ...]) -> DraftFile:
    """The program named, as it ran: a planned one, or what was left of one before."""
    for draft in drafts:
        found = poses_of(steps, draft.piece)
        if draft.file == program:
            return replace(draft, text=current_text(workshop, draft, found))
        path = workshop.folder.out("restart", program)
        stops = stops_of(workshop, drafts, steps, draft.piece)
        file = draft.file
        while file in stops:
            file = stops[file].rest
            if file == program and path.is_file():
                return replace(draft, file=program, text=path.read_text(encoding="utf-8"))
    names = ", ".join(draft.file for draft in drafts[:6])
    raise refuse(f"--program {program[:60]}", "is none of the plan's programs", f"name one: {names} ...")


def _stopping(steps: tuple[Step, ...], draft: DraftFile, stopped: Stopped) -> tuple[Step, ...]:
    """The steps with the program's last run ending at the line; a run is made up where the log has none."""
    own = [step.id for step, run, _ in runs_of(steps, draft.piece) if run.file == draft.file]
    end = EndEntry(own[-1] if own else -1, stopped.line)
    kept = [step for step in steps if step.end is None or step.end.run_id != end.run_id]
    if not own:
        run = RunEntry(draft.file, "", draft.cutter, 0.0)
        kept.append(Step(-1, draft.piece, draft.placement, "started", draft.file, "", run=run))
    return (*kept, Step(-2, draft.piece, draft.placement, "ended", draft.file, "", end=end))
