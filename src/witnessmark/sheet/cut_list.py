"""The cut list drawn: every board with its parts, as SVG, and all of them as a PDF, a page a board."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any, Protocol
from xml.sax.saxutils import escape

from witnessmark.job.boards import Board, Sawing

from .palette import ALARM, INK, PLACEMENTS, WOOD
from .typeset import typeset
from .words import clean

TEMPLATE, PAGES = "cut-list.typ", "boards.typ"
WIDE_PX = 1000.0
ROOM_PX = 46.0
LETTER_RATIO = 0.64  # a letter's width of its size, about
LEAST_PX = 10.0  # smaller ones are hard to read on paper


class Sawn(Protocol):
    """A part on a board."""

    @property
    def name(self) -> str: ...
    @property
    def x_mm(self) -> float: ...
    @property
    def y_mm(self) -> float: ...
    @property
    def length_mm(self) -> float: ...
    @property
    def width_mm(self) -> float: ...


def board_svg(
    board: Board, parts: Sequence[Sawn], offcuts_mm: Sequence[tuple[Board, tuple[float, float]]], sawing: Sawing
) -> str:
    """A board lying with its one end left and its one edge below, to scale; parts numbered as they are listed."""
    scale = WIDE_PX / board.length_mm
    high = board.width_mm * scale

    def rectangle(x_mm: float, y_mm: float, long_mm: float, wide_mm: float, look: str) -> str:
        top = high - (y_mm + wide_mm) * scale
        place = f'x="{x_mm * scale:.2f}" y="{top:.2f}"'
        return f'<rect {place} width="{long_mm * scale:.2f}" height="{wide_mm * scale:.2f}" {look}/>'

    def label(x_mm: float, y_mm: float, long_mm: float, wide_mm: float, texts: Sequence[str], most_px: float) -> str:
        """In the middle of a rectangle, the first text that fits in it; the last where none does."""
        sizes = [min(most_px, wide_mm * scale * 0.42, long_mm * scale / (LETTER_RATIO * len(t))) for t in texts]
        text, size = next(((t, s) for t, s in zip(texts, sizes) if s >= LEAST_PX), (texts[-1], sizes[-1]))
        place = f'x="{(x_mm + long_mm / 2) * scale:.2f}" y="{high - (y_mm + wide_mm / 2) * scale:.2f}"'
        look = f'font-size="{size:.1f}" text-anchor="middle" dominant-baseline="central"'
        return f"<text {place} {look}>{escape(text)}</text>"

    drawn = [rectangle(0, 0, board.length_mm, board.width_mm, f'fill="{WOOD}" stroke="{INK}" stroke-width="1.5"')]
    for rest, (x, y) in offcuts_mm:
        look = f'fill="none" stroke="{INK}" stroke-width="1" stroke-dasharray="6 4"'
        drawn.append(rectangle(x, y, rest.length_mm, rest.width_mm, look))
        texts = (f"keep {rest.length_mm:.0f} x {rest.width_mm:.0f}", "keep")
        drawn.append(label(x, y, rest.length_mm, rest.width_mm, texts, 15.0))
    for number, part in enumerate(parts, 1):
        look = f'fill="{PLACEMENTS[4]}" fill-opacity="0.45" stroke="{INK}" stroke-width="1"'
        drawn.append(rectangle(part.x_mm, part.y_mm, part.length_mm, part.width_mm, look))
        texts = (f"{number}: {part.length_mm:.0f} x {part.width_mm:.0f}", str(number))
        drawn.append(label(part.x_mm, part.y_mm, part.length_mm, part.width_mm, texts, 22.0))
    for defect in board.defects:
        look = f'fill="{ALARM}" fill-opacity="0.35" stroke="{ALARM}" stroke-width="1"'
        long, wide = defect.to_end_mm - defect.from_end_mm, defect.to_edge_mm - defect.from_edge_mm
        drawn.append(rectangle(defect.from_end_mm, defect.from_edge_mm, long, wide, look))
    below = high + ROOM_PX / 2
    drawn.append(f'<line x1="0" y1="{below:.1f}" x2="90" y2="{below:.1f}" stroke="{INK}" stroke-width="1.5"/>')
    drawn.append(f'<path d="M90 {below:.1f} l-10 -5 v10 z" fill="{INK}"/>')
    drawn.append(f'<text x="100" y="{below:.1f}" font-size="15" dominant-baseline="central">grain</text>')
    drawn.append(
        f'<text x="{WIDE_PX:.0f}" y="{below:.1f}" font-size="15" text-anchor="end" dominant-baseline="central">'
        f"{board.length_mm:g} x {board.width_mm:g} mm, saw {sawing.kerf_mm:g} mm</text>"
    )
    view = f"-4 -4 {WIDE_PX + 8:.0f} {high + ROOM_PX + 8:.1f}"
    font = 'font-family="DejaVu Sans, sans-serif"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" {font} fill="{INK}">'
    return "\n".join([head, f"<title>{escape(clean(board.name))}</title>", *drawn, "</svg>"]) + "\n"


def nearness(gap_ratio: float | None) -> str:
    """How near a layout's cost is to the least possible, in words; None: not known."""
    if gap_ratio is None:
        return "how near to the least possible is not known"
    return "the least possible" if gap_ratio < 5e-4 else f"at most {gap_ratio:.1%} above the least possible"


