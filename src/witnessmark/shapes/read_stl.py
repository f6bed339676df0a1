"""STL, binary and text. It states no unit.

Source  the layout of the binary file (80 bytes, a count, 50 bytes a facet) is common knowledge of the trade; no
        standards body keeps it
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from .files import MESH_BYTES, TRIANGLES, broken, file_bytes
from .raw import Floats, RawMesh

_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
_VERTEX = re.compile(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)", re.IGNORECASE)
_HEAD_BYTES = 84


def read_stl(path: Path) -> RawMesh:
    """Every facet with its own three corners, as the file has them."""
    content = file_bytes(path, MESH_BYTES)
    fits = len(content) >= _HEAD_BYTES and _HEAD_BYTES + 50 * _count(content) == len(content)
    text = content.lstrip()[:5].lower() == b"solid" and b"facet" in content[:4096].lower()
    corners = _text(content, path) if text and not fits else _binary(content, path)
    return RawMesh(corners.reshape(-1, 3), np.arange(3 * len(corners), dtype=np.int64).reshape(-1, 3))


def _count(content: bytes) -> int:
    return int.from_bytes(content[80:84], "little")


def _binary(content: bytes, path: Path) -> Floats:
    if len(content) < _HEAD_BYTES:
        raise broken(path, "ends before its list of triangles begins: it is no STL file")
    count, room = _count(content), (len(content) - _HEAD_BYTES) // 50
    if count == 0:
        raise broken(path, "holds no triangles")
    if count > room:
        raise broken(
            path, f"says that it holds {count} triangles but ends after {room}: it was cut off, or is no STL"
        )
    if count > TRIANGLES:
        raise broken(path, f"holds {count} triangles, more than the {TRIANGLES} that are read")
    facets = np.frombuffer(content, dtype=_FACET, count=count, offset=_HEAD_BYTES)
    return facets["corners"].astype(np.float64)


def _text(content: bytes, path: Path) -> Floats:
    found = _VERTEX.findall(content)
    if not found or len(found) % 3:
        raise broken(path, f"holds {len(found)} corners, which make no whole triangles: it was cut off")
    if b"endsolid" not in content[-4096:].lower():
        raise broken(path, "has no end ('endsolid'): it was cut off")
    if len(found) > 3 * TRIANGLES:
        raise broken(path, f"holds more than the {TRIANGLES} triangles that are read")
    try:
        return np.array(found, dtype=np.float64).reshape(-1, 3, 3)
    except ValueError as error:
        raise broken(path, f"has a corner that is no number ({error})") from error
