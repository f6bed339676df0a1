"""prove --check: is the file at the machine one of the programs that were proven?

A program is known by the fingerprint of its text, taken with the fingerprint line blank and line ends counted alike,
so that a copy on another disk is known again and a changed one is not.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from witnessmark.job.errors import refuse
from witnessmark.plan.model import ProgramInfo
from witnessmark.plan.rehearsal import Rehearsal
from witnessmark.plan.store import load_plans
from witnessmark.program.fingerprint import fingerprint, proof_of, stamped_of

from .made_from import PROVEN_FROM, kept, made_from
from .text import program_text
from .workshop import open_workshop


@dataclass(frozen=True)
class SameAnswer:
    """The proven program that a file is: its name in ``out/programs``, piece, placement, cutter, fingerprint.

    ``proof``: the fingerprint of the proof that it carries, if it can carry one.
    """

    file: str
    piece: str
    placement: str
    cutter: str
    fingerprint: str
    proof: str | None = None


def same(folder: Path | str, program: Path | str) -> SameAnswer:
    """Which proven program of the job a file is; a refusal says why it is none."""
    path = Path(program)
    text = program_text(path)
    workshop = open_workshop(folder)
    if kept(workshop.folder.out(PROVEN_FROM)) != made_from(workshop):
        what = "has no proof of the job and shapes as they are now"
        raise refuse(str(Path(folder)), what, "run: witnessmark prove")
    own = fingerprint(text)
    for plan in load_plans(workshop.job, workshop.folder.out("plan.toml"), None):
        for step in plan.placements:
            dry = (step.rehearsal,) if step.rehearsal is not None else ()
            files: tuple[ProgramInfo | Rehearsal, ...] = (*step.programs, *dry)
            for info in files:
                if info.fingerprint and info.fingerprint == own:
                    place = step.placement.name
                    return SameAnswer(info.file, plan.piece.name, place, info.cutter, own, proof_of(text))
    carried = stamped_of(text)
    if carried and carried != own:
        what = f"was changed after its proof: it carries {carried}, and its text is {own}"
        raise refuse(str(path), what, f"copy it again from {workshop.folder.root / 'out' / 'programs'}")
    raise refuse(
        str(path),
        f"is none of the programs proven for this job (its text is {own})",
        f"take the programs from {workshop.folder.root / 'out' / 'programs'}",
        "see whether it belongs to another job",
    )
