"""The bound made tighter by branching: how many sections are there, of a board, of a length.

Question  how little can a layout cost, whichever whole number of sections it has
Units     whole mm; costs in the maker's money
Method    best first: of the cases that are open the cheapest is split where a count of sections is not whole (no
          more than so many, or at least one more), and each half is bounded by its own linear program. The bound is
          that of the cheapest open case
Source    branching on counts of columns: Vanderbeck, Operations Research 48 (2000) 111-128 (from memory)
Valid     whenever it is stopped
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import heapq
import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from .cuts import violated
from .master import generate
from .program import Count, Limits, Program, Relaxed

MOST_CUT = 2  # rounds of cuts in each case
OFF = (0.05, 0.1, 0.25, 0.25)  # from whole by so much, in the order of ``_split``'s groups; then by any
ANY = 1e-4


@dataclass(order=True)
class _Case:
    bound: float
    number: int
    limits: Limits = field(compare=False)
    split: tuple[Count, float] | None = field(compare=False)


def branched(program: Program, until: float, told: Callable[[float], bool]) -> None:
    """Tells a tighter bound each time there is one, until the time is up or it was told that it is enough."""
    bound, at = _bounded(program, {}, until)
    open_ = [_Case(bound, 0, {}, _split(program, at))]
    made = 0
    while not told(open_[0].bound) and time.monotonic() < until:
        case = open_[0]
        if case.split is None:
            break
        heapq.heappop(open_)
        count, value = case.split
        program.count(count)
        least, most = case.limits.get(count, (-math.inf, math.inf))
        for span in ((least, float(math.floor(value))), (float(math.ceil(value)), most)):
            limits = {**case.limits, count: span}
            own, at = _bounded(program, limits, until)
            made += 1
            heapq.heappush(open_, _Case(max(case.bound, own), made, limits, _split(program, at)))


def _bounded(program: Program, limits: Limits, until: float) -> tuple[float, Relaxed]:
    """A case's own bound, with cuts, a few times."""
    once = program.wanted == 1
    bound, at = generate(program, program.wanted, program.rooms, until, True, limits)
    for _ in range(MOST_CUT):
        more = violated(program.holds()[: len(at.often)] * once, at.often, set(program.cuts))
        if not more or time.monotonic() >= until:
            break
        program.cut(more)
        own, at = generate(program, program.wanted, program.rooms, until, True, limits)
        bound = max(bound, own)
    return bound, at


def _split(program: Program, at: Relaxed) -> tuple[Count, float] | None:
    """The count that is least whole, first of all sections, then of each kind, then of long ones."""
    number = np.zeros((len(program.kinds), max(program.room) + 1))
    for often, section in zip(at.often.tolist(), program.sections):
        number[section.kind, section.length] += often
    longer = number[:, ::-1].cumsum(axis=1)[:, ::-1]
    lengths = sorted({section.length for often, section in zip(at.often.tolist(), program.sections) if often > ANY})
    every = longer.sum(axis=0)
    kinds = range(len(program.kinds))
    groups = [
        [(Count(None, 0), every[0])],
        [(Count(kind, 0), longer[kind, 0]) for kind in kinds],
        [(Count(None, length), every[length]) for length in lengths],
        [(Count(kind, length), longer[kind, length]) for kind in kinds for length in lengths],
    ]
    for offs in (OFF, (ANY,) * len(groups)):
        for group, off in zip(groups, offs):
            if not group:
                continue
            count, value = max(group, key=lambda one: abs(one[1] - round(one[1])))
            if abs(value - round(value)) > off:
                return count, float(value)
    return None
