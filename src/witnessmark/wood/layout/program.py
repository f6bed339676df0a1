"""The cut list as a program: the sections found so far, and which new ones would pay.

Question  how often is each section sawn at the least cost, and which section would make it cheaper still
Units     whole mm: parts are rounded up, boards down; costs in the maker's money
Method    a linear program over sections (HiGHS through scipy); its dual values are the worth of each part and the
          rent of a mm of each kind of board, at which new sections are priced (``sections``)
Source    see ``solve``
Refuses   nothing: the caller checks
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .cuts import Triple
from .highs import Growing
from .parts import Clear, CutPart
from .sections import SHALLOW, best_sections, lane_values, proper_section

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

SAME = 1e-7
NEAR_RATIO = 0.04  # sections that cost no more than so much of the whole besides are worth having
# of the worth of parts, for sections that the program alone never asks for
SPREADS = (0.0, 0.02, 0.04, 0.06, 0.08, 0.1, 0.12, 0.15, 0.18, 0.21)
MOST_LEADERS = 40
SEED = 1
FREE_MM3, LEAST_MM3 = 1e-4, 1e-9  # what wood counts where no board has a price, and besides where some have


@dataclass(frozen=True)
class Form:
    """A part as it may lie: number of the part, length and width in whole mm."""

    part: int
    length: int
    width: int


@dataclass(frozen=True)
class Section:
    """A length of one kind of clear area, that of its longest part, and the parts in its lanes (numbers of forms)."""

    kind: int
    length: int
    lanes: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Count:
    """How many sections there are of a kind (None: of all kinds) that are no shorter than ``least`` mm."""

    kind: int | None
    least: int

    def takes(self, section: Section) -> bool:
        return self.kind in (None, section.kind) and section.length >= self.least


Limits = Mapping[Count, tuple[float, float]]  # no fewer and no more than so many


@dataclass(frozen=True, eq=False)
class Relaxed:
    """The linear program solved: its cost, how often each section is used, the worth of each part, the rent of a mm
    of each kind of board, what each cut fines; charge (kinds, lengths): what a section pays for being counted."""

    cost: float
    often: Floats
    worth: Floats
    rent: Floats
    fines: Floats
    charge: Floats


@dataclass(frozen=True, eq=False)
class Fined:
    """Cuts (three parts each), and what a section pays that holds two or more of one's parts."""

    cuts: tuple[Triple, ...]
    fines: Floats

    def by_item(self, parts: Sequence[int]) -> tuple[Ints, Ints, Floats]:
        """cut_of, cut_from and fines for items that are these parts, as ``sections.proper_section`` takes them."""
        paid = [c for c in range(len(self.cuts)) if self.fines[c] > 1e-9]
        of_part: dict[int, list[int]] = {}
        for number, c in enumerate(paid):
            for part in self.cuts[c]:
                of_part.setdefault(part, []).append(number)
        rows = [of_part.get(part, []) for part in parts]
        start = np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.int64)
        return np.array([c for row in rows for c in row], dtype=np.int64), start, self.fines[paid]


