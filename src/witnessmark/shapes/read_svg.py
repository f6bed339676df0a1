"""SVG: paths and basic shapes with their transforms, in mm, turned so that y runs up.

Source  Scalable Vector Graphics 1.1 (W3C): shapes, transforms, viewBox; CSS 2.1 (W3C) 4.3.2: 1 px = 1/96 in,
        1 pt = 1/72 in, 1 pc = 12 pt
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .files import DRAWING_BYTES, broken, file_bytes, mm_per
from .outline import Drawing
from .svg_curves import ring_of

Floats = NDArray[np.float64]

PX_MM = 25.4 / 96
_UNIT_MM = {"": PX_MM, "px": PX_MM, "pt": 25.4 / 72, "pc": 25.4 / 6, "in": 25.4, "cm": 10.0, "mm": 1.0, "q": 0.25}
_LENGTH = re.compile(r"^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)\s*([a-z]*)\s*$", re.IGNORECASE)
_SHAPES = ("path", "circle", "ellipse", "line", "polyline", "polygon", "rect")
_NOT_DRAWN = {
    "defs",
    "symbol",
    "clippath",
    "mask",
    "marker",
    "pattern",
    "metadata",
    "title",
    "desc",
    "style",
    "script",
}
_NOT_DRAWN |= {"lineargradient", "radialgradient", "filter", "namedview", "sodipodi"}
MOST_ELEMENTS = 200_000
DEEPEST = 200


def read_svg(path: Path, unit: str | None = None) -> Drawing:
    """Lines and rings in mm; text, pictures and references are passed over and counted."""
    root = _root(file_bytes(path, DRAWING_BYTES), path)
    to_mm, named, notes = _user_space(root, path, unit)
    lines: list[Floats] = []
    rings: list[Floats] = []
    passed: Counter[str] = Counter()
    closed_for_fill = 0
    for element, matrix, filled in _drawn(root, to_mm, passed, path):
        try:
            for places, closed in ring_of(element, matrix):
                closed_for_fill += filled and not closed and len(places) >= 3
                (rings if closed or (filled and len(places) >= 3) else lines).append(places)
        except Exception as error:  # svgpathtools may fail in any way on foreign path data; none of them is our bug
            raise broken(path, f"has a shape that cannot be read ({type(error).__name__}: {error})") from error
    if closed_for_fill:
        notes.append(f"{closed_for_fill} filled shapes were closed by a straight line, as they are filled")
    if passed:
        notes.append("passed over: " + ", ".join(f"{count} {kind}" for kind, count in sorted(passed.items())))
    return Drawing(lines, rings, named, tuple(notes))


def _root(content: bytes, path: Path) -> Any:
    """The parsed document; entities are refused, nothing is fetched, nothing huge is built."""
    from lxml import etree

    flat = content.replace(b"\0", b"")  # so that wide encodings hide nothing
    if b"<!ENTITY" in flat.upper():
        raise broken(path, "declares XML entities, which are not read: they can be made to grow without end")
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False)
    try:
        root = etree.fromstring(content, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        raise broken(path, f"is no whole XML ({error})") from error
    if _name(root) != "svg":
        raise broken(path, f"is no SVG drawing (its root is {_name(root) or 'nameless'})")
    return root


def _name(element: Any) -> str:
    return element.tag.rsplit("}", 1)[-1].lower() if isinstance(element.tag, str) else ""


def _length_mm(text: str | None) -> float | None:
    """A stated size in mm; None if there is none, or none that is absolute (%, em)."""
    match = _LENGTH.match(text or "")
    if match is None or match.group(2).lower() not in _UNIT_MM:
        return None
    size_mm = float(match.group(1)) * _UNIT_MM[match.group(2).lower()]
    return size_mm if 0.0 < size_mm < np.inf else None


def _unit_name(root: Any) -> str:
    """The unit of the first size stated."""
    for text in (root.get("width"), root.get("height")):
        match = _LENGTH.match(text or "")
        if match and _length_mm(text) is not None:
            return str(match.group(2).lower() or "px")
    return "px"


def _user_space(root: Any, path: Path, asked: str | None) -> tuple[Floats, str, list[str]]:
    """The (2, 3) matrix from user units to mm with y up, the unit's name, and what to say."""
    box = _view_box(root, path)
    width_mm, height_mm = _length_mm(root.get("width")), _length_mm(root.get("height"))
    unit = _unit_name(root)
    if asked:
        scale_x = scale_y = mm_per(asked, path)
        named, note = asked, f"one unit of the drawing taken as one {asked}, as asked"
    elif box is not None and (width_mm or height_mm):
        scale_x, scale_y = _fitted(root, width_mm, height_mm, box[2], box[3])
        named, note = unit, f"the file states its size in {unit}" + (" (1 px = 1/96 in)" if unit == "px" else "")
    else:
        scale_x = scale_y = PX_MM
        named, note = "px", "the file states no size: 1 px = 1/96 in taken, as the SVG standard has it"
        if unit != "px":
            note = f"no viewBox: one unit of the drawing is 1 px, 1/96 in, though the sheet is in {unit}"
    x0, y0, _, box_height = box or (0.0, 0.0, 0.0, (height_mm or 0.0) / PX_MM)
    matrix = np.array([[scale_x, 0.0, -scale_x * x0], [0.0, -scale_y, scale_y * (y0 + box_height)]])
    return matrix, named, [note, "y turned to run up; the sheet's lower left corner is the origin"]