def pages_data(record: dict[str, Any]) -> dict[str, Any]:
    """What the pages of the cut list print."""
    boards = []
    for number, board in enumerate(record["boards"], 1):
        long_mm, wide_mm, thick_mm = board["size_mm"]
        rows = [
            [
                str(k),
                clean(p["name"], 60),
                f"{p['length_mm']:.0f} x {p['width_mm']:.0f}",
                f"{p['x_mm']:.0f}",
                f"{p['y_mm']:.0f}",
            ]
            for k, p in enumerate(board["parts"], 1)
        ]
        keep = [f"{clean(name, 60)}: {long:.0f} x {wide:.0f} mm" for name, long, wide in board["offcuts"]]
        boards.append(
            {
                "name": clean(board["name"], 60),
                "size": f"{long_mm:g} x {wide_mm:g} x {thick_mm:g} mm, {clean(board['species'], 40)}",
                "picture": f"board-{number}.svg",
                "rows": rows,
                "keep": keep,
            }
        )
    cost = f"; it costs {record['cost']:.2f}, {nearness(record['gap_ratio'])}" if record["cost"] > 0.01 else ""
    return {
        "glue_ups": [
            {"piece": clean(one["piece"], 60), "words": [clean(w) for w in one["words"]]}
            for one in record["glue_ups"]
        ],
        "boards": boards,
        "cores": [
            f"{clean(name, 60)}: {long:.0f} x {wide:.0f} x {thick:g} mm"
            for name, long, wide, thick in record["cores"]
        ],
        "short": [clean(name, 60) for name in record["short"]],
        "sum": f"{record['yield_ratio']:.0%} of the wood used up becomes parts{cost}.",
    }


def write_cut_list(title: str, record: dict[str, Any], drawings: Path, out_path: Path) -> Path:
    """The PDF: the glue-ups, then a page a board."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        data = {"title": clean(title, 80), "cut_list": boards_to_saw(folder, (record, drawings), {})}
        (folder / "data.json").write_text(json.dumps(data, allow_nan=False), encoding="utf-8")
        typeset(folder, TEMPLATE, out_path)
    return out_path


def boards_to_saw(
    folder: Path, cut_list: tuple[dict[str, Any], Path] | None, waste: Mapping[str, str]
) -> dict[str, Any] | None:
    """Put the pages' template and the drawings of the boards where a sheet is set; what its pages print.

    ``waste``: what is said of the ends of a piece's blank, by its name.
    """
    pages = files("witnessmark.sheet").joinpath(PAGES).read_text(encoding="utf-8")
    (folder / PAGES).write_text(pages, encoding="utf-8")
    if cut_list is None:
        return None
    record, drawings = cut_list
    for drawing in drawings.glob("board-*.svg"):
        shutil.copyfile(drawing, folder / drawing.name)
    more = [{**one, "words": [*one["words"], waste[one["piece"]]]} if one["piece"] in waste else one
            for one in record["glue_ups"]]  # fmt: skip
    return pages_data({**record, "glue_ups": more})


def ring_svg(name: str, size_mm: tuple[float, float], hollow_mm: Sequence[tuple[float, float]]) -> str:
    """A ring's blank and its hollow at 1 : 1, about the blank's middle, to print, cut out and draw around."""
    x_mm, y_mm = size_mm
    corners = " ".join(f"{x:.2f},{-y:.2f}" for x, y in hollow_mm)
    view = f"{-x_mm / 2:.2f} {-y_mm / 2:.2f} {x_mm:.2f} {y_mm:.2f}"
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{x_mm:.2f}mm" height="{y_mm:.2f}mm" viewBox="{view}">',
        f"<title>{escape(clean(name))}, 1 : 1</title>",
        f'<rect x="{-x_mm / 2:.2f}" y="{-y_mm / 2:.2f}" width="{x_mm:.2f}" height="{y_mm:.2f}" fill="none" '
        f'stroke="{INK}" stroke-width="0.4"/>',
        f'<polygon points="{corners}" fill="none" stroke="{INK}" stroke-width="0.4"/>',
        f'<path d="M-8 0 h16 M0 -8 v16" stroke="{INK}" stroke-width="0.3"/>',
        "</svg>",
    ]
    return "\n".join(lines) + "\n"
