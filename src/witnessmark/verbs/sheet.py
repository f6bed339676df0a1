"""sheet: the bench sheet, from the plan and the proof as they were last kept."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from witnessmark.plan.store import load_plans
from witnessmark.sheet.bench import write_bench_sheet

from .boards import kept_cut_list
from .latch import latch_notes
from .made_from import PROVEN_FROM, kept, made_from, must_be_as_planned
from .workshop import open_workshop
from .year import year_notes

NOT_PROVEN = ["The programs are not proven yet, or not with the job as it is now: run witnessmark prove."]


def sheet(folder: Path | str, progress: Callable[[str, float], None]) -> Path:
    """Write ``out/bench-sheet.pdf``; every page warns where the programs are not proven.

    Refused where neither plan nor proof was made from the job as it is now: the sheet would print what is not cut.
    """
    workshop = open_workshop(folder)
    proof_holds = kept(workshop.folder.out(PROVEN_FROM)) == made_from(workshop)
    if not proof_holds:
        must_be_as_planned(workshop)
    plans = load_plans(workshop.job, workshop.folder.out("plan.toml"), workshop.folder.out_dir("fields"))
    progress("drawing the bench sheet", 0.2)
    summary, proven = NOT_PROVEN, False
    if proof_holds:
        summary, proven = _proof(workshop.folder.out("proof.json"), workshop.folder.out("proof.txt"))
    return write_bench_sheet(
        workshop.job,
        plans,
        summary,
        workshop.folder.out("bench-sheet.pdf"),
        solids=workshop.solids,
        proven=proven,
        pictures_dir=workshop.folder.out_dir("pictures"),
        cut_list=kept_cut_list(workshop),
        year=year_notes(workshop),
        latch=None if workshop.hidden is None else (workshop.hidden.let_in, latch_notes(workshop)),
    )


def _proof(record: Path, words: Path) -> tuple[list[str], bool]:
    if not record.is_file() or not words.is_file():
        return NOT_PROVEN, False
    passed = bool(json.loads(record.read_text(encoding="utf-8"))["passed"])
    return words.read_text(encoding="utf-8").splitlines(), passed
