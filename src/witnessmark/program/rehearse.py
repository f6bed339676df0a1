"""The rehearsal of a placement: with the spindle standing still, round what will be cut, and down beside a card.

Question  is the cutter where the programs take it to be, before the first chip
Frame     program frame
Units     mm
Method    as high as the machine goes round the corners of all that the programs reach; down to a stop over a corner
          of the blank and over a cut; then down to ``FIRST_MM`` over a named land and, when the maker goes on after
          the stop, to ``CARD_MM`` over it, each by the feed of entries
Source    NIST IR 6556: M0 stops until the maker goes on (from memory)
Valid     a land as flat and wide as the caller has made sure
Refuses   places outside the travel (Refusal)
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.path.strokes import ENTRY

from .header import header_lines
from .number import counts
from .write import Body, ProgramSpec, entries, inside_travel, tool_words

FIRST_MM = 5.0  # here it stops first: whoever is off by less than this has touched nothing yet
CARD_MM = 1.0  # and here a card slips under


def write_rehearsal(
    spec: ProgramSpec,
    corners_mm: Sequence[tuple[float, float]],
    walk_z_mm: float,
    spot_mm: tuple[float, float],
    land_z_mm: float,
    stop_z_mm: float,
    over_mm: Sequence[tuple[float, float]] = (),
) -> str:
    """``corners_mm`` are walked at ``walk_z_mm``; the land lies at ``spot_mm``, ``land_z_mm`` high.

    ``over_mm``: places, a corner of the blank say, over which it comes down to ``stop_z_mm`` and stops before.
    """
    walk = [(x, y, walk_z_mm) for x, y in corners_mm]
    stops = [(x, y, stop_z_mm) for x, y in over_mm]
    down = [(*spot_mm, land_z_mm + FIRST_MM), (*spot_mm, land_z_mm + CARD_MM)]
    points = counts(np.array([*walk, *stops, *down]), spec.step_mm)
    inside_travel(points, spec)
    high = int(counts(np.array([walk_z_mm]), spec.step_mm)[0])
    body = Body(spec)
    for words in tool_words(spec):
        body.line(words)
    body.line("M5")
    body.move("G0", (None, None, high), "")
    for x, y, _ in points[: len(walk)].tolist():
        body.move("G0", (x, y, None), "")
    for x, y, z in points[len(walk) :].tolist():
        body.move("G0", (x, y, None), "")
        body.move("G1", (None, None, z), body.feed_word(ENTRY))
        body.line("M0")
        if (x, y) != tuple(points[-1, :2].tolist()):
            body.move("G0", (None, None, high), "")
    body.move("G0", (None, None, high), "")
    body.line("M2")
    header = header_lines(entries(spec)) if spec.machine.controller.comments else []
    return "\n".join([*header, *body.lines, ""])
