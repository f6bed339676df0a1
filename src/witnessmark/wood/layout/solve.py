"""The cut list as an integer program: the cheapest way to saw all parts from the boards, and how far off the best.

Question  which parts are sawn where, so that the length of board that is used up costs least
Units     whole mm: parts are rounded up, boards down; costs in the maker's money
Method    every board is crosscut into sections, every section ripped into lanes, every lane crosscut into parts.
          Sections come one by one from a pricing problem (column generation); the linear program over all of them is
          the bound. Sections at prices a little off besides, and the integer program over all (HiGHS), make the first
          layout. Others come from taking sections one after another, with new ones priced in between (``dive``), each
          made better by moving parts about (``moves``); then some sections of a good one
          are kept, and the rest comes anew
Source    Gilmore and Gomory (1965), see ``sections``; HiGHS: Huangfu and Hall, Mathematical Programming Computation
          10 (2018), through scipy
Valid     the bound is that of layouts of this kind; free-form nesting could do better
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

from .cut import Cut, Sawn, cost_of, cut_of, saw_of, state_of, tidy
from .dive import dived
from .few import exact
from .master import Choice, tightened
from .moves import Saw, climbed
from .parts import Clear, CutPart
from .program import Program, Relaxed

GOOD_RATIO = 0.01  # so near to the bound the search ends, where nobody says
CUTS_RATIO = 0.1  # of the time: to the bound
FIRST_RATIO = 0.15  # until then the program over all sections
MANY_RATIO = 0.4  # until then other layouts; then from the best of them
PATIENCE, PATIENCE_AGAIN, TRIES = 80, 60, 10  # so often nothing cheaper was near: another; looks at the clock after
STAYS, SCATTER = (0.3, 0.7), 0.5  # of a layout's sections; how little they keep to whole areas
GOOD = 8  # so many layouts are worth beginning again from
SOON, HOPELESS_RATIO = 40, 0.015  # so dear beside what it began from after so many tries: given up


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
    def gap_ratio(self) -> float:
        """How far the cost may be above the best, of the bound."""
        return 0.0 if self.cost <= self.bound + 1e-9 else (self.cost - self.bound) / max(self.bound, 1e-9)


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
    nothing = Relaxed.nothing(len(parts), len(program.kinds))
    program.priced(program.wanted, nothing, program.rooms)  # compiled before the clock
    climbed(saw_of(program), state_of(program, tidy(program, [])), 1.0, 0, 0)
    started = time.monotonic()
    few = exact(program)
    if few is not None:
        return _placed(program, few, 0.0, started)
    bound = tightened(program, started + CUTS_RATIO * most_seconds)
    return _placed(program, _found(program, bound * (1.0 + good_ratio), started, most_seconds), bound, started)


def _found(program: Program, enough: float, started: float, seconds: float) -> Cut:
    """The best layout found in the time, by two searches side by side (HiGHS and the kernels leave Python free)."""
    choice = Choice.of(program, program.relaxed(program.wanted, program.rooms))
    longest = max(0.5, started + FIRST_RATIO * seconds - time.monotonic())
    first = tidy(program, choice.solved(longest, enough) if choice else [])
    if cost_of(program, first) <= enough:
        return first
    search = _Search(program, saw_of(program), enough, Lock(), [])
    search.on(first, 0.0, 0)  # at once, however little time there is: nothing is left over that has easy room
    first = search.found[0]
    with ThreadPoolExecutor(2, thread_name_prefix="cut list") as pool:
        many = started + MANY_RATIO * seconds
        for done in [pool.submit(search.many, many, 0, first), pool.submit(search.many, many, 1, None)]:
            done.result()
        for done in [pool.submit(search.again, started + seconds, seed) for seed in (2, 3)]:
            done.result()
    return min(search.found, key=lambda cut: cost_of(program, cut))


@dataclass(frozen=True, eq=False)
class _Search:
    """Layouts that were found, and how to find more; ``enough``: at what cost all searches end."""

    program: Program
    saw: Saw
    enough: float
    diving: Lock  # the linear program is one at a time's
    found: list[Cut]

    def many(self, until: float, seed: int, start: Cut | None) -> None:
        """Layouts from the program, each made better, until the time is up; the first from ``start``."""
        rng = np.random.default_rng(seed)
        while time.monotonic() < until and not self.done():
            if start is None:
                with self.diving:
                    start = dived(self.program, rng, until)
            self.on(start, until, int(rng.integers(1 << 30)), PATIENCE)
            start = None

    def again(self, until: float, seed: int) -> None:
        """Some sections of a good layout stay, the others come from the program anew."""
        rng = np.random.default_rng(seed)
        while time.monotonic() < until and not self.done():
            best = sorted(self.found, key=lambda cut: cost_of(self.program, cut))[:GOOD]
            parent = best[int(rng.integers(len(best)) * rng.random())]
            with self.diving:
                start = dived(self.program, rng, until, _some(parent, rng))
            hopeless = cost_of(self.program, parent) * (1.0 + HOPELESS_RATIO)
            self.on(start, until, int(rng.integers(1 << 30)), PATIENCE_AGAIN, hopeless)

    def on(self, cut: Cut, until: float, seed: int, patience: int = 0, hopeless: float = math.inf) -> None:
        """A layout made better, once and then until the time or the patience is at an end; given up soon where it is
        ``hopeless``."""
        state, cost = state_of(self.program, cut), cost_of(self.program, cut)
        still = tries = 0
        while True:
            was = cost
            cost, since = climbed(self.saw, state, cost, TRIES, seed)
            still = since if cost < was - 1e-9 else still + TRIES
            seed, tries = seed + 1, tries + TRIES
            if cost <= self.enough or time.monotonic() >= until or self.done():
                break
            if still >= patience or (tries >= SOON and cost > hopeless):
                break
        self.found.append(cut_of(self.program, state))

    def done(self) -> bool:
        return any(cost_of(self.program, cut) <= self.enough for cut in self.found)


def _some(cut: Cut, rng: np.random.Generator) -> list[Sawn]:
    """A part of its sections, rather whole areas."""
    near = rng.random(1 + max(area for _, area in cut.sawn))
    order = sorted(cut.sawn, key=lambda sawn: near[sawn[1]] + SCATTER * rng.random())
    return order[: round(len(order) * rng.uniform(*STAYS))]


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
    real_bound = cost if cut.best else max(0.0, bound - short)
    return Layout(tuple(laid), missing, cost, real_bound, used, paid, time.monotonic() - started)


def _nothing(program: Program, started: float) -> Layout:
    missing = tuple(part for part, count in enumerate(program.wanted.tolist()) for _ in range(count))
    return Layout((), missing, 0.0, 0.0, {}, 0.0, time.monotonic() - started)
