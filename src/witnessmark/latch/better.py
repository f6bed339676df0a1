"""The least change that makes a latch work as often as is wished.

Question  what would bring the yield up, and how far, from the least trouble on
Method    each change is judged with the same draws (see ``chances``); where none alone does, the best two together
Source    friction of waxed wood 0.2, bolts filed to half their spread, holes drilled with a guide to half of theirs:
          our own choice, to be measured
Valid     as ``chances``
Refuses   nothing
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations

from witnessmark.job.latch import Spreads

from .chances import Loose, drawn, works
from .design import Design
from .gates import Tables

TRIED = 50_000
WAXED_RATIO = 0.2
THINNER_MM = 0.5

State = tuple[Design, Spreads, Loose]


@dataclass(frozen=True)
class Change:
    """In words, and how often the latch works with it."""

    words: str
    works_ratio: float


def _waxed(state: State) -> State:
    return state[0], state[1], replace(state[2], friction_ratio=WAXED_RATIO)


def _filed(state: State) -> State:
    return state[0], state[1].model_copy(update={"bolt_mm": state[1].bolt_mm / 2}), state[2]


def _felt(state: State) -> State:
    return state[0], state[1].model_copy(update={"skin_mm": state[1].skin_mm / 2}), state[2]


def _guided(state: State) -> State:
    return state[0], state[1].model_copy(update={"hole_place_mm": state[1].hole_place_mm / 2}), state[2]


def _thinner(state: State) -> State:
    return replace(state[0], skin_mm=max(0.5, state[0].skin_mm - THINNER_MM)), state[1], state[2]


def _stacked(state: State) -> State:
    key = state[0].key
    more = replace(key, disc=replace(key.disc, stack=key.disc.stack + 1))
    return replace(state[0], key=more), state[1], state[2]


CHANGES: tuple[tuple[str, Callable[[State], State]], ...] = (
    ("wax the bolts and their guides", _waxed),
    ("file the bolts to length twice as truly", _filed),
    ("feel the skin's thickness and cut it twice as evenly", _felt),
    ("drill the holes with a guide, twice as truly placed", _guided),
    (f"leave the skin {THINNER_MM:g} mm thinner", _thinner),
    ("put one more magnet on each stack of the key", _stacked),
)


def changes(design: Design, spreads: Spreads, loose: Loose) -> tuple[Change, ...]:
    """Each change alone, from the least trouble on."""
    return tuple(Change(words, _share(turn((design, spreads, loose)))) for words, turn in CHANGES)


def cheapest(design: Design, spreads: Spreads, loose: Loose, wished_ratio: float) -> Change:
    """The first that reaches what is wished; else the two that come to the most together."""
    for change in changes(design, spreads, loose):
        if change.works_ratio >= wished_ratio:
            return change
    both = [
        Change(f"{one} and {other}", _share(turn(also((design, spreads, loose)))))
        for (one, turn), (other, also) in combinations(CHANGES, 2)
    ]
    return next(
        (pair for pair in both if pair.works_ratio >= wished_ratio), max(both, key=lambda pair: pair.works_ratio)
    )


def _share(state: State) -> float:
    design, spreads, loose = state
    return float(works(design, Tables.of(design), drawn(spreads, loose, TRIED)).mean())
