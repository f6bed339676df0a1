"""Drawings of a latch at full size, to cut by: the lining under the key. SVG."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.latch.design import Design
from witnessmark.latch.solids import KEY_RIM_MM
from witnessmark.sheet.full_size import Ring, full_size_svg


def drawings_of(design: Design) -> Iterator[tuple[str, str]]:
    """(name, SVG) of each drawing."""
    radius_mm = design.key.radius_mm + design.key.disc.radius_mm + KEY_RIM_MM
    seats = tuple(
        Ring(x, y, design.key.disc.radius_mm, "S" if sign > 0 else "N")
        for (x, y), sign in zip(design.key.places_mm.tolist(), design.key.signs)
    )
    words = f"Lining of the key: cloth or felt, {2 * radius_mm:g} mm across; letters: the poles at its foot"
    yield "lining", full_size_svg(words, Ring(0.0, 0.0, radius_mm), seats)
