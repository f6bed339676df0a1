"""Boards drawn: what is written on a part stays on it."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from PIL import ImageFont

from witnessmark.job.boards import Board, Sawing
from witnessmark.sheet.cut_list import WIDE_PX, board_svg

SVG = "{http://www.w3.org/2000/svg}"
FONT = ImageFont.load_default(100)  # pillow's own sans; as wide as most


@dataclass(frozen=True)
class Part:
    name: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float


@given(st.floats(60.0, 1990.0), st.floats(20.0, 180.0))
def test_a_label_stays_on_its_part(long_mm, wide_mm):
    """Long words give way to the part's number; both are no wider and no higher than the part."""
    board = Board(name="b", length_mm=2000.0, width_mm=180.0, thickness_mm=25.0)
    svg = board_svg(board, [Part("lid", 5.0, 0.0, long_mm, wide_mm)], [], Sawing())
    label = etree.fromstring(svg.encode()).findall(f"{SVG}text")[0]
    assert label.text in ("1", f"1: {long_mm:.0f} x {wide_mm:.0f}")
    size = float(label.get("font-size"))
    scale = WIDE_PX / board.length_mm
    assert FONT.getlength(label.text) / 100.0 * size <= long_mm * scale
    assert size <= wide_mm * scale
