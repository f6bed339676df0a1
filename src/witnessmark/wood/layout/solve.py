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
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import LinearConstraint, milp
from scipy.sparse import coo_array

from .parts import Clear, CutPart
from .program import SAME, Program

ROUNDS = 400
ENOUGH_RATIO = 0.002


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


def lay_out(parts: Sequence[CutPart], clears: Sequence[Clear], kerf_mm: float, most_seconds: float = 20.0) -> Layout:
    """The cheapest layout found within the time, with its bound."""
    program = Program(parts, clears, math.ceil(kerf_mm - 1e-6))
    room = [
        float(sum(r for r, k in zip(program.room, program.kind_of) if k == kind))
        for kind in range(len(program.kinds))
    ]
    if not clears or not parts:
        return _nothing(program, time.monotonic())
    program.priced(
        program.wanted, np.zeros(len(parts)), np.zeros(len(program.kinds)), room
    )  # compiled before the clock
    started = time.monotonic()
    bound = _generate(program, program.wanted, room, started + most_seconds / 4, enriched=True)
    _dive(program, room, started + most_seconds / 3)
    chosen = _chosen(program, max(1.0, started + most_seconds - time.monotonic()))
    return _placed(program, chosen, bound, started)


Chosen = list[tuple[int, int]]  # section, clear area: one for each section sawn


def _generate(
    program: Program, wanted: NDArray[np.int64], room: list[float], until: float, enriched: bool = False
) -> float:
    """Sections until none pays; the bound (while some still pay: less what they could save)."""
    bound = 0.0
    for _ in range(ROUNDS):
        cost, _, worth, rent = program.relaxed(wanted, room)
        came, sinks = program.priced(wanted, worth, rent, room)
        bound = max(bound, cost - sinks)
        if not came:
            if enriched:
                program.enrich(wanted, worth, rent, until)
            return cost
        if time.monotonic() > until:
            break
    return bound


def _chosen(program: Program, seconds: float) -> Chosen:
    """The integer program: which section is sawn from which clear area, how often."""
    pairs = [
        (at, area)
        for at, section in enumerate(program.sections)
        for area, kind in enumerate(program.kind_of)
        if kind == section.kind and section.length + program.kerf <= program.room[area]
    ]
    m, n = len(program.parts), len(pairs)
    rows, columns, values = [], [], []
    for column, (at, area) in enumerate(pairs):
        section = program.sections[at]
        for part, count in program.counts(section).items():
            rows.append(part)
            columns.append(column)
            values.append(float(count))
        rows.append(m + area)
        columns.append(column)
        values.append(float(section.length + program.kerf))
    for part in range(m):
        rows.append(part)
        columns.append(n + part)
        values.append(1.0)
    matrix = coo_array((values, (rows, columns)), shape=(m + len(program.room), n + m)).tocsr()
    costs = np.array([*(program.cost(program.sections[at]) for at, _ in pairs), *program.penalty])
    low = np.array([*program.wanted.tolist(), *([-np.inf] * len(program.room))])
    high = np.array([*([np.inf] * m), *program.room])
    found = milp(
        costs,
        constraints=LinearConstraint(matrix, low, high),
        integrality=np.ones(n + m),
        options={"time_limit": seconds, "mip_rel_gap": ENOUGH_RATIO},
    )
    if found.x is None:
        return []
    often = np.round(found.x[:n]).astype(np.int64)
    return [pair for pair, count in zip(pairs, often.tolist()) for _ in range(count)]


def _dive(program: Program, room: list[float], until: float) -> None:
    """Fix the section that is used most, price new ones for what is left, and so on: more sections to choose from."""
    wanted, left = program.wanted.copy(), list(room)
    while wanted.sum() > 0 and time.monotonic() < until:
        _generate(program, wanted, left, until)
        _, often, _, _ = program.relaxed(wanted, left)
        often = often[: len(program.sections)]
        usable = [
            (min(value, 1.0 + value % 1.0), at)
            for at, value in enumerate(often.tolist())
            if value > SAME and left[program.sections[at].kind] >= program.sections[at].length + program.kerf
        ]
        if not usable:
            return
        _, at = max(usable)
        section = program.sections[at]
        for _ in range(max(1, math.floor(often[at] + SAME))):
            counts = program.counts(section)
            if all(wanted[part] <= 0 for part in counts) or left[section.kind] < section.length + program.kerf:
                break
            for part, count in counts.items():
                wanted[part] = max(0, wanted[part] - count)
            left[section.kind] -= section.length + program.kerf


def _cost(program: Program, chosen: Chosen) -> float:
    sawn: Counter[int] = Counter()
    for at, _ in chosen:
        sawn += program.counts(program.sections[at])
    missing = [max(0, int(w) - sawn[part]) for part, w in enumerate(program.wanted.tolist())]
    short = sum(count * penalty for count, penalty in zip(missing, program.penalty))
    return sum(program.cost(program.sections[at]) for at, _ in chosen) + short


def _placed(program: Program, chosen: Chosen, bound: float, started: float) -> Layout:
    """Sections one behind another from each clear area's end, the longest first; what is not wanted is left out."""
    left = program.wanted.copy()
    laid: list[Laid] = []
    used: dict[int, float] = {}
    for at, area in sorted(chosen, key=lambda pair: (pair[1], -program.sections[pair[0]].length)):
        section, clear = program.sections[at], program.clears[area]
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
    real_bound = max(0.0, bound - short) if missing else bound
    return Layout(tuple(laid), missing, cost, real_bound, used, paid, time.monotonic() - started)


def _nothing(program: Program, started: float) -> Layout:
    missing = tuple(part for part, count in enumerate(program.wanted.tolist()) for _ in range(count))
    return Layout((), missing, 0.0, 0.0, {}, 0.0, time.monotonic() - started)
