"""Nothing half-written: files are written beside and renamed."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """Write beside, then rename: the file is either the old one or the whole new one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.part{path.suffix}")
    try:
        yield beside
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)


def write_text_whole(path: Path, text: str) -> None:
    with written_whole(path) as beside:
        beside.write_text(text, encoding="utf-8", newline="\n")
