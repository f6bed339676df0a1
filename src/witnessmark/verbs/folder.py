"""Where a job keeps its results: ``out/`` beside ``job.toml``.

out/plan.txt, out/plan.toml    the plan to read, and the plan to go on from
out/planned-from.json          which job and shapes the plan was made from; out/proven-from.json: and the proof
out/fields/                    height fields of the plan (numpy archives)
out/drafts/                    programs as written, before the judge has seen them
out/programs/                  programs that passed their proof, and only those (unless forced)
out/solids/                    wood to leave and clearance wood, for makers who draw their own paths
out/proof.json, out/bench-sheet.pdf, out/pictures/
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from witnessmark.job.whole import not_written


@dataclass(frozen=True)
class JobFolder:
    """The job's folder and the places of its results; asking for one makes its folder."""

    root: Path

    def out(self, *parts: str) -> Path:
        path = self.root.joinpath("out", *parts)
        return _made(path.parent) / path.name

    def out_dir(self, *parts: str) -> Path:
        return _made(self.root.joinpath("out", *parts))


def _made(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise not_written(folder, error) from None
    return folder


def clear_files(folder: Path, pattern: str) -> None:
    """Remove last time's results of one kind, so that nothing stale lies among the new."""
    if folder.is_dir():
        for old in folder.glob(pattern):
            try:
                old.unlink()
            except OSError as error:
                raise not_written(old, error) from None