class Program:
    """The sections found so far and the programs over them."""

    def __init__(self, parts: Sequence[CutPart], clears: Sequence[Clear], kerf: int) -> None:
        self.parts, self.clears, self.kerf = parts, clears, kerf
        self.wanted = np.array([part.count for part in parts], dtype=np.int64)
        self.forms = _forms(parts)
        kinds = list(dict.fromkeys(clear.kind for clear in clears))
        self.kinds = kinds
        self.kind_of = [kinds.index(clear.kind) for clear in clears]
        self.room = [math.floor(clear.length_mm) + kerf for clear in clears]
        a_mm3 = LEAST_MM3 if any(kind[1] > 0 for kind in kinds) else FREE_MM3
        self.price = [price + a_mm3 * width_mm * thick_mm for width_mm, price, thick_mm, _ in kinds]
        self.sections: list[Section] = []
        self.cuts: list[Triple] = []
        self.counted: list[Count] = []
        self._more: list[Triple | Count] = []  # the program's rows behind those of parts and kinds
        self._counts: list[Counter[int]] = []  # of each section's parts
        self._columns: list[int] = []  # of each section in the linear program
        self._seen: set[Section] = set()
        self.longest = [
            max(room for room, k in zip(self.room, self.kind_of) if k == kind) - kerf for kind in range(len(kinds))
        ]
        self.fits = [self._fitting(kind) for kind in range(len(kinds))]
        self.fit_sets = [frozenset(numbers) for numbers in self.fits]
        dearest = max(self.price, default=1.0)
        self.penalty = [10.0 * dearest * (part.length_mm + kerf) + 1.0 for part in parts]
        m = len(parts)
        self._linear = Growing([0.0] * m + [-np.inf] * len(kinds), [np.inf] * (m + len(kinds)))
        for part, penalty in enumerate(self.penalty):  # what is left over comes first
            self._linear.add(penalty, [part], [1.0])

    def again(self) -> Program:
        """The same program once more, with all sections and cuts, for work beside this one."""
        other = Program(self.parts, self.clears, self.kerf)
        for section in self.sections:
            other.add(section)
        other.cut(self.cuts)
        return other

    @property
    def rooms(self) -> list[float]:
        """The length that there is of each kind of clear area."""
        found = [0.0] * len(self.kinds)
        for room, kind in zip(self.room, self.kind_of):
            found[kind] += room
        return found

    def _fitting(self, kind: int) -> list[int]:
        """Numbers of the forms that such a clear area can hold, by rising width."""
        width, _, thick, species = self.kinds[kind]
        found = [
            number
            for number, form in enumerate(self.forms)
            if form.length <= self.longest[kind]
            and form.width <= math.floor(width)
            and self.parts[form.part].species == species
            and self.parts[form.part].thickness_mm <= thick + 1e-9
        ]
        return sorted(found, key=lambda number: self.forms[number].width)

    def add(self, section: Section) -> bool:
        if section in self._seen:
            return False
        self._seen.add(section)
        self.sections.append(section)
        parts = Counter(self.forms[number].part for lane in section.lanes for number in lane)
        self._counts.append(parts)
        m, k = len(self.parts), len(self.kinds)
        held = [row for row, more in enumerate(self._more) if _held(more, section, parts)]
        rows = [*parts, m + section.kind, *(m + k + row for row in held)]
        length = float(section.length + self.kerf)
        self._columns.append(self._linear.columns)
        self._linear.add(self.cost(section), rows, [*map(float, parts.values()), length, *([1.0] * len(held))])
        return True

    def least_cost(self) -> float:
        """What the bare wood of all parts costs, each from the cheapest board that can hold it."""
        cheapest: dict[int, float] = {}
        for kind, numbers in enumerate(self.fits):
            a_mm2 = self.price[kind] / math.floor(self.kinds[kind][0])
            for part in {self.forms[i].part for i in numbers}:
                cheapest[part] = min(a_mm2, cheapest.get(part, math.inf))
        size = {form.part: form.length * form.width for form in self.forms}
        missing = sum(p * int(n) for k, (p, n) in enumerate(zip(self.penalty, self.wanted)) if k not in cheapest)
        return missing + sum(a_mm2 * size[part] * int(self.wanted[part]) for part, a_mm2 in cheapest.items())

    def cost(self, section: Section) -> float:
        return self.price[section.kind] * (section.length + self.kerf)

    def counts(self, at: int) -> Counter[int]:
        """How many of each part a section (by its number) holds."""
        return self._counts[at]

    def cut(self, triples: Sequence[Triple]) -> None:
        """More cuts."""
        for triple in triples:
            self._row(triple)
            self.cuts.append(triple)

    def count(self, one: Count) -> None:
        """A count that may be limited. (Sections that it wants, and that were not found yet, cost as much as all that
        could be left over.)"""
        if one not in self.counted:
            self._linear.add(sum(self.penalty), [self._row(one)], [1.0])
            self.counted.append(one)

    def _row(self, more: Triple | Count) -> int:
        all_ = zip(self._columns, self.sections, self._counts)
        those = np.array([at for at, section, parts in all_ if _held(more, section, parts)], dtype=np.int64)
        self._linear.add_row(-np.inf, np.inf, those, [1.0] * len(those))
        self._more.append(more)
        return self._linear.rows - 1

    def relaxed(
        self, wanted: Ints, room: Sequence[float], cut: bool = False, limits: Limits | None = None
    ) -> Relaxed:
        """The linear program over the sections found so far; ``cut``: the cuts hold (else they do not)."""
        m, k = len(self.parts), len(self.kinds)
        free, cuts = (-math.inf, math.inf), (-math.inf, 1.0 if cut else math.inf)
        more = [(limits or {}).get(row, free) if isinstance(row, Count) else cuts for row in self._more]
        low = np.concatenate([wanted, np.full(k, -np.inf), [least for least, _ in more]])
        high = np.concatenate([np.full(m, np.inf), room, [most for _, most in more]])
        self._linear.bound(low, high)
        cost, used, dual = self._linear.solve()
        paid = dict(zip(self._more, (-dual[m + k :]).tolist()))
        charge = np.zeros((k, max(self.room) + 1))
        for row in self.counted:
            charge[slice(None) if row.kind is None else row.kind, row.least :] += paid[row]
        fines = np.array([paid[triple] for triple in self.cuts])
        return Relaxed(cost, used[self._columns], dual[:m], -dual[m : m + k], fines, charge)

    def beyond(self, at: Relaxed) -> Floats:
        """What each section costs beyond what its parts are worth (its reduced cost)."""
        return np.array(
            [
                self.cost(section)
                + float(at.rent[section.kind]) * (section.length + self.kerf)
                - sum(float(at.worth[part]) * count for part, count in counts.items())
                for section, counts in zip(self.sections, self._counts)
            ]
        )

    def holds(self) -> Floats:
        """(sections, parts): 1 where a section holds a part."""
        found = np.zeros((len(self.sections), len(self.parts)))
        for at, counts in enumerate(self._counts):
            found[at, list(counts)] = 1.0
        return found

    def priced(
        self, wanted: Ints, at: Relaxed, room: Sequence[float], most_nodes: int = SHALLOW
    ) -> tuple[bool, float]:
        """Add the best section of every kind that pays; (whether one came, the most the cost can still sink by)."""
        came, sinks = False, 0.0
        for kind in range(len(self.kinds)):
            pricing = Pricing.of(self, kind, wanted, at)
            if pricing is None:
                continue
            section, gain, most = pricing.best(pricing.order, most_nodes=most_nodes)
            if section is not None and gain > SAME * (1.0 + self.cost(section)):
                came |= self.add(section)
            sinks += pricing.most_a_mm(most) * room[kind]
        return came, sinks

    def enrich(self, wanted: Ints, at: Relaxed, until: float) -> None:
        """Add good sections of many leaders, at prices of parts a little off those of the program as well."""
        rng = np.random.default_rng(SEED)
        for spread_ratio in SPREADS:
            off = replace(at, worth=at.worth * (1.0 + spread_ratio * rng.standard_normal(len(at.worth))))
            for kind in range(len(self.kinds)):
                pricing = Pricing.of(self, kind, wanted, off)
                if pricing is None:
                    continue
                for s in pricing.order[:MOST_LEADERS]:
                    section, _, _ = pricing.best(np.array([s]), -NEAR_RATIO * float(at.worth.sum()))
                    if section is not None:
                        self.add(section)
                if time.monotonic() > until:
                    return

    def section_of(self, kind: int, lanes: list[list[int]]) -> Section:
        length = max(self.forms[i].length for lane in lanes for i in lane)
        return Section(kind, length, tuple(sorted(tuple(sorted(lane)) for lane in lanes)))

    def lane_length(self, lane: Sequence[int]) -> int:
        return sum(self.forms[i].length for i in lane) + self.kerf * (len(lane) - 1)


