"""Solids cut upright through the middle, drawn as SVG: what is there already, and what comes now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np
from manifold3d import Manifold

from .palette import INK, PLACEMENTS, WOOD_CUT_EARLIER

OFF_MM = 0.013  # beside the middle, where no face lies
ROUND_MM = 3.0
LINE_MM = 0.18


@dataclass(frozen=True, eq=False)
class Shown:
    """A solid, and whether it comes now."""

    solid: Manifold
    new: bool


def cut_svg(words: str, shown: Sequence[Shown], view_mm: tuple[float, float, float, float]) -> str:
    """The plane y = 0, x to the right and z up; ``view_mm``: x from, z from, x to, z to."""
    x0, z0, x1, z1 = view_mm
    wide, high = x1 - x0 + 2 * ROUND_MM, z1 - z0 + 2 * ROUND_MM
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{high:g}mm" '
        f'viewBox="0 0 {wide:g} {high:g}">'
    )
    drawn = [
        f'<clipPath id="view"><rect width="{wide:g}" height="{high:g}"/></clipPath>',
        '<g clip-path="url(#view)">',
    ]
    for one in sorted(shown, key=lambda s: s.new):
        ways = [_way(ring, x0 - ROUND_MM, z1 + ROUND_MM) for ring in section(one.solid)]
        fill = PLACEMENTS[1] if one.new else WOOD_CUT_EARLIER
        if ways:
            look = f'fill="{fill}" fill-rule="evenodd" stroke="{INK}" stroke-width="{LINE_MM}"'
            drawn.append(f'<path d="{"".join(ways)}" {look}/>')
    return "\n".join([head, f"<title>{escape(words)}</title>", *drawn, "</g>", "</svg>"]) + "\n"


def section(solid: Manifold) -> list[np.ndarray]:
    """Rings (n, 2) of x and z where the plane y = 0 cuts it."""
    return [np.asarray(ring) for ring in solid.rotate((-90.0, 0.0, 0.0)).slice(OFF_MM).to_polygons()]


def _way(ring: np.ndarray, left_mm: float, top_mm: float) -> str:
    places = " L".join(f"{x - left_mm:.3f} {top_mm - z:.3f}" for x, z in ring.tolist())
    return f"M{places} Z"
