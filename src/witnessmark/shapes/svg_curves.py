"""The curves of an SVG shape as chords that stray no farther than FLATTEN_MM. Path data through svgpathtools.

Source  the chord of a curve with second derivative at most D over a step h strays at most D h^2 / 8 (textbook
        bound of linear interpolation); a circular arc of radius r over angle a strays r (1 - cos(a / 2))
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .outline import FARTHEST_MM, FLATTEN_MM, MOST_PLACES

Floats = NDArray[np.float64]


def ring_of(element: Any, matrix: Floats) -> Iterator[tuple[Floats, bool]]:
    """Each unbroken line of a shape: places (n, 2) mm, and whether it is closed (first place not repeated)."""
    from svgpathtools.parser import parse_path

    data = _path_data(element)
    if not data.strip():
        return
    stretch_ratio = float(np.linalg.norm(matrix[:, :2], 2))
    with warnings.catch_warnings():  # remarks on arcs without radius and the like are not for the maker
        warnings.simplefilter("ignore")
        parts = parse_path(data).continuous_subpaths()
    for part in parts:
        places = [part[0].start]
        for segment in part:
            places.extend(_along(segment, stretch_ratio))
            if len(places) > MOST_PLACES:
                raise ValueError("more places than are read")
        # the type is checked here: products of object arrays that fail have been seen to damage numpy's memory
        known = np.array(places, dtype=np.complex128)
        plane = np.column_stack([known.real, known.imag])
        moved = plane @ matrix[:, :2].T + matrix[:, 2]
        keep = np.append(True, np.any(np.diff(moved, axis=0) != 0.0, axis=1))
        moved = moved[keep]
        closed = len(moved) > 3 and bool(np.linalg.norm(moved[0] - moved[-1]) < 1e-9 * (1.0 + np.abs(moved).max()))
        yield (moved[:-1] if closed else moved), closed


def _path_data(element: Any) -> str:
    """Path data of any basic shape."""
    from svgpathtools.svg_to_paths import ellipse2pathd, line2pathd, polygon2pathd, polyline2pathd, rect2pathd

    name = element.tag.rsplit("}", 1)[-1].lower()
    if name == "path":
        return str(element.get("d") or "")
    if name == "polyline":
        return str(polyline2pathd(element)) if element.get("points", "").strip() else ""
    if name == "polygon":
        return str(polygon2pathd(element)) if element.get("points", "").strip() else ""
    makers = {"circle": ellipse2pathd, "ellipse": ellipse2pathd, "line": line2pathd, "rect": rect2pathd}
    return str(makers[name](element))


def _along(segment: Any, stretch_ratio: float) -> list[complex]:
    """Places along a segment after its start."""
    kind = type(segment).__name__
    if kind == "Line":
        return [segment.end]
    if kind == "Arc":
        steps = _arc_steps(segment, stretch_ratio)
    else:
        points = np.array(segment.bpoints())
        order = len(points) - 1
        bend = order * (order - 1) * float(np.abs(np.diff(points, 2)).max(initial=0.0)) * stretch_ratio
        steps = _count(math.sqrt(bend / (8 * FLATTEN_MM)))
    return [*(complex(segment.point(k / steps)) for k in range(1, steps)), segment.end]


def _arc_steps(segment: Any, stretch_ratio: float) -> int:
    radius_mm = max(abs(segment.radius.real), abs(segment.radius.imag)) * stretch_ratio
    if not radius_mm < FARTHEST_MM:
        raise ValueError(f"a radius of {radius_mm:.3g} mm")
    if radius_mm <= FLATTEN_MM:
        return 4
    step_rad = 2 * math.acos(1 - FLATTEN_MM / radius_mm)
    return _count(abs(math.radians(segment.delta)) / step_rad)


def _count(steps_ratio: float) -> int:
    if not steps_ratio < MOST_PLACES:
        raise ValueError("a curve larger than is read")
    return max(1, math.ceil(steps_ratio))
