"""Drawings at full size, to be cut by: SVG in millimetres with a line to check the print by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from .palette import INK, PLACEMENTS

ROUND_MM, CHECK_MM, FOOT_MM, LETTER_MM = 6.0, 50.0, 22.0, 3.0


@dataclass(frozen=True)
class Ring:
    """A circle, and a letter in its middle."""

    x_mm: float
    y_mm: float
    radius_mm: float
    letter: str = ""


def full_size_svg(words: str, outline: Ring, within: Sequence[Ring] = ()) -> str:
    """``outline`` is cut; what lies ``within`` it shows through: dashed, with its letters."""
    half = max(outline.radius_mm, CHECK_MM / 2) + ROUND_MM
    wide, high = 2 * half, 2 * outline.radius_mm + 2 * ROUND_MM + FOOT_MM
    top = outline.y_mm + outline.radius_mm + ROUND_MM
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{high:g}mm" '
        f'viewBox="0 0 {wide:g} {high:g}" font-family="DejaVu Sans, sans-serif" fill="{INK}">'
    )
    drawn = [f'<rect width="{wide:g}" height="{high:g}" fill="white"/>']
    for ring, look in (
        (outline, 'stroke-width="0.25"'),
        *((r, 'stroke-width="0.2" stroke-dasharray="1 0.8"') for r in within),
    ):
        x, y = ring.x_mm - outline.x_mm + half, top - ring.y_mm
        drawn.append(
            f'<circle cx="{x:.4f}" cy="{y:.4f}" r="{ring.radius_mm:.4f}" fill="none" stroke="{INK}" {look}/>'
        )
        if ring.letter:
            colour = PLACEMENTS[5] if ring.letter == "N" else PLACEMENTS[0]
            size = min(ring.radius_mm, 5.0)
            drawn.append(_text(x, y + 0.35 * size, size, ring.letter, f'fill="{colour}" font-weight="bold"'))
    foot = 2 * outline.radius_mm + 2 * ROUND_MM
    left, right = half - CHECK_MM / 2, half + CHECK_MM / 2
    line = f"M{left:g} {foot - 1.5:g} v3 m0 -1.5 H{right:g} m0 -1.5 v3"
    drawn.append(f'<path d="{line}" fill="none" stroke="{INK}" stroke-width="0.3"/>')
    check = f"print at 100 %: this line is {CHECK_MM:g} mm long"
    for at, said in enumerate((check, *_folded(words, int(wide / 1.75)))):
        drawn.append(_text(half, foot + 5.0 + 4.2 * at, LETTER_MM, said))
    return "\n".join([head, f"<title>{escape(words)}</title>", *drawn, "</svg>"]) + "\n"


def _text(x_mm: float, y_mm: float, size_mm: float, words: str, look: str = "") -> str:
    place = f'x="{x_mm:.3f}" y="{y_mm:.3f}" font-size="{size_mm:.2f}" text-anchor="middle"'
    return f"<text {place} {look}>{escape(words)}</text>"


def _folded(words: str, most: int) -> list[str]:
    lines = [""]
    for word in words.split():
        if len(lines[-1]) + len(word) + 1 > most and lines[-1]:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines
