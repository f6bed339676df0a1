"""The same sections on fewer boards: what is left over then lies together, and a board may stay whole.

Question  which board of its kind is each section sawn from, so that what stays is in large pieces
Units     whole mm
Method    for each kind of clear area the longest section first, into the first area that has room for it, the longest
          areas first; then the same with all that comes from one area as one. Each is taken where the squares of what
          is left in all areas come to more. The cost is the same: a mm of one kind costs the same wherever it is sawn
Source    first fit decreasing: textbook
Refuses   nothing: where that does not fit, the layout stays as it is
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from .cut import Cut, Sawn
from .program import Program, Section


def gathered(program: Program, cut: Cut) -> Cut:
    """The layout, its sections moved between boards of one kind."""
    sawn: list[Sawn] = []
    for kind in range(len(program.kinds)):
        now = [one for one in cut.sawn if one[0].kind == kind]
        now = _better(program, kind, now, [[section] for section, _ in now])
        by_area: dict[int, list[Section]] = {}
        for section, area in now:
            by_area.setdefault(area, []).append(section)
        sawn += _better(program, kind, now, list(by_area.values()))
    return replace(cut, sawn=tuple(sawn))


def _better(program: Program, kind: int, now: list[Sawn], lots: list[list[Section]]) -> list[Sawn]:
    """The lots, each from one area, by first fit; as they are now where not all go in, or it is no better."""
    areas = [area for area, own in enumerate(program.kind_of) if own == kind]
    left = {area: program.room[area] for area in sorted(areas, key=lambda area: -program.room[area])}
    placed: list[Sawn] = []
    for length, lot in sorted(((_length(program, lot), lot) for lot in lots), key=lambda one: -one[0]):
        area = next((area for area, room in left.items() if room >= length), None)
        if area is None:
            return now
        left[area] -= length
        placed += [(section, area) for section in lot]
    return placed if _whole(program, placed, kind) > _whole(program, now, kind) else now


def _length(program: Program, lot: Sequence[Section]) -> int:
    return sum(section.length + program.kerf for section in lot)


def _whole(program: Program, sawn: Sequence[Sawn], kind: int) -> int:
    """How much in one piece the rests of a kind's areas are."""
    left = {area: room for area, room in enumerate(program.room) if program.kind_of[area] == kind}
    for section, area in sawn:
        left[area] -= section.length + program.kerf
    return sum(rest**2 for rest in left.values())
