"""A few parts laid in the best way there is: every section of them is at hand, and the integer program is exact.

Question  what is the cheapest way to saw up to a dozen parts within the room that is left of every area
Units     whole mm; costs in the maker's money
Method    the narrowest section of every set of parts (``subsets``); their linear program says which of them could be
          in a cheaper layout (reduced costs), the integer program over those is exact
Source    reduced-cost fixing: textbook
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array

from .cut import Cut, Sawn, cost_of
from .highs import Growing, integers
from .program import Program, Section
from .subsets import lane_sizes, narrowest, narrowest_at

MOST_FEW = 12
NEXT_COLUMNS, MOST_COLUMNS = 60, 3000
SAME = 1e-7
EXACT_SECONDS, LONGEST_SECONDS = 5.0, 1.5

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def exact(program: Program) -> Cut | None:
    """The best layout of a few parts, each of which lies one way; None where there are too many, or in good time."""
    if int(program.wanted.sum()) > MOST_FEW or len(program.forms) > len(program.parts):
        return None
    items = [k for k, form in enumerate(program.forms) for _ in range(int(program.wanted[form.part]))]
    nothing = cost_of(program, Cut((), tuple(items)))
    _Pool.of(program, items[:1], list(program.room))  # compiled before the clock
    choice = cheapest(program, items, list(program.room), nothing, time.monotonic() + EXACT_SECONDS)
    return Cut(tuple(choice[0]), tuple(choice[1]), best=True) if choice and choice[2] else None


def cheapest(
    program: Program, items: list[int], room: list[int], old: float, until: float
) -> tuple[list[Sawn], list[int], bool] | None:
    """The cheapest way to saw some parts within the room that is left of every area, and whether that is certain;
    None: none cheaper than old."""
    pool = _Pool.of(program, items, room)
    bound, reduced = pool.bound()
    able = np.flatnonzero(reduced <= old - bound + SAME)
    if bound >= old - SAME * (1.0 + old) or not len(able) or time.monotonic() > until:
        return None
    some = len(able) > MOST_COLUMNS
    able = able[np.argsort(reduced[able], kind="stable")[:MOST_COLUMNS]]
    seconds = max(0.1, min(LONGEST_SECONDS, until - time.monotonic()))
    n, count = len(items), len(able)
    low = np.concatenate([np.ones(n), np.full(len(room), -np.inf)])
    high = np.concatenate([np.ones(n), np.array(room, dtype=float)])
    costs = np.concatenate([pool.cost[able], pool.penalty])
    found = integers(costs, pool.matrix(able), low, high, seconds, 0.0)
    if found is None or float(costs @ found[0]) >= old - SAME * (1.0 + old):
        return None
    taken = np.flatnonzero(found[0] > 0.5)
    sawn = []
    for k in able[taken[taken < count]].tolist():
        area = int(pool.area[k])
        sawn.append((_section(program, items, pool, int(pool.mask[k]), program.kind_of[area]), area))
    return sawn, [items[k - count] for k in taken[taken >= count].tolist()], found[1] and not some


@dataclass(frozen=True, eq=False)
class _Pool:
    """Every section of some parts, from every clear area with room for it: mask, area, length with its kerf, cost."""

    lengths: Ints
    widths: Ints
    mask: Ints
    area: Ints
    length: Ints
    cost: Floats
    penalty: Floats
    room: Floats

    @staticmethod
    def of(program: Program, items: list[int], room: list[int]) -> _Pool:
        forms, kerf = program.forms, program.kerf
        lengths = np.array([forms[i].length for i in items], dtype=np.int64)
        widths = np.array([forms[i].width for i in items], dtype=np.int64)
        need, longest = narrowest(lengths, widths, kerf)
        masks, areas, costs = [], [], []
        for area, kind in enumerate(program.kind_of):
            fits = sum(1 << k for k, i in enumerate(items) if i in program.fit_sets[kind])
            across = math.floor(program.kinds[kind][0]) + kerf
            some = np.flatnonzero((need <= across) & (longest + kerf <= room[area]))
            some = some[(some & ~fits == 0) & (some > 0)]
            masks.append(some)
            areas.append(np.full(len(some), area))
            costs.append(program.price[kind] * (longest[some] + kerf).astype(float))
        mask, from_area = np.concatenate(masks), np.concatenate(areas)
        penalty = np.array([program.penalty[forms[i].part] for i in items])
        return _Pool(
            lengths, widths, mask, from_area, longest[mask] + kerf, np.concatenate(costs), penalty,
            np.array(room, dtype=float),
        )  # fmt: skip

    def matrix(self, some: Ints) -> csc_array:
        """Parts, then areas, over these sections; then what is left over."""
        n, count = len(self.lengths), len(some)
        columns, rows = np.nonzero((self.mask[some, None] >> np.arange(n)) & 1)
        values = np.concatenate([np.ones(len(rows)), self.length[some].astype(float), np.ones(n)])
        row = np.concatenate([rows, n + self.area[some], np.arange(n)])
        column = np.concatenate([columns, np.arange(count), count + np.arange(n)])
        return coo_array((values, (row, column)), shape=(n + len(self.room), count + n)).tocsc()

    def bound(self) -> tuple[float, Floats]:
        """The least that a linear program over all of them costs, and what each costs beyond its worth there."""
        n = len(self.lengths)
        sets = np.arange(1 << n)
        linear = Growing([*np.ones(n), *([-np.inf] * len(self.room))], [*np.ones(n), *self.room])
        for k, penalty in enumerate(self.penalty.tolist()):
            linear.add(penalty, [k], [1.0])
        while True:
            cost, _, dual = linear.solve()
            of_set = np.zeros(1 << n)
            for k in range(n):
                of_set += dual[k] * (sets >> k & 1)
            reduced = self.cost - of_set[self.mask] - dual[n + self.area] * self.length
            more = np.argsort(reduced, kind="stable")[:NEXT_COLUMNS]
            more = more[reduced[more] < -SAME]
            if not len(more):
                return cost, reduced
            for at in more.tolist():
                rows = [*np.flatnonzero(self.mask[at] >> np.arange(n) & 1).tolist(), n + int(self.area[at])]
                linear.add(float(self.cost[at]), rows, [*([1.0] * (len(rows) - 1)), float(self.length[at])])


def _section(program: Program, items: list[int], pool: _Pool, mask: int, kind: int) -> Section:
    """The narrowest section of a set, with its lanes."""
    along, wide, longest = lane_sizes(pool.lengths, pool.widths, program.kerf)
    _, lane = narrowest_at(along, wide, longest, program.kerf, int(longest[mask]))
    lanes = []
    while mask:
        own = int(lane[mask])
        lanes.append([items[k] for k in range(len(items)) if own >> k & 1])
        mask ^= own
    return program.section_of(kind, lanes)
