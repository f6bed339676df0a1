"""The cut list as an integer program: the cheapest way to saw all parts from the boards, and how far off the best.

Question  which parts are sawn where, so that the length of board that is used up costs least
Units     whole mm: parts are rounded up, boards down; costs in the maker's money
Method    every board is crosscut into sections, every section ripped into lanes, every lane crosscut into parts.
          Sections come one by one from a pricing problem (column generation); the linear program over all of them is
          the bound, and branching on how many sections there are makes it tighter (``branch``). Sections at prices a
          little off besides, and the integer program over all (HiGHS), make the first layout. Others come from taking
          sections one after another, with new ones priced in between (``dive``), each made better by moving parts
          about (``moves``). In the end sections are gathered on few boards (``gather``)
Source    Gilmore and Gomory (1965), see ``sections``; HiGHS: Huangfu and Hall, Mathematical Programming Computation
          10 (2018), through scipy
Valid     the bound is that of layouts of this kind, with every section as long as its longest part (short ones are
          easy to rip); others could do better
Refuses   nothing: parts for which there is no room come back as left over
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from threading import Lock

import numpy as np

from .branch import branched
from .cut import Cut, cost_of, cut_of, saw_of, state_of, tidy
from .dive import dived
from .few import exact
from .gather import gathered
from .master import Choice, tightened
from .moves import Saw, climbed
from .parts import Clear, CutPart
from .program import Program

GOOD_RATIO = 0.01  # so near to the bound the search ends, where nobody says
CUTS_RATIO = 0.1  # of the time: to the bound
FIRST_RATIO = 0.15  # until then the program over all sections
BOUND_RATIO = 0.4  # until then one of the two searches makes the bound tighter
PATIENCE, TRIES = 80, 10  # so often nothing cheaper was near: another; looks at the clock after


@dataclass(frozen=True)
class Laid:
    """A part on a board: its place from the board's end and edge, its size there."""

    part: int
    board: int
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float


@dataclass(frozen=True)
class Layout:
    """Parts laid, numbers of parts left over (one for each missing), the cost and its bound, the length of every
    clear area that is used up, and what that is worth in money (nearly the cost, where boards have prices)."""

    laid: tuple[Laid, ...]
    left_over: tuple[int, ...]
    cost: float
    bound: float
    used_mm: dict[int, float]
    price: float
    seconds: float

    @property
    def gap_ratio(self) -> float | None:
        """How far the cost may be above the best, of the bound; None: not known (where parts are left over)."""
        if self.cost <= self.bound + 1e-9:
            return 0.0
        return (self.cost - self.bound) / self.bound if self.bound > 0 else None


def lay_out(
    parts: Sequence[CutPart],
    clears: Sequence[Clear],
    kerf_mm: float,
    most_seconds: float = 20.0,
    good_ratio: float = GOOD_RATIO,
) -> Layout:
    """The cheapest layout found within the time, or the first within ``good_ratio`` of its bound."""
    program = Program(parts, clears, math.ceil(kerf_mm - 1e-6))
    if not clears or not parts:
        return _nothing(program, time.monotonic())
    program.priced(program.wanted, program.relaxed(program.wanted, program.rooms), program.rooms)  # compiled first
    climbed(saw_of(program), state_of(program, tidy(program, [])), 1.0, 0, 0)
    started = time.monotonic()
    few = exact(program)
    if few is not None:
        return _placed(program, gathered(program, few), 0.0, started)
    bound = tightened(program, started + CUTS_RATIO * most_seconds)
    search = _Search(program, saw_of(program), Lock(), [], bound, good_ratio)
    search.all(started, most_seconds)
    return _placed(program, gathered(program, search.best), search.bound, started)


