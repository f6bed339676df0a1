"""The text of a program file, wherever it comes from."""

from __future__ import annotations

from pathlib import Path

from witnessmark.job.errors import refuse

LARGEST_MB = 200


def program_text(path: Path) -> str:
    """The text; bytes that are no UTF-8 stay apart, for the reader to tell. Refused where it cannot be read."""
    try:
        if path.stat().st_size > LARGEST_MB * 1e6:
            raise refuse(str(path), f"is larger than {LARGEST_MB} MB", "see whether it is a program")
        return path.read_bytes().decode("utf-8", "surrogateescape")
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else error
        raise refuse(str(path)[:200], f"cannot be read: {reason}", "check the name") from None
