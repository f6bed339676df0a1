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
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_array

from .parts import Clear, CutPart
from .sections import best_sections, lane_values, proper_section

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

SAME = 1e-7
NEAR_RATIO = 0.04  # sections that cost no more than so much of the whole besides are worth having
SPREADS = (
    0.0,
    0.02,
    0.04,
    0.06,
    0.1,
    0.15,
)  # of the worth of parts, for sections that the program alone never asks for
MOST_LENGTHS = 40
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
    """A length of one kind of clear area, and the parts in its lanes (numbers of forms)."""

    kind: int
    length: int
    lanes: tuple[tuple[int, ...], ...]


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
        self._seen: set[Section] = set()
        self.fits = [self._fitting(kind) for kind in range(len(kinds))]
        dearest = max(self.price, default=1.0)
        self.penalty = [10.0 * dearest * (part.length_mm + kerf) + 1.0 for part in parts]

    def _fitting(self, kind: int) -> list[int]:
        """Numbers of the forms that such a clear area can hold, by rising width."""
        width, _, thick, species = self.kinds[kind]
        longest = max(room for room, k in zip(self.room, self.kind_of) if k == kind) - self.kerf
        found = [
            number
            for number, form in enumerate(self.forms)
            if form.length <= longest
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
        return True

    def cost(self, section: Section) -> float:
        return self.price[section.kind] * (section.length + self.kerf)

    def counts(self, section: Section) -> Counter[int]:
        return Counter(self.forms[number].part for lane in section.lanes for number in lane)

    def relaxed(self, wanted: Ints, room: list[float]) -> tuple[float, Floats, Floats, Floats]:
        """The linear program: (cost, how often each section, worth of each part, worth of a mm of each kind)."""
        n, m, k = len(self.sections), len(self.parts), len(self.kinds)
        rows, columns, values = [], [], []
        for at, section in enumerate(self.sections):
            for part, count in self.counts(section).items():
                rows.append(part)
                columns.append(at)
                values.append(-float(count))
            rows.append(m + section.kind)
            columns.append(at)
            values.append(float(section.length + self.kerf))
        for part in range(m):  # what is left over
            rows.append(part)
            columns.append(n + part)
            values.append(-1.0)
        matrix = coo_array((values, (rows, columns)), shape=(m + k, n + m)).tocsr()
        costs = np.array([*(self.cost(s) for s in self.sections), *self.penalty])
        found = linprog(costs, A_ub=matrix, b_ub=np.array([*(-wanted).tolist(), *room]), method="highs")
        duals = -found.ineqlin.marginals
        return float(found.fun), np.asarray(found.x), np.asarray(duals[:m]), np.asarray(duals[m:])

    def priced(self, wanted: Ints, worth: Floats, rent: Floats, room: list[float]) -> tuple[bool, float]:
        """Add the best section of every kind that pays; (whether one came, the most the cost can still sink by)."""
        came, sinks = False, 0.0
        for kind in range(len(self.kinds)):
            pricing = Pricing.of(self, kind, wanted, worth, self.price[kind] + float(rent[kind]))
            if pricing is None:
                continue
            section, gain, most = pricing.best(pricing.order)
            if section is not None and gain > SAME * (1.0 + self.cost(section)):
                came |= self.add(section)
            # no more than the room holds of the best section can be used
            sinks += max(0.0, most) * room[kind] / (int(pricing.lengths.min()) + self.kerf)
        return came, sinks

    def enrich(self, wanted: Ints, worth: Floats, rent: Floats, until: float) -> None:
        """Add good sections of every length, at prices of parts a little off those of the program as well."""
        rng = np.random.default_rng(SEED)
        for spread_ratio in SPREADS:
            off = worth * (1.0 + spread_ratio * rng.standard_normal(len(worth)))
            for kind in range(len(self.kinds)):
                pricing = Pricing.of(self, kind, wanted, off, self.price[kind] + float(rent[kind]))
                if pricing is None:
                    continue
                for s in pricing.order[:MOST_LENGTHS]:
                    section, _, _ = pricing.best(np.array([s]), -NEAR_RATIO * float(worth.sum()))
                    if section is not None:
                        self.add(section)
                if time.monotonic() > until:
                    return

    def section_of(self, kind: int, lanes: list[list[int]]) -> Section:
        return Section(kind, max(map(self.lane_length, lanes)), tuple(sorted(tuple(sorted(lane)) for lane in lanes)))

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
    price: float
    lanes: Floats
    gains: Floats
    values: Floats

    @staticmethod
    def of(program: Program, kind: int, wanted: Ints, worth: Floats, price: float) -> Pricing | None:
        forms = program.forms
        numbers = [i for i in program.fits[kind] if wanted[forms[i].part] > 0]
        if not numbers:
            return None
        lengths = np.array([forms[i].length for i in numbers], dtype=np.int64)
        widths = np.array([forms[i].width for i in numbers], dtype=np.int64)
        counts = np.array([wanted[forms[i].part] for i in numbers], dtype=np.int64)
        value = np.array([worth[forms[i].part] for i in numbers])
        lanes = lane_values(lengths, counts, value, int(lengths.max()) + program.kerf, program.kerf)
        across = math.floor(program.kinds[kind][0]) + program.kerf
        gains, values = best_sections(lengths, widths, lanes, across, program.kerf, price)
        return Pricing(program, kind, numbers, lengths, widths, counts, value, price, lanes, gains, values)

    @property
    def order(self) -> Ints:
        return np.argsort(-self.gains, kind="stable")

    def best(self, order: Ints, least: float = 0.0) -> tuple[Section | None, float, float]:
        """The best section of these lengths that gains more than ``least``, its gain, and the most that one can."""
        across = math.floor(self.program.kinds[self.kind][0]) + self.program.kerf
        gain, bound, items, begins = proper_section(
            self.lengths, self.widths, self.counts, self.worth, self.lanes, self.values, order, self.gains[order],
            across, self.program.kerf, self.price, least,
        )  # fmt: skip
        if items[0] < 0:
            return None, 0.0, float(bound)
        found: list[list[int]] = []
        for item, fresh in zip(items[items >= 0].tolist(), begins.tolist()):
            if fresh:
                found.append([])
            found[-1].append(self.numbers[item])
        return self.program.section_of(self.kind, found), float(gain), float(bound)


def _forms(parts: Sequence[CutPart]) -> list[Form]:
    forms = []
    for number, part in enumerate(parts):
        length, width = math.ceil(part.length_mm - 1e-6), math.ceil(part.width_mm - 1e-6)
        forms.append(Form(number, length, width))
        if part.any_grain and length != width:
            forms.append(Form(number, width, length))
    return forms