@dataclass(eq=False)
class _Search:
    """Layouts that were found and their bound, and how to find more."""

    program: Program
    saw: Saw
    diving: Lock  # the linear program is one at a time's
    found: list[Cut]
    bound: float
    good_ratio: float

    @property
    def best(self) -> Cut:
        return min(self.found, key=lambda cut: cost_of(self.program, cut))

    @property
    def enough(self) -> float:
        """At what cost all searches end."""
        return self.bound * (1.0 + self.good_ratio)

    def all(self, started: float, seconds: float) -> None:
        """Two searches side by side (HiGHS and the kernels leave Python free)."""
        program = self.program
        choice = Choice.of(program, program.relaxed(program.wanted, program.rooms))
        longest = max(0.5, started + FIRST_RATIO * seconds - time.monotonic())
        with ThreadPoolExecutor(2, thread_name_prefix="cut list") as pool:
            until = started + seconds
            other = pool.submit(self.tighter, program.again(), started + BOUND_RATIO * seconds)
            first = tidy(program, choice.solved(longest, self.enough) if choice else [])
            self.on(first, 0.0, 0)  # at once, however little time there is: nothing is left over that has easy room
            one = pool.submit(self.many, until, 0, self.found[0])
            other.result()
            pool.submit(self.many, until, 1, None).result()
            one.result()

    def tighter(self, own: Program, until: float) -> None:
        """The bound, as tight as it comes; the program is its own."""

        def told(bound: float) -> bool:
            self.bound = max(self.bound, bound)
            return self.done()

        branched(own, until, told)

    def many(self, until: float, seed: int, start: Cut | None) -> None:
        """Layouts from the program, each made better, until the time is up; the first from ``start``."""
        rng = np.random.default_rng(seed)
        while time.monotonic() < until and not self.done():
            if start is None:
                with self.diving:
                    start = dived(self.program, rng, until)
            self.on(start, until, int(rng.integers(1 << 30)), PATIENCE)
            start = None

    def on(self, cut: Cut, until: float, seed: int, patience: int = 0) -> None:
        """A layout made better, once and then until the time or the patience is at an end."""
        state, cost = state_of(self.program, cut), cost_of(self.program, cut)
        still = 0
        while True:
            was = cost
            cost, since = climbed(self.saw, state, cost, TRIES, seed)
            still = since if cost < was - 1e-9 else still + TRIES
            seed += 1
            if cost <= self.enough or still >= patience or time.monotonic() >= until or self.done():
                break
        self.found.append(cut_of(self.program, state))

    def done(self) -> bool:
        return any(cost_of(self.program, cut) <= self.enough for cut in self.found)


def _placed(program: Program, cut: Cut, bound: float, started: float) -> Layout:
    """Sections one behind another from each clear area's end, the longest first; what is not wanted is left out."""
    left = program.wanted.copy()
    laid: list[Laid] = []
    used: dict[int, float] = {}
    for section, area in sorted(cut.sawn, key=lambda one: (one[1], -one[0].length)):
        clear = program.clears[area]
        x_mm, y_mm = clear.x_mm + used.get(area, 0.0), clear.y_mm
        longest = 0
        for lane in sorted(section.lanes, key=lambda lane: -max(program.forms[i].width for i in lane)):
            along_mm = x_mm
            for number in sorted(lane, key=lambda i: -program.forms[i].length):
                form = program.forms[number]
                if left[form.part] <= 0:
                    continue
                left[form.part] -= 1
                laid.append(Laid(form.part, clear.board, along_mm, y_mm, float(form.length), float(form.width)))
                along_mm += form.length + program.kerf
                longest = max(longest, round(along_mm - x_mm) - program.kerf)
            if along_mm > x_mm:
                y_mm += max(program.forms[i].width for i in lane) + program.kerf
        if longest:
            used[area] = used.get(area, 0.0) + longest + program.kerf
    cost = sum(program.price[program.kind_of[area]] * length for area, length in used.items())
    paid = sum(program.clears[area].price_mm * length for area, length in used.items())
    missing = tuple(part for part, count in enumerate(left.tolist()) for _ in range(count))
    short = sum(program.penalty[part] for part in missing)
    real_bound = max(0.0, bound - short)
    if cut.best or math.isclose(real_bound, cost, rel_tol=1e-9):  # the best; each is a sum, rounded in its own order
        real_bound = cost
    return Layout(tuple(laid), missing, cost, real_bound, used, paid, time.monotonic() - started)


def _nothing(program: Program, started: float) -> Layout:
    missing = tuple(part for part, count in enumerate(program.wanted.tolist()) for _ in range(count))
    return Layout((), missing, 0.0, 0.0, {}, 0.0, time.monotonic() - started)
