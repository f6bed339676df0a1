"""Sections found and chosen: column generation to the bound, the integer program over all that were found.

Question  which sections are worth having, how little can a layout cost, which of the sections are the layout
Units     whole mm; costs in the maker's money
Source    see ``solve``
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csc_array

from .cut import Sawn
from .cuts import violated
from .highs import integers
from .program import Floats, Ints, Limits, Program, Relaxed
from .sections import DEEP, SHALLOW

ROUNDS = 400
ENOUGH_RATIO = 0.002


def generate(
    program: Program,
    wanted: Ints,
    room: Sequence[float],
    until: float,
    cut: bool = False,
    limits: Limits | None = None,
) -> tuple[float, Relaxed]:
    """Sections until none pays: the bound (while some still pay: less what they could save), and the program.

    With ``limits`` the best section is looked for longer, as only that makes the bound tight."""
    bound = 0.0
    for _ in range(ROUNDS):
        at = program.relaxed(wanted, room, cut, limits)
        came, sinks = program.priced(wanted, at, room, SHALLOW if limits is None else DEEP)
        bound = max(bound, at.cost - sinks)
        if not came or time.monotonic() > until:
            break
    return bound, at


def tightened(program: Program, until: float) -> float:
    """The bound, with cuts added while they are violated, and good sections besides."""
    room = program.rooms
    bound, at = generate(program, program.wanted, room, until)
    once = program.wanted == 1
    while time.monotonic() < until:
        holds = program.holds()[: len(at.often)] * once
        more = violated(holds, at.often, set(program.cuts))
        if not more:
            break
        program.cut(more)
        tighter, at = generate(program, program.wanted, room, until, cut=True)
        bound = max(bound, tighter)
    program.enrich(program.wanted, at, until + 1.0)
    return max(bound, program.least_cost())


@dataclass(frozen=True, eq=False)
class Choice:
    """The integer program over the sections that could be in a layout that costs less than ``most``: which section
    from which clear area, how often. Made apart, so that it can be solved beside other work on the program."""

    pairs: tuple[Sawn, ...]
    cost: Floats
    matrix: csc_array
    low: Floats
    high: Floats

    @staticmethod
    def of(program: Program, at: Relaxed, most: float = math.inf) -> Choice | None:
        """None where nothing that was found costs less than ``most``; ``at``: the linear program without cuts."""
        if at.cost >= most:
            return None
        able = program.beyond(at) <= most - at.cost
        pairs: list[Sawn] = []
        rows, columns, values, costs = [], [], [], []
        m = len(program.parts)
        for number, section in enumerate(program.sections):
            if not able[number]:
                continue
            length, counts = section.length + program.kerf, program.counts(number)
            for area, kind in enumerate(program.kind_of):
                if kind == section.kind and length <= program.room[area]:
                    rows += [*counts, m + area]
                    columns += [len(pairs)] * (len(counts) + 1)
                    values += [*map(float, counts.values()), float(length)]
                    costs.append(program.cost(section))
                    pairs.append((section, area))
        n = len(pairs)
        rows += list(range(m))  # what is left over
        columns += list(range(n, n + m))
        values += [1.0] * m
        matrix = coo_array((values, (rows, columns)), shape=(m + len(program.room), n + m)).tocsc()
        low = np.concatenate([program.wanted, np.full(len(program.room), -np.inf)])
        high = np.concatenate([np.full(m, np.inf), program.room])
        return Choice(tuple(pairs), np.array([*costs, *program.penalty]), matrix, low, high)

    def solved(self, seconds: float, enough: float = -math.inf) -> list[Sawn]:
        """What is sawn in the best layout found, or the first that costs ``enough`` or less; [] where none was."""
        found = integers(self.cost, self.matrix, self.low, self.high, seconds, ENOUGH_RATIO, enough)
        if found is None:
            return []
        return [pair for pair, count in zip(self.pairs, found[0].astype(int).tolist()) for _ in range(count)]
