"""Taking in a shape file from anywhere: size limits, and the words for what is wrong with it."""

from __future__ import annotations

from pathlib import Path

from witnessmark.job.errors import Refusal, refuse
from witnessmark.job.units import MM_PER_INCH

MESH_BYTES = 512 * 2**20
DRAWING_BYTES = 64 * 2**20
TRIANGLES = 5_000_000  # more than any wooden piece needs, and about 1 GB in memory

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": MM_PER_INCH}
SAVE_AGAIN = "save the file again from the program that drew it, and check that it opens there"


def file_bytes(path: Path, limit_bytes: int) -> bytes:
    """The file's content, or a refusal if it is missing, empty or beyond the limit."""
    try:
        size_bytes = path.stat().st_size
        if not path.is_file():
            raise refuse(str(path), "is no file", "name the shape file itself")
        if size_bytes > limit_bytes:
            raise refuse(
                path.name,
                f"is {size_bytes / 2**20:.0f} MB, more than the {limit_bytes / 2**20:.0f} MB that are read",
                "save it with a coarser mesh: 0.02 mm is fine enough for wood",
            )
        content = path.read_bytes()
    except OSError as error:
        raise refuse(str(path), f"cannot be read ({error.strerror})", "check the name and the folder") from error
    if not content.strip(b"\0 \t\r\n"):
        raise refuse(path.name, "is empty", SAVE_AGAIN)
    return content


def broken(path: Path, what: str) -> Refusal:
    """A file that is not what its name says, or that ends too early."""
    return refuse(path.name, what, SAVE_AGAIN)


def mm_per(unit: str, path: Path) -> float:
    """How many mm one of the unit is; a refusal names the units that are known."""
    if unit not in MM_PER_UNIT:
        raise refuse(path.name, f"the unit {unit!r} is not known", f"use one of {', '.join(MM_PER_UNIT)}")
    return MM_PER_UNIT[unit]
