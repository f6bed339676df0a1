"""What of the blank lies beyond the piece, and how much of it trenches and touch lands take, end by end."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.job.frames import Rigid
from witnessmark.job.placement import Rectangle
from witnessmark.shapes.solid import Solid

from .candidates import BlankBox
from .lands import WOOD_ROUND_MM
from .model import WASTE

ENDS = ("left", "right", "front", "back")
TOLD_MM = 0.5


def waste_note(piece: Solid, box: BlankBox, trench_mm: float, lands: Sequence[tuple[str, Rectangle, Rigid]]) -> str:
    """A line on the waste at each end of the blank (as it lies in the model), and what the touches take of it.

    ``lands``: name, rectangle with its recess, and standing frame of each; ``trench_mm``: cutter and trench.
    """
    low, high = piece.bounds_mm
    have = (low[0] - box.lower_mm[0], box.upper_mm[0] - high[0], low[1] - box.lower_mm[1], box.upper_mm[1] - high[1])
    waste = ", ".join(f"{mm:.0f} mm {end}" for end, mm in zip(ENDS, have))
    words = f"{WASTE}{waste}; a trench takes {trench_mm:.0f} mm of each"
    if not lands:
        return words
    takes = dict.fromkeys(ENDS, 0.0)
    places = []
    for name, rectangle, stand in lands:
        x0, y0, x1, y1 = _in_piece(rectangle, stand)
        places.append(f"{name} at x {(x0 + x1) / 2:z.0f} y {(y0 + y1) / 2:z.0f}")
        beyond = (low[0] - x0, x1 - high[0], low[1] - y0, y1 - high[1])
        for end, mm in zip(ENDS, beyond):
            takes[end] = max(takes[end], float(mm) + WOOD_ROUND_MM - trench_mm)
    more = [f"{mm:.0f} mm {end}" for end, mm in takes.items() if mm > TOLD_MM]
    asked = f"take {', '.join(more)} besides" if more else "lie in what the outline and the trench leave anyway"
    return f"{words}; the touch lands, as far apart as the blank allows ({', '.join(places)}), {asked}"


def _in_piece(rectangle: Rectangle, stand: Rigid) -> Rectangle:
    """A rectangle of the standing frame as it lies in the piece's x and y."""
    x0, y0, x1, y1 = rectangle
    corners = stand.inverse().apply(np.array([[x0, y0, 0.0], [x1, y1, 0.0]]))
    (a, b), (c, d) = corners.min(axis=0)[:2].tolist(), corners.max(axis=0)[:2].tolist()
    return a, b, c, d
