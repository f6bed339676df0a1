"""Nothing half-written: files and folders are written beside and renamed."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from .errors import Refusal, refuse


@contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """Write beside, then rename: the file is either the old one or the whole new one. Refused where it cannot."""
    beside = path.with_name(f".{path.name}.part{path.suffix}") if path.name else path
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "a folder has this name")
        path.parent.mkdir(parents=True, exist_ok=True)
        yield beside
        _onto_the_disk(beside)
        os.replace(beside, path)
    except OSError as error:
        raise not_written(path, error) from None
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)


@contextmanager
def folder_made_whole(root: Path) -> Iterator[Path]:
    """A new folder, filled beside and renamed: whole or not there at all. Refused where it cannot be written."""
    try:
        root.parent.mkdir(parents=True, exist_ok=True)
        beside = Path(tempfile.mkdtemp(prefix=f".{root.name}.", dir=root.parent))
    except OSError as error:
        raise not_written(root, error) from None
    try:
        yield beside
        beside.chmod(0o755)
        os.replace(beside, root)
    except OSError as error:
        raise not_written(root, error) from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def _onto_the_disk(file: Path) -> None:
    """Before it takes the old one's place: a power cut right after must not leave an empty file."""
    handle = os.open(file, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def not_written(path: Path, error: OSError) -> Refusal:
    """The refusal for a file or folder that cannot be made."""
    return refuse(
        str(path),
        f"cannot be written ({error.strerror or error})",
        "see that the folder is there, that it is yours to write in, and that no file has its name",
        "make room on the disk",
    )


def write_text_whole(path: Path, text: str) -> None:
    with written_whole(path) as beside:
        beside.write_text(text, encoding="utf-8", newline="\n")
