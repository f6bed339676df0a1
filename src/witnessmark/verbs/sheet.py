"""sheet: the bench sheet, from the plan and the proof as they were last kept."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from witnessmark.plan.store import load_plans
from witnessmark.sheet.bench import write_bench_sheet

from .workshop import open_workshop


def sheet(folder: Path | str, progress: Callable[[str, float], None]) -> Path:
    """Write ``out/bench-sheet.pdf``; every page warns where the programs are not proven."""
    workshop = open_workshop(folder)
    plans = load_plans(workshop.job, workshop.folder.out("plan.toml"), workshop.folder.out_dir("fields"))
    progress("drawing the bench sheet", 0.2)
    summary, proven = _proof(workshop.folder.out("proof.json"), workshop.folder.out("proof.txt"))
    return write_bench_sheet(
        workshop.job,
        plans,
        summary,
        workshop.folder.out("bench-sheet.pdf"),
        solids=workshop.solids,
        proven=proven,
        pictures_dir=workshop.folder.out_dir("pictures"),
    )


def _proof(record: Path, words: Path) -> tuple[list[str], bool]:
    if not record.is_file() or not words.is_file():
        return ["The programs are not proven yet: run witnessmark prove."], False
    passed = bool(json.loads(record.read_text(encoding="utf-8"))["passed"])
    return words.read_text(encoding="utf-8").splitlines(), passed
