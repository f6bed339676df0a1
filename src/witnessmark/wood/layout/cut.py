"""A layout as sections: what it costs, with nothing sawn that is not wanted, and as the arrays of ``moves``.

Units     whole mm; costs in the maker's money
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .moves import ACROSS, AREA_OF, FORM, LANE_OF, PRICE, ROOM, SECTION_OF, Saw
from .program import Ints, Program, Section

Sawn = tuple[Section, int]  # a section and the clear area it is sawn from


@dataclass(frozen=True, eq=False)
class Cut:
    """A layout: its sections, the forms of parts that are left over, and whether it is known to be the best."""

    sawn: tuple[Sawn, ...]
    missing: tuple[int, ...] = ()
    best: bool = False


def cost_of(program: Program, cut: Cut) -> float:
    """What is sawn, and the penalty of what is missing."""
    short = sum(program.penalty[program.forms[number].part] for number in cut.missing)
    return sum(program.cost(section) for section, _ in cut.sawn) + short


def tidy(program: Program, sawn: Sequence[Sawn]) -> Cut:
    """These sections with nothing sawn that is not wanted, and what is missing told."""
    left = program.wanted.copy()
    kept: list[Sawn] = []
    for section, area in sawn:
        taken = take(program, section, left)
        if taken:
            kept.append((taken, area))
    first = first_forms(program)
    return Cut(tuple(kept), tuple(first[part] for part, count in enumerate(left.tolist()) for _ in range(count)))


def take(program: Program, section: Section, wanted: Ints) -> Section | None:
    """The section with what is wanted of its parts, which is taken off ``wanted``; None where none is.

    Where its longest part is not wanted, a lane may have become too long: what does not fit is not taken."""
    left = wanted.copy()
    lanes = [[number for number in lane if _one_of(left, program.forms[number].part)] for lane in section.lanes]
    longest = max((program.forms[number].length for lane in lanes for number in lane), default=0)
    kept = []
    for lane in lanes:
        own: list[int] = []
        for number in sorted(lane, key=lambda i: -program.forms[i].length):
            if program.lane_length([*own, number]) <= longest:
                own.append(number)
                wanted[program.forms[number].part] -= 1
        if own:
            kept.append(own)
    return program.section_of(section.kind, kept) if kept else None


def _one_of(left: Ints, part: int) -> bool:
    """Whether one more of a part is wanted; if so, it is one less now."""
    if left[part] <= 0:
        return False
    left[part] -= 1
    return True


def first_forms(program: Program) -> list[int]:
    """The number of each part's first form."""
    first = {form.part: number for number, form in reversed(list(enumerate(program.forms)))}
    return [first[part] for part in range(len(program.parts))]


def _units(program: Program) -> list[int]:
    """The part of every single piece, in the order of the parts."""
    return [part for part, count in enumerate(program.wanted.tolist()) for _ in range(count)]


def saw_of(program: Program) -> Saw:
    """A program's parts and boards as arrays."""
    forms, units, first = program.forms, _units(program), first_forms(program)
    ways = np.bincount([form.part for form in forms], minlength=len(program.parts))
    fits = np.zeros((len(forms), len(program.room)), dtype=np.bool_)
    for area, kind in enumerate(program.kind_of):
        fits[program.fits[kind], area] = True
    kerf = program.kerf
    areas = np.zeros((4, len(program.room)))
    areas[PRICE] = [program.price[kind] for kind in program.kind_of]
    areas[ROOM] = program.room
    areas[ACROSS] = [math.floor(program.kinds[kind][0]) + kerf for kind in program.kind_of]
    return Saw(
        np.array([[form.length + kerf for form in forms], [form.width + kerf for form in forms]], dtype=np.int64),
        np.array([first[part] for part in units], dtype=np.int64),
        np.array([ways[part] for part in units], dtype=np.int64),
        np.array([program.penalty[part] for part in units], dtype=np.float64),
        areas,
        fits,
    )


def state_of(program: Program, cut: Cut) -> Ints:
    """A layout as arrays."""
    units, first = _units(program), first_forms(program)
    n = len(units)
    pieces: list[list[int]] = [[] for _ in program.parts]
    for piece, part in enumerate(units):
        pieces[part].append(piece)
    state = np.zeros((4, n), dtype=np.int64)
    state[LANE_OF] = -1
    state[FORM] = [first[part] for part in units]
    number = 0
    for at, (section, area) in enumerate(cut.sawn):
        state[AREA_OF, at] = area
        for lane in section.lanes:
            state[SECTION_OF, number] = at
            for form in lane:
                piece = pieces[program.forms[form].part].pop()
                state[LANE_OF, piece], state[FORM, piece] = number, form
            number += 1
    return state


def cut_of(program: Program, state: Ints) -> Cut:
    """The layout that arrays tell."""
    lanes: dict[int, list[int]] = {}
    missing = []
    for lane, form in zip(state[LANE_OF].tolist(), state[FORM].tolist()):
        if lane < 0:
            missing.append(form)
        else:
            lanes.setdefault(lane, []).append(form)
    sections: dict[int, list[list[int]]] = {}
    for lane, own in lanes.items():
        sections.setdefault(int(state[SECTION_OF, lane]), []).append(own)
    sawn = []
    for at, those in sections.items():
        area = int(state[AREA_OF, at])
        sawn.append((program.section_of(program.kind_of[area], those), area))
    return Cut(tuple(sawn), tuple(missing))
