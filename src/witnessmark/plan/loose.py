"""Wood that a placement would cut free, said before a program is written: plugs of rings, waste on a broken web.

The roughing on the planning grid stands for all cutting: what it parts, the finishing cuts part as well. The proof
judges the programs themselves, on its finer grid; wood that rests in a hold counts as held there, and is only noted
here.
"""

from __future__ import annotations

import numpy as np

from witnessmark.field.columns import Columns, LooseWood
from witnessmark.job.placement import Placement, Rectangle
from witnessmark.proof.holding import CRUMB_MM3, held_cells

REMEDY = "drill or saw it out beforehand, or widen settings.trench_mm until it is cut to chips"


def loose_notes(columns: Columns, place: Placement, piece_mm: Rectangle) -> tuple[str, ...]:
    """A line for each piece of wood that comes free once this placement has cut, ``columns`` being what it leaves.

    First what nothing holds; then plugs, parted from the piece within its own rectangle ``piece_mm`` (standing
    frame), that only the hold under them keeps. Waste round the piece that still rests in its hold is not told.
    """
    rotation = place.stand.rotation
    _, grid = columns.top(rotation)
    loose = columns.loose(held_cells(place, grid), rotation)
    parted = columns.loose(np.zeros(grid.shape, dtype=bool), rotation)
    plugs = [wood for wood in parted if wood not in loose and _inside(wood, piece_mm, grid.pitch_mm)]
    notes = [f"{_words(wood)} comes loose here, and nothing holds it: {REMEDY}" for wood in loose if _counts(wood)]
    notes += [
        f"{_words(wood)} is parted from the piece here, and only the hold under it keeps it: {REMEDY}"
        for wood in plugs
        if _counts(wood)
    ]
    return tuple(notes)


def _counts(wood: LooseWood) -> bool:
    return wood.volume_mm3 >= CRUMB_MM3


def _inside(wood: LooseWood, piece_mm: Rectangle, spare_mm: float) -> bool:
    """Whether it lies within the piece's own rectangle, as the piece itself (with what is left on it) never does."""
    x0, y0, _, x1, y1, _ = wood.box_mm
    low = min(x0 - piece_mm[0], y0 - piece_mm[1])
    high = min(piece_mm[2] - x1, piece_mm[3] - y1)
    return min(low, high) > spare_mm


def _words(wood: LooseWood) -> str:
    x0, y0, z0, x1, y1, z1 = wood.box_mm
    size = f"{x1 - x0:.0f} x {y1 - y0:.0f} x {z1 - z0:.0f} mm"
    return f"a piece of wood of {size} round x {(x0 + x1) / 2 + 0.0:.0f} y {(y0 + y1) / 2 + 0.0:.0f}"
