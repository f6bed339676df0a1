"""The bench sheet: what the maker carries to the machine, an A4 PDF set by typst."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from witnessmark.job.models import Job
from witnessmark.job.whole import written_whole
from witnessmark.latch.let_in import LetIn
from witnessmark.plan.model import PiecePlan
from witnessmark.shapes.solid import Solid

from .cut_list import boards_to_saw
from .latch_pages import latch_data
from .pages import sheet_data, waste_notes
from .scene import scenes_of
from .typeset import typeset
from .views import draw_scene
from .words import clean

TEMPLATE = "bench.typ"


def write_bench_sheet(
    job: Job,
    plans: Sequence[PiecePlan],
    summary: Sequence[str],
    out_path: Path,
    solids: Mapping[str, Solid] | None = None,
    proven: bool = True,
    pictures_dir: Path | None = None,
    cut_list: tuple[dict[str, Any], Path] | None = None,
    year: Sequence[str] = (),
    latch: tuple[LetIn, Sequence[str]] | None = None,
) -> Path:
    """Write the sheet for all pieces and return its path.

    ``summary``: the lines of the proof slip; ``solids`` (piece frame, by piece name) give the outlines in the
    pictures; without ``proven`` every page carries a warning; ``pictures_dir`` keeps the pictures as well;
    ``cut_list``: its record, and the folder with the drawings of its boards; ``year``: what the seasons do to it;
    ``latch``: in its place, and what was said of it.
    """
    scenes = scenes_of(job, plans, solids or {})
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for _, shown in scenes:
            for scene in shown:
                draw_scene(scene, folder)
        pages = sheet_data(
            job, scenes, summary, proven, with_boards=cut_list is not None, with_latch=latch is not None
        )
        pages["once"] += [clean(words) for words in year]
        pages["latch"] = latch_data(latch[0], folder, latch[1]) if latch else None
        pages["cut_list"] = boards_to_saw(folder, cut_list, waste_notes(plans))
        (folder / "data.json").write_text(json.dumps(pages, allow_nan=False), encoding="utf-8")
        typeset(folder, TEMPLATE, out_path)
        if pictures_dir is not None:
            pictures_dir.mkdir(parents=True, exist_ok=True)
            for picture in folder.glob("*.png"):
                with written_whole(pictures_dir / picture.name) as beside:
                    shutil.copyfile(picture, beside)
    return out_path
