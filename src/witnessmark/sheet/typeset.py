"""Setting a PDF by typst, in DejaVu Sans as matplotlib ships it."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import matplotlib
import typst

from witnessmark.job.whole import written_whole

DATELESS = 0  # seconds since 1970 stamped into the file: the same job gives the same bytes


def typeset(folder: Path, name: str, out_path: Path) -> None:
    """Typeset the data.json of a folder with a template of ours; the pictures it names lie beside it."""
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