def _view_box(root: Any, path: Path) -> tuple[float, float, float, float] | None:
    text = root.get("viewBox")
    if text is None:
        return None
    try:
        x, y, width, height = (float(value) for value in text.replace(",", " ").split())
    except ValueError as error:
        raise broken(path, f"has a viewBox that cannot be read ({text!r})") from error
    if not (np.isfinite([x, y, width, height]).all() and width > 0 and height > 0):
        raise broken(path, f"has a viewBox without size ({text!r})")
    return x, y, width, height


def _fitted(
    root: Any, width_mm: float | None, height_mm: float | None, box_width_px: float, box_height_px: float
) -> tuple[float, float]:
    """mm per user unit along x, y; one scale for both unless the file lets them differ (preserveAspectRatio)."""
    x = (width_mm or 0.0) / box_width_px
    y = (height_mm or 0.0) / box_height_px
    if not (x and y):
        return (x or y), (x or y)
    aspect = (root.get("preserveAspectRatio") or "").strip()
    if aspect == "none":
        return x, y
    one = max(x, y) if aspect.endswith("slice") else min(x, y)
    return one, one


def _drawn(root: Any, to_mm: Floats, passed: Counter[str], path: Path) -> Iterator[tuple[Any, Floats, bool]]:
    """Every shape that is drawn, with its matrix (2, 3) to mm and whether it is filled."""
    from svgpathtools.parser import parse_transform

    stack: list[tuple[Any, Floats, bool, int]] = [(root, to_mm, True, 0)]
    count = 0
    while stack:
        element, matrix, filled, depth = stack.pop()
        name, count = _name(element), count + 1
        if count > MOST_ELEMENTS or depth > DEEPEST:
            raise broken(path, "holds more shapes, or deeper groups, than are read")
        if not name or name in _NOT_DRAWN or _style(element, "display") == "none":
            continue
        try:
            own = np.asarray(parse_transform(element.get("transform")), dtype=np.float64)
        except Exception as error:  # as above: foreign text in another library's parser
            raise broken(path, f"has a transform that cannot be read ({element.get('transform')!r})") from error
        matrix = matrix @ own
        fill = _style(element, "fill")
        filled = fill not in ("none", "transparent") if fill else filled
        if name in _SHAPES:
            yield element, matrix, filled and name not in ("line",)
        elif name in ("svg", "g", "a", "switch"):
            if name == "svg" and depth and (element.get("viewBox") or element.get("x") or element.get("y")):
                passed["inner drawings with a frame of their own"] += 1
                continue
            stack.extend((child, matrix, filled, depth + 1) for child in reversed(element))
        else:
            passed[name] += 1


def _style(element: Any, key: str) -> str | None:
    """A property from the style attribute, else from the attribute of that name."""
    for part in (element.get("style") or "").split(";"):
        name, _, value = part.partition(":")
        if name.strip().lower() == key:
            return str(value).strip().lower()
    value = element.get(key)
    return str(value).strip().lower() if value is not None else None