@dataclass(frozen=True, eq=False)
class Pricing:
    """The pricing problem of one kind of clear area: the forms that fit (numbers), and the knapsacks over them."""

    program: Program
    kind: int
    numbers: list[int]
    lengths: Ints
    widths: Ints
    counts: Ints
    worth: Floats
    leaders: Ints
    rents: Floats
    lanes: Floats
    values: Floats
    fined: tuple[Ints, Ints, Floats]

    @staticmethod
    def of(program: Program, kind: int, wanted: Ints, at: Relaxed) -> Pricing | None:
        """None where no section can pay."""
        forms, kerf = program.forms, program.kerf
        numbers = [i for i in program.fits[kind] if wanted[forms[i].part] > 0]
        if not numbers:
            return None
        lengths = np.array([forms[i].length for i in numbers], dtype=np.int64)
        widths = np.array([forms[i].width for i in numbers], dtype=np.int64)
        counts = np.array([wanted[forms[i].part] for i in numbers], dtype=np.int64)
        value = np.array([at.worth[forms[i].part] for i in numbers])
        lanes = lane_values(lengths, counts, value, int(lengths.max()) + kerf, kerf)
        across = math.floor(program.kinds[kind][0]) + kerf
        rents = (program.price[kind] + float(at.rent[kind])) * (lengths + kerf) + at.charge[kind, lengths]
        best = np.max(lanes[:, lengths + kerf] / (widths + kerf)[:, None], axis=0)  # worth for each mm across
        leaders = np.flatnonzero(value + best * (across - widths - kerf) > rents)
        if not len(leaders):
            return None
        rents = rents[leaders]
        values = best_sections(leaders, lengths, widths, lanes, across, kerf)
        fined = Fined(tuple(program.cuts), at.fines).by_item([forms[i].part for i in numbers])
        return Pricing(program, kind, numbers, lengths, widths, counts, value, leaders, rents, lanes, values, fined)

    @property
    def gains(self) -> Floats:
        """At most, of a section led by each."""
        beside = self.values.shape[1] - 1 - self.widths[self.leaders] - self.program.kerf
        gains: Floats = self.worth[self.leaders] + self.values[np.arange(len(self.leaders)), beside] - self.rents
        return gains

    @property
    def order(self) -> Ints:
        return np.argsort(-self.gains, kind="stable")

    def most_a_mm(self, most: float) -> float:
        """What a mm of sections can gain, where none gains more than ``most``."""
        return max(
            0.0, float((np.minimum(self.gains, most) / (self.lengths[self.leaders] + self.program.kerf)).max())
        )

    def best(self, order: Ints, least: float = 0.0, most_nodes: int = SHALLOW) -> tuple[Section | None, float, float]:
        """The best section of these leaders that gains more than ``least``, its gain, and the most that one can."""
        across = math.floor(self.program.kinds[self.kind][0]) + self.program.kerf
        gain, bound, items, begins = proper_section(
            self.lengths, self.widths, self.counts, self.worth, self.lanes, self.leaders, self.rents, self.values,
            order, across, self.program.kerf, least, most_nodes, *self.fined,
        )  # fmt: skip
        if items[0] < 0:
            return None, 0.0, float(bound)
        found: list[list[int]] = []
        for item, fresh in zip(items[items >= 0].tolist(), begins.tolist()):
            if fresh:
                found.append([])
            found[-1].append(self.numbers[item])
        return self.program.section_of(self.kind, found), float(gain), float(bound)


def _held(more: Triple | Count, section: Section, parts: Counter[int]) -> bool:
    """Whether a section counts in a row: it holds two of a cut's parts, it is one of those that are counted."""
    if isinstance(more, Count):
        return more.takes(section)
    return sum(part in parts for part in more) >= 2


def _forms(parts: Sequence[CutPart]) -> list[Form]:
    forms = []
    for number, part in enumerate(parts):
        length, width = math.ceil(part.length_mm - 1e-6), math.ceil(part.width_mm - 1e-6)
        forms.append(Form(number, length, width))
        if part.any_grain and length != width:
            forms.append(Form(number, width, length))
    return forms
