"""What has run and what is still to run, as programs for the judge: from the drafts and the log.

A program that stopped part way is there up to the line it is taken up at, and its rest as a program of its own; a
placement that was found lies where it was found, with the programs that were corrected for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from witnessmark.job.errors import refuse
from witnessmark.log.entries import EndEntry, PoseEntry, RunEntry, Step
from witnessmark.program.part import first_moving, head, parts_of, tail
from witnessmark.proof.running import Pose

from .make import DraftFile
from .workshop import Workshop

NEXT_BLANK = "next blank"  # the stage that begins the same piece again
REPLANNED = "planned again"  # and the one after which the plan is for the wood as it is


@dataclass(frozen=True)
class Stopped:
    """A run that stopped: the program, and the line that it is taken up at again."""

    file: str
    line: int

    @property
    def rest(self) -> str:
        """The file of what is left of it."""
        path = Path(self.file)
        return f"{path.stem}-from-{self.line}{path.suffix}"


def of_this_blank(steps: Sequence[Step], piece: str) -> list[Step]:
    """The standing steps of a piece since its blank was begun, or planned again."""
    own = [step for step in steps if step.piece == piece and step.stands]
    begun = [k for k, step in enumerate(own) if step.kind == "stage" and step.what in (NEXT_BLANK, REPLANNED)]
    return own[begun[-1] + 1 :] if begun else own


def poses_of(steps: Sequence[Step], piece: str) -> dict[str, PoseEntry]:
    """Where the placements of a piece were found last."""
    return {step.placement: step.pose for step in of_this_blank(steps, piece) if step.pose is not None}


def pose_of(entry: PoseEntry) -> Pose:
    return (entry.dx_mm, entry.dy_mm, entry.turn_rad)


def runs_of(steps: Sequence[Step], piece: str) -> list[tuple[Step, RunEntry, EndEntry | None]]:
    """The runs of a piece in order, each with its end; None: it was started and nobody has said how it ended."""
    own = of_this_blank(steps, piece)
    ends = {step.end.run_id: step.end for step in own if step.end is not None}
    return [(step, step.run, ends.get(step.id)) for step in own if step.run is not None]


def folder_of(file: str, placement: str, planned: Sequence[DraftFile], found: Mapping[str, PoseEntry]) -> str:
    """Below ``out``: where the program to run now lies."""
    if all(draft.file != file for draft in planned):
        return "restart"
    return "corrected" if placement in found else "programs"


def current_text(workshop: Workshop, draft: DraftFile, found: Mapping[str, PoseEntry]) -> str:
    """A planned program as it is to be run: the draft, or the one corrected for where the work lies."""
    if draft.placement not in found:
        return draft.text
    path = workshop.folder.out("corrected", draft.file)
    if not path.is_file():
        raise refuse(str(path), "the program corrected for where the work lies is gone", "find the placement again")
    return path.read_text(encoding="utf-8")


def stop_at(text: str, line: int, file: str) -> Stopped | None:
    """Where to take a program up that surely came to ``line``; None where nothing of it is left to do.

    That line is done again: its start is sure.
    """
    parts = parts_of(text, file)
    if line > parts.last:
        return None
    at = first_moving(parts, max(line, parts.first))
    return Stopped(file, at) if at and at <= parts.last else None


def rest_text(text: str, stopped: Stopped) -> str:
    """What is left of a stopped program, to be proven."""
    note = f"goes on with line {stopped.line} of {stopped.file}, which stopped; check the touch-off first"
    return tail(text, stopped.line, (note,), True, stopped.file)


def as_run(
    workshop: Workshop, drafts: Sequence[DraftFile], steps: Sequence[Step], piece: str
) -> tuple[list[DraftFile], dict[str, Pose]]:
    """All programs of a piece as they ran, and then as they are to run; and where each placement lies."""
    found = poses_of(steps, piece)
    stops = stops_of(workshop, drafts, steps, piece)
    programs: list[DraftFile] = []
    for draft in drafts:
        if draft.piece == piece:
            programs += chain(replace(draft, text=current_text(workshop, draft, found)), stops)
    return programs, {placement: pose_of(entry) for placement, entry in found.items()}


def chain(draft: DraftFile, stops: Mapping[str, Stopped]) -> list[DraftFile]:
    """A program, or the parts it came in: up to each stop, and the rest."""
    parts, now = [], draft
    while now.file in stops:
        stopped = stops[now.file]
        parts.append(replace(now, text=head(now.text, stopped.line, now.file)))
        now = replace(now, file=stopped.rest, text=rest_text(now.text, stopped))
    return [*parts, now]


def stops_of(
    workshop: Workshop, drafts: Sequence[DraftFile], steps: Sequence[Step], piece: str
) -> dict[str, Stopped]:
    """By file: how its last run stopped. One that was run again to its end afterwards did not stop."""
    last = {run.file: end for _, run, end in runs_of(steps, piece)}
    found = poses_of(steps, piece)
    stops: dict[str, Stopped] = {}
    for draft in drafts:
        if draft.piece != piece:
            continue
        file, text = draft.file, ""
        while (end := last.get(file)) is not None and end.stop_line is not None:
            text = text or current_text(workshop, draft, found)
            stopped = stop_at(text, end.stop_line, file)
            if stopped is None:
                break
            stops[file] = stopped
            file, text = stopped.rest, rest_text(text, stopped)
    return stops
