"""The bench sheet: what the maker carries to the machine, an A4 PDF set by typst."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path

import matplotlib
import typst

from witnessmark.job.models import Job
from witnessmark.job.whole import written_whole
from witnessmark.plan.model import PiecePlan
from witnessmark.shapes.solid import Solid

from .pages import sheet_data
from .scene import scenes_of
from .views import draw_scene

TEMPLATE = "bench.typ"
DATELESS = 0  # seconds since 1970 stamped into the file: the same job gives the same bytes


def write_bench_sheet(
    job: Job,
    plans: Sequence[PiecePlan],
    summary: Sequence[str],
    out_path: Path,
    solids: Mapping[str, Solid] | None = None,
    proven: bool = True,
    pictures_dir: Path | None = None,
) -> Path:
    """Write the sheet for all pieces and return its path.

    ``summary``: the lines of the proof slip; ``solids`` (piece frame, by piece name) give the outlines in the
    pictures; without ``proven`` every page carries a warning; ``pictures_dir`` keeps the pictures as well.
    """
    scenes = scenes_of(job, plans, solids or {})
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for _, shown in scenes:
            for scene in shown:
                draw_scene(scene, folder)
        data = json.dumps(sheet_data(job, scenes, summary, proven), allow_nan=False)
        (folder / "data.json").write_text(data, encoding="utf-8")
        typeset(folder, TEMPLATE, out_path)
        if pictures_dir is not None:
            pictures_dir.mkdir(parents=True, exist_ok=True)
            for picture in folder.glob("*.png"):
                with written_whole(pictures_dir / picture.name) as beside:
                    shutil.copyfile(picture, beside)
    return out_path


def typeset(folder: Path, name: str, out_path: Path) -> None:
    """Typeset data.json with a template of ours, in DejaVu Sans as matplotlib ships it."""
    template = folder / name
    template.write_text(files("witnessmark.sheet").joinpath(name).read_text(encoding="utf-8"), encoding="utf-8")
    fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    with written_whole(out_path) as beside:
        typst.compile(
            str(template),
            output=str(beside),
            root=str(folder),
            font_paths=[str(fonts)],
            ignore_system_fonts=True,
            format="pdf",
            timestamp=DATELESS,
        )
