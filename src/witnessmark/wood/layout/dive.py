"""A layout from the linear program: a section is taken, new ones are priced for what is left, and so on.

Question  which whole layout is near what the linear program would do, and another one, and another
Units     whole mm; costs in the maker's money
Method    sections are taken by chance, rather those that the program uses most; the last few parts are laid in the
          best way (``few``)
Source    diving for column generation: Sadykov et al., INFORMS Journal on Computing 31 (2019) 251-267 (from memory)
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import time

import numpy as np

from .cut import Cut, Sawn, cost_of, first_forms, take
from .few import cheapest
from .master import generate
from .program import Program, Section

LEAST_OFTEN = 1e-6
MOST_FEW = 8  # laid exactly at the end: more take longer than all the rest of a dive
EAGER = 2.0


def dived(program: Program, rng: np.random.Generator, until: float) -> Cut:
    """A layout of all parts that have room; when time is up, the rest is left over."""
    wanted, room = program.wanted.copy(), list(program.room)
    sawn: list[Sawn] = []
    while wanted.sum() > MOST_FEW and time.monotonic() < until:
        left = [0.0] * len(program.kinds)
        for length, kind in zip(room, program.kind_of):
            left[kind] += length
        _, at = generate(program, wanted, left, until)
        able = [
            (min(value, 1.0), section, area)
            for number, (value, section) in enumerate(zip(at.often.tolist(), program.sections))
            if value > LEAST_OFTEN
            and any(wanted[part] > 0 for part in program.counts(number))
            and (area := _area(program, section, room)) is not None
        ]
        if not able:
            break
        often = np.array([value for value, _, _ in able]) ** EAGER
        _, section, area = able[int(rng.choice(len(able), p=often / often.sum()))]
        taken = take(program, section, wanted)
        if taken is None:
            break
        room[area] -= taken.length + program.kerf
        sawn.append((taken, area))
    first = first_forms(program)
    rest = [first[part] for part, count in enumerate(wanted.tolist()) for _ in range(count)]
    if rest and len(rest) <= MOST_FEW:
        found = cheapest(program, rest, room, cost_of(program, Cut((), tuple(rest))), until)
        if found:
            return Cut((*sawn, *found[0]), tuple(found[1]))
    return Cut(tuple(sawn), tuple(rest))


def _area(program: Program, section: Section, room: list[int]) -> int | None:
    """The first area of its kind with room for a section."""
    for area, kind in enumerate(program.kind_of):
        if kind == section.kind and room[area] >= section.length + program.kerf:
            return area
    return None
