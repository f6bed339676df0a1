"""The cut list as an integer program: the cheapest way to saw all parts from the boards, and how far off the best.

Question  which parts are sawn where, so that the length of board that is used up costs least
Units     whole mm: parts are rounded up, boards down; costs in the maker's money
Method    every board is crosscut into sections, every section ripped into lanes, every lane crosscut into parts.
          Sections come one by one from a pricing problem (column generation); the linear program over all of them is
          the bound. More come at prices a little off, and from fixing sections one after another with new ones
          priced in between (a dive); the integer program over all that were found (HiGHS) is the layout
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

from .improve import Cut, cheaper, cost_of, exact, improved
from .master import Choice, dive, tightened
from .parts import Clear, CutPart
from .program import Program, Relaxed

GOOD_RATIO = 0.01  # so near to the bound the search ends, where nobody says
CUTS_RATIO = 0.1  # of the time: to the bound
FIRST_RATIO, WHOLE_RATIO = 0.2, 0.45  # until then the program over all sections, in two searches
MEET_RATIO = 0.7  # then both go on from the better one


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
    started = time.monotonic()
    few = exact(program)
    if few is not None:
        return _placed(program, few, 0.0, started)
    bound = tightened(program, started + CUTS_RATIO * most_seconds)
    dive(program, started + (CUTS_RATIO + 0.1) * most_seconds)
    return _placed(program, _found(program, bound * (1.0 + good_ratio), started, most_seconds), bound, started)


def _found(program: Program, enough: float, started: float, seconds: float) -> Cut:
    """The best layout found in the time: two searches side by side (HiGHS leaves Python free), that meet once."""
    until, meet = started + seconds, started + MEET_RATIO * seconds
    choice = Choice.of(program, program.relaxed(program.wanted, program.rooms))
    if choice is None:
        return improved(program, [], until, enough)

    def left(ratio: float) -> float:
        return max(0.5, started + ratio * seconds - time.monotonic())

    first = improved(program, choice.solved(left(FIRST_RATIO), enough), 0.0, enough)
    if cost_of(program, first) <= enough:
        return first
    with ThreadPoolExecutor(1, thread_name_prefix="cut list") as pool:
        beside = pool.submit(lambda: improved(program, choice.solved(left(WHOLE_RATIO), enough), meet, enough, 1))
        cut = improved(program, first.sawn, meet, enough)
        cut = cheaper(program, cut, beside.result())
        beside = pool.submit(improved, program, cut.sawn, until, enough, 3)
        return cheaper(program, improved(program, cut.sawn, until, enough, 2), beside.result())


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
