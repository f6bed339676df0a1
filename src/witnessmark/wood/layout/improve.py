"""A layout made better a few sections at a time: their parts are laid anew, with every section there is for them.

Question  can the parts of a few sections, chosen by chance, be sawn for less
Units     whole mm; costs in the maker's money
Method    large neighbourhood search: the other sections stay. Of up to a dozen parts set free all sections are at
          hand (``subsets``): their linear program says which could be in a cheaper layout (reduced costs), and the
          integer program over those is exact. More parts are a small cut list of their own, with new sections for
          it. Where nothing near is cheaper, one that is a little dearer is taken, and the search goes on from there
Source    Shaw, Using constraint programming and local search methods to solve vehicle routing problems, CP98 (1998),
          417-431 (from memory); reduced-cost fixing: textbook
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array

from .highs import Growing, integers
from .master import Choice, Sawn, dive, generate
from .program import Program, Section
from .subsets import lane_sizes, narrowest, narrowest_at

MOST_FREE = 12
FREE = (12, 16, 20, 26)
NEXT_COLUMNS, MOST_COLUMNS = 60, 3000
SAME = 1e-7
PATIENCE = 15
EXACT_SECONDS = 5.0
WORSE_RATIO, WORSE_STEP, SHAKE = 0.015, 0.01, 0.15
LONGEST_SECONDS = 1.5

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Cut:
    """A layout: its sections, the forms of parts that are left over, and whether it is known to be the best."""

    sawn: tuple[Sawn, ...]
    missing: tuple[int, ...] = ()
    best: bool = False


def improved(program: Program, sawn: Sequence[Sawn], until: float, enough: float, seed: int = 0) -> Cut:
    """The layout with its parts laid anew, some at a time, until it costs no more than ``enough`` or time is up."""
    now = _tidy(program, sawn)
    rng = np.random.default_rng(seed)
    best, tried = now, 0
    while time.monotonic() < until and cost_of(program, best) > enough:
        some = _some(program, now, rng, FREE[int(rng.integers(len(FREE)))])
        shaken = tried >= PATIENCE  # nothing near is better: go on from somewhere a little worse
        now, changed = _anew(program, now, some, until, rng if shaken else None)
        tried = 0 if changed else tried + 1
        if cost_of(program, now) < cost_of(program, best) - SAME:
            best = now
        elif cost_of(program, now) > (1.0 + WORSE_RATIO) * cost_of(program, best):
            now = best
    return best


def exact(program: Program) -> Cut | None:
    """The best layout of a few parts, each of which lies one way; None where there are too many, or in good time."""
    if int(program.wanted.sum()) > MOST_FREE or len(program.forms) > len(program.parts):
        return None
    items = [k for k, form in enumerate(program.forms) for _ in range(int(program.wanted[form.part]))]
    nothing = cost_of(program, Cut((), tuple(items)))
    _Pool.of(program, items[:1], list(program.room))  # compiled before the clock
    choice = _choice(program, items, list(program.room), nothing, time.monotonic() + EXACT_SECONDS)
    return Cut(tuple(choice[0]), tuple(choice[1]), best=True) if choice and choice[2] else None


def cheaper(program: Program, cut: Cut, other: Cut) -> Cut:
    """The one that costs less."""
    return other if cost_of(program, other) < cost_of(program, cut) else cut


def _tidy(program: Program, sawn: Sequence[Sawn]) -> Cut:
    """The same with nothing sawn that is not wanted, and what is missing told."""
    left = program.wanted.copy()
    kept: list[Sawn] = []
    for section, area in sawn:
        lanes = []
        for lane in section.lanes:
            own = []
            for number in lane:
                part = program.forms[number].part
                if left[part] > 0:
                    left[part] -= 1
                    own.append(number)
            if own:
                lanes.append(own)
        if lanes:
            kept.append((program.section_of(section.kind, lanes), area))
    first = {form.part: number for number, form in reversed(list(enumerate(program.forms)))}
    missing = tuple(first[part] for part, count in enumerate(left.tolist()) for _ in range(count))
    return Cut(tuple(kept), missing)


def cost_of(program: Program, cut: Cut) -> float:
    """What is sawn, and the penalty of what is missing."""
    short = sum(program.penalty[program.forms[number].part] for number in cut.missing)
    return sum(program.cost(section) for section, _ in cut.sawn) + short


def _some(program: Program, now: Cut, rng: np.random.Generator, most: int) -> list[int]:
    """Sections to lay anew, of so many parts at most: one by chance, then others, rather of the same board."""
    count = len(now.sawn)
    sizes = [sum(map(len, section.lanes)) for section, _ in now.sawn]
    first = int(rng.integers(count))
    near = rng.random(count) + 0.5 * np.array([area != now.sawn[first][1] for _, area in now.sawn])
    found, free = [first], sizes[first] + len(now.missing)
    for k in np.argsort(near):
        if k != first and free + sizes[k] <= most:
            found.append(int(k))
            free += sizes[k]
    return found


def _anew(
    program: Program, now: Cut, some: Sequence[int], until: float, rng: np.random.Generator | None = None
) -> tuple[Cut, bool]:
    """These sections' parts, and what is missing, laid in the best way; (layout, whether it is another).

    ``rng``: shaken: at costs a little off, and one that is a little dearer will do.
    """
    kept = [one for k, one in enumerate(now.sawn) if k not in set(some)]
    freed = [now.sawn[k] for k in some]
    items = [number for section, _ in freed for lane in section.lanes for number in lane] + list(now.missing)
    room = list(program.room)
    for section, area in kept:
        room[area] -= section.length + program.kerf
    old = cost_of(program, now) - sum(program.cost(section) for section, _ in kept)
    if not items:
        return now, False
    if len(items) <= MOST_FREE and rng is None:
        found = _choice(program, items, room, old, until)
        choice = found and found[:2]
    else:
        choice = _renewed(program, items, room, old, until, rng)
    if choice is None:
        return now, False
    sawn, missing = choice
    return Cut((*kept, *sawn), tuple(missing)), True


def _renewed(
    program: Program, items: list[int], room: list[int], old: float, until: float, rng: np.random.Generator | None
) -> tuple[list[Sawn], list[int]] | None:
    """Many parts within the room that is left, by sections found for them alone; None: none cheaper than old."""
    count = Counter(program.forms[number].part for number in items)
    mine = list(count)
    areas = [area for area, left in enumerate(room) if left > program.kerf]
    parts = [replace(program.parts[part], count=count[part]) for part in mine]
    clears = [replace(program.clears[area], length_mm=float(room[area] - program.kerf)) for area in areas]
    own = Program(parts, clears, program.kerf)
    _known(program, own, mine)
    bound, at = generate(own, own.wanted, own.rooms, until)
    if bound >= old * (1.0 + WORSE_STEP * (rng is not None)):
        return None
    own.enrich(own.wanted, at, until)
    dive(own, until)
    most = old * (1.0 + WORSE_STEP if rng is not None else 1.0) - SAME * (1.0 + old)
    choice = Choice.of(own, own.relaxed(own.wanted, own.rooms), most)
    if choice is not None and rng is not None:
        choice = replace(choice, cost=choice.cost * (1.0 + SHAKE * rng.random(len(choice.cost))))
    sawn = choice.solved(max(0.1, min(LONGEST_SECONDS, until - time.monotonic()))) if choice else []
    cut = _tidy(own, sawn)
    if cost_of(own, cut) >= most:
        return None
    number_of = {(form.part, form.length, form.width): k for k, form in enumerate(program.forms)}

    def told(number: int) -> int:
        form = own.forms[number]
        return number_of[(mine[form.part], form.length, form.width)]

    back = [
        (
            program.section_of(program.kind_of[areas[area]], [[told(i) for i in lane] for lane in section.lanes]),
            areas[area],
        )
        for section, area in cut.sawn
    ]
    return back, [told(number) for number in cut.missing]


def _known(program: Program, own: Program, mine: Sequence[int]) -> None:
    """The sections that are known already and hold these parts only."""
    at = {part: k for k, part in enumerate(mine)}
    number_of = {(form.part, form.length, form.width): k for k, form in enumerate(own.forms)}
    kind_of = {kind: k for k, kind in enumerate(own.kinds)}
    for number, section in enumerate(program.sections):
        counts = program.counts(number)
        if program.kinds[section.kind] not in kind_of or any(
            part not in at or count > own.wanted[at[part]] for part, count in counts.items()
        ):
            continue
        lanes = [[program.forms[i] for i in lane] for lane in section.lanes]
        there = [[number_of[(at[form.part], form.length, form.width)] for form in lane] for lane in lanes]
        kind = kind_of[program.kinds[section.kind]]
        if section.length <= max(room for room, k in zip(own.room, own.kind_of) if k == kind) - own.kerf:
            own.add(own.section_of(kind, there))


def _choice(
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
