"""DXF through ezdxf: the lines of the model space, flattened.

The unit is the header's $INSUNITS (0 or absent: none stated). Source: DXF Reference, header variables and entities
"""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.errors import Refusal, refuse

from .files import DRAWING_BYTES, broken, file_bytes, mm_per
from .outline import FARTHEST_MM, FLATTEN_MM, Drawing

Floats = NDArray[np.float64]

MOST_ENTITIES = 200_000
FLAT_MM = 0.01  # lines that leave the plane by more than this are no outline
_BINARY = b"AutoCAD Binary DXF"  # the first bytes of the binary form, from the DXF Reference
_DRAWN = {"LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE"}


class _Remarks(logging.Handler):
    """Counts what the library puts right in odd files, in place of its own words for programmers (which may hold
    bytes of the file that are no text)."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.count = 0

    def emit(self, record: logging.LogRecord) -> None:
        self.count += 1

    def __enter__(self) -> _Remarks:
        self._log = logging.getLogger("ezdxf")
        self._told, self._log.propagate = self._log.propagate, False
        self._log.addHandler(self)
        return self

    def __exit__(self, *failed: object) -> None:
        self._log.removeHandler(self)
        self._log.propagate = self._told


def read_dxf(path: Path, unit: str | None = None) -> Drawing:
    """Lines and rings in mm; what is no line (text, dimensions, hatches) is passed over and counted."""
    with _Remarks() as remarks:
        return _read(path, unit, remarks)


def _read(path: Path, unit: str | None, remarks: _Remarks) -> Drawing:
    document = _open(path)
    scale_ratio, named, notes = _unit(document, path, unit)
    lines: list[Floats] = []
    rings: list[Floats] = []
    passed: Counter[str] = Counter()
    try:
        _check_blocks(document, path)
        for entity in _entities(document, passed):
            _add(entity, scale_ratio, lines, rings, passed)
    except Refusal:
        raise
    except Exception as error:  # the library may fail in any way on a foreign entity; none of them is our bug
        raise broken(path, f"has an entity that cannot be read ({type(error).__name__}: {error})") from error
    if remarks.count:
        notes.append(f"{remarks.count} odd entries were put right while reading; check the outline")
    if passed:
        words = ", ".join(f"{count} {kind}" for kind, count in sorted(passed.items()))
        notes.append(f"passed over: {words}")
    return Drawing(lines, rings, named, tuple(notes))


def _open(path: Path) -> Any:
    content = file_bytes(path, DRAWING_BYTES)
    import ezdxf
    from ezdxf import recover

    binary = content.startswith(_BINARY)
    if not binary and b"SECTION" not in content:
        raise broken(path, "holds no sections: it is no DXF file")
    if b"EOF" not in content:
        raise broken(path, "has no end (EOF): it was cut off")
    try:
        return ezdxf.readfile(str(path)) if binary else recover.readfile(str(path))[0]
    except Exception as error:  # a parser of foreign files may fail in any way; none of them is our bug
        raise broken(path, f"cannot be understood ({type(error).__name__}: {error})") from error


def _unit(document: Any, path: Path, asked: str | None) -> tuple[float, str, list[str]]:
    """mm per drawing unit, its name, and what to say."""
    from ezdxf.units import MM, conversion_factor, unit_name

    if asked:
        return mm_per(asked, path), asked, [f"taken as {asked}, as asked"]
    stated = document.header.get("$INSUNITS", 0)
    if stated == 0:
        return 1.0, "mm", ["the file states no unit: mm assumed"]
    try:
        factor = round(float(conversion_factor(stated, MM)), 9)  # 25.4 is exact, the table's quotient not
    except (KeyError, IndexError, ValueError, TypeError, ArithmeticError) as error:
        raise broken(path, f"states a unit that is not known ($INSUNITS {stated})") from error
    name = {1.0: "mm", 10.0: "cm", 1000.0: "m", 25.4: "inch"}.get(factor, unit_name(stated))
    return factor, name, [f"the file states {name}"]


def _check_blocks(document: Any, path: Path) -> None:
    """Refuse blocks that hold themselves, and blocks within blocks that come to too many lines."""
    known: dict[str, int] = {}

    def weight(layout: Any, within: tuple[str, ...]) -> int:
        total = 0
        for entity in layout:
            if entity.dxftype() != "INSERT":
                total += 1
                continue
            name = str(entity.dxf.get("name", "")).lower()
            if name in within or len(within) > 50:
                raise broken(path, f"has a block that holds itself ({name})")
            block = document.blocks.get(name)
            if block is not None and name not in known:
                known[name] = weight(block, (*within, name))
            rows, columns = entity.dxf.get("row_count", 1), entity.dxf.get("column_count", 1)
            total += (1 + known.get(name, 0)) * max(1, rows) * max(1, columns)
        return total

    if weight(document.modelspace(), ()) > MOST_ENTITIES:
        raise refuse(path.name, f"holds more than the {MOST_ENTITIES} lines that are read", "save only the outline")


def _entities(document: Any, passed: Counter[str]) -> Iterator[Any]:
    """Everything drawn in the model space, blocks opened up; hidden layers left out."""
    from ezdxf.disassemble import recursive_decompose

    hidden = {layer.dxf.name.lower() for layer in document.layers if layer.is_off() or layer.is_frozen()}
    for entity in document.modelspace():
        if str(entity.dxf.get("layer", "0")).lower() in hidden:
            passed["on hidden layers"] += 1
        elif entity.dxftype() == "INSERT":
            yield from recursive_decompose([entity])
        else:
            yield entity


def _add(entity: Any, scale_ratio: float, lines: list[Floats], rings: list[Floats], passed: Counter[str]) -> None:
    kind = entity.dxftype()
    flat = kind in _DRAWN and not (kind == "POLYLINE" and not (entity.is_2d_polyline or entity.is_3d_polyline))
    if not flat:
        passed[kind.lower()] += 1
        return
    places = np.array([tuple(place) for place in _flattened(entity, scale_ratio)], dtype=np.float64) * scale_ratio
    if len(places) < 2:
        return
    if not np.all(np.isfinite(places)) or np.ptp(places[:, 2]) > FLAT_MM:
        passed[f"{kind.lower()} out of the plane"] += 1
        return
    closed = np.linalg.norm(places[0] - places[-1]) < 1e-9 * (1.0 + np.abs(places).max()) and len(places) > 3
    if closed:
        rings.append(places[:-1, :2])
    else:
        lines.append(places[:, :2])


def _flattened(entity: Any, scale_ratio: float) -> list[Any]:
    """Places along a curve in drawing units, exact on it, with chords that stray no farther than FLATTEN_MM."""
    kind, sag = entity.dxftype(), FLATTEN_MM / scale_ratio
    if kind == "LINE":
        return [entity.dxf.start, entity.dxf.end]
    if kind in ("ARC", "CIRCLE"):
        _check_radius(entity.dxf.radius * scale_ratio)
        return list(entity.flattening(min(sag, entity.dxf.radius / 8))) if entity.dxf.radius > 0 else []
    if kind == "ELLIPSE":
        _check_radius(entity.dxf.major_axis.magnitude * scale_ratio)
        return list(entity.flattening(sag, segments=16))
    if kind == "SPLINE":
        return list(entity.flattening(sag, segments=8))
    return _along_polyline(entity, scale_ratio)


def _check_radius(radius_mm: float) -> None:
    if not radius_mm < FARTHEST_MM:
        raise ValueError(f"a radius of {radius_mm:.3g} mm")


def _along_polyline(entity: Any, scale_ratio: float) -> list[Any]:
    """The straight and round parts of a polyline in a row, each turned to begin where the last one ended."""
    places: list[Any] = []
    for part in entity.virtual_entities():
        piece = _flattened(part, scale_ratio)
        if not piece:
            continue
        if places:
            forward = places[-1].distance(piece[0]) <= places[-1].distance(piece[-1])
            places.extend((piece if forward else piece[::-1])[1:])
        else:
            places = piece
            first_is_arc = part.dxftype() == "ARC"
            start = _first_place(entity)
            if first_is_arc and start is not None and start.distance(piece[-1]) < start.distance(piece[0]):
                places = piece[::-1]
    return places


def _first_place(entity: Any) -> Any:
    """Where a polyline begins, in world coordinates."""
    if entity.dxftype() == "LWPOLYLINE":
        return next(iter(entity.vertices_in_wcs()), None)
    return next(iter(entity.points_in_wcs()), None)
