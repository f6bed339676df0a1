"""Nothing half-written: a file is written beside its place and renamed into it."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from .errors import refuse


def write_whole(path: Path, content: bytes) -> None:
    """Put a file in place whole or not at all; a link is followed, an earlier file's permissions are kept."""
    place = path.resolve()
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(prefix=f".{place.name[:40]}.", dir=place.parent)
    except OSError as error:
        raise refuse(str(path), f"cannot be written ({error.strerror})", *_REMEDIES) from None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(beside, place.stat().st_mode & 0o777 if place.exists() else 0o644)
        os.replace(beside, place)
    except OSError as error:
        raise refuse(str(path), f"cannot be written ({error.strerror})", *_REMEDIES) from None
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(beside)


_REMEDIES = (
    "see that the folder is yours to write in",
    "make room on the disk",
)
