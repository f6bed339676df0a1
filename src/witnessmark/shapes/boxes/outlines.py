"""The outline of a box as an area, its middle at 0, 0: from a drawing, traced points, a formula, a rectangle. mm."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.box import BoxOutline
from witnessmark.job.errors import refuse
from witnessmark.job.toml_file import file_text

from ..files import mm_per
from ..offsets import rounded_rectangle
from ..outline import Drawing, outline_of, read_outline
from ..rings import Area, only_area
from .formula import values

Floats = NDArray[np.float64]

SAMPLES = 20_000
SAME_MM = 0.002  # points of a sampled curve that stray less than this from its chords are left out
LOOPS_RATIO = 0.005  # of the area: what loops may be cut off where a traced line crosses itself
POINTS = (".csv", ".txt", ".tsv")
LEAST_MM, MOST_MM = 10.0, 3000.0


def area_of(outline: BoxOutline, folder: Path, where: str) -> tuple[Area, tuple[str, ...]]:
    """The area, and what was said while it was read; refused with the key that is wrong."""
    area, notes = _raw(outline, folder, where)
    if outline.turn_deg:
        area = shapely.affinity.rotate(area, outline.turn_deg, origin=(0.0, 0.0))
    area = _sized(area, outline)
    x0, y0, x1, y1 = area.bounds
    if not (min(x1 - x0, y1 - y0) >= LEAST_MM and max(x1 - x0, y1 - y0) <= MOST_MM):
        what = (
            f"is {x1 - x0:.4g} x {y1 - y0:.4g} mm: no box of wood is so {'small' if x1 - x0 < MOST_MM else 'large'}"
        )
        raise refuse(f"{where}, outline", what, "give size_x_mm or size_y_mm", "see whether its unit is right")
    moved = shapely.affinity.translate(area, -(x0 + x1) / 2, -(y0 + y1) / 2)
    return moved, notes


def _raw(outline: BoxOutline, folder: Path, where: str) -> tuple[Area, tuple[str, ...]]:
    if outline.rectangle is not None:
        return _rectangle(outline), ()
    if outline.file is None:
        return _by_formula(outline, where), ()
    path = folder / outline.file
    if path.suffix.lower() in POINTS:
        ring, mended = _uncrossed(_points(path, outline.unit))
        drawing = Drawing([], [ring], outline.unit or "mm", mended)
        read = outline_of(drawing, path.name)
    else:
        read = read_outline(path, outline.unit)
    return read.polygon, read.notes


def _uncrossed(ring: Floats) -> tuple[Floats, tuple[str, ...]]:
    """A traced ring without the small loops where the hand or the rounding crossed its own line."""
    polygon = shapely.Polygon(ring)
    if polygon.is_valid:
        return ring, ()
    main = max(shapely.get_parts(only_area(shapely.make_valid(polygon))), key=lambda part: part.area)
    whole_mm2 = abs(polygon.area)
    if abs(main.area - whole_mm2) > LOOPS_RATIO * whole_mm2:
        return ring, ()  # more than small loops: it is refused, with the place
    reason = shapely.is_valid_reason(polygon)
    loops_mm2 = abs(main.area - whole_mm2)
    note = f"the traced line crosses itself ({reason}): loops of {loops_mm2:.2f} mm2 were cut off"
    return np.asarray(main.exterior.coords)[:-1], (note,)


def _rectangle(outline: BoxOutline) -> Area:
    assert outline.rectangle is not None
    x_mm, y_mm, corner_mm = outline.rectangle.x_mm, outline.rectangle.y_mm, outline.corner_radius_mm
    if corner_mm == 0.0:
        return shapely.box(-x_mm / 2, -y_mm / 2, x_mm / 2, y_mm / 2)
    return shapely.simplify(rounded_rectangle(x_mm, y_mm, corner_mm).polygon(), 1e-6)


def _by_formula(outline: BoxOutline, where: str) -> Area:
    t = np.linspace(0.0, 2.0 * math.pi, SAMPLES + 1)

    def of(key: str, formula: str) -> Floats:
        try:
            return values(formula, t)
        except ValueError as error:
            raise refuse(f"{where}, outline.{key}", str(error), 'an example: r = "100 + 8*cos(3*t)"') from None

    if outline.r is not None:
        r = of("r", outline.r)
        x, y = r * np.cos(t), r * np.sin(t)
    else:
        x, y = of("x", outline.x or ""), of("y", outline.y or "")
    apart = math.hypot(x[-1] - x[0], y[-1] - y[0])
    if apart > 1e-6 * (np.ptp(x) + np.ptp(y)):
        what = f"does not close: from t = 0 to 2 pi its ends are {apart:.3g} mm apart"
        raise refuse(f"{where}, outline", what, "let it repeat after 2 pi")
    ring = np.column_stack([x, y])[:-1]
    name = f"{where}, outline"
    return shapely.simplify(outline_of(Drawing([], [ring], "mm", ()), name).polygon, SAME_MM)


def _points(path: Path, unit: str | None) -> Floats:
    """Two numbers a line, with commas, semicolons or spaces between; a first line of words is a heading."""
    scale = mm_per(unit, path) if unit else 1.0
    rows: list[tuple[float, float]] = []
    for number, line in enumerate(file_text(path, "name a file of traced points, a DXF or an SVG").splitlines(), 1):
        words = [word for word in re.split(r"[,;\s]+", line.split("#")[0].strip()) if word]
        if not words:
            continue
        try:
            x, y = (float(word) for word in words)
        except ValueError:
            if not rows and number <= 3:
                continue
            what = f"is no pair of numbers: {line.strip()[:40]}"
            raise refuse(f"{path.name}, line {number}", what, "write x and y, a comma between") from None
        rows.append((x * scale, y * scale))
    if len(rows) < 3:
        raise refuse(path.name, f"holds {len(rows)} points", "an outline needs at least 3")
    ring = np.array(rows)
    return ring[:-1] if len(ring) > 3 and np.allclose(ring[0], ring[-1]) else ring


def _sized(area: Area, outline: BoxOutline) -> Area:
    x0, y0, x1, y1 = area.bounds
    along_x = outline.size_x_mm / (x1 - x0) if outline.size_x_mm else None
    along_y = outline.size_y_mm / (y1 - y0) if outline.size_y_mm else None
    if along_x is None and along_y is None:
        return area
    ratio_x, ratio_y = along_x or along_y, along_y or along_x
    return shapely.affinity.scale(area, ratio_x, ratio_y, origin=(0.0, 0.0))
