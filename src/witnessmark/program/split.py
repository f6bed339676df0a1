"""Long programs in parts of so many minutes, each ended where the cutter is up: a lesson's length, say.

Question  where may a program be parted so that every part takes no longer than asked
Units     minutes
Method    the last line within the time before which a rapid has brought the tip somewhere (part.lifts);
          where there is none, the next one: such a part takes longer
Source    the time model of ``minutes``
Valid     as ``part``: parts cut what the whole would have cut, motion by motion
Refuses   as ``part`` (Refusal)
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from witnessmark.job.models import Machine

from .minutes import minutes
from .part import between, parts_of
from .read import read


def split(text: str, machine: Machine, longest_minutes: float) -> list[str]:
    """The program whole, or its parts in order; ``longest_minutes`` 0: never parted."""
    if longest_minutes <= 0.0:
        return [text]
    table = read(text)
    takes = minutes(table, machine)
    if takes.total_min <= longest_minutes:
        return [text]
    lifts = np.array(parts_of(text).lifts(), dtype=np.int64)
    done_minutes = np.concatenate([[0.0], np.cumsum(takes.seconds)]) / 60
    at_minutes = done_minutes[np.searchsorted(table.line, lifts)]
    ends = _ends(at_minutes, takes.total_min, longest_minutes)
    lines = [None, *(int(lifts[k]) for k in ends), None]
    count = len(lines) - 1
    return [
        between(text, first, after, (f"part {k} of {count}: run them in order, the cutter stays in",))
        for k, (first, after) in enumerate(pairwise(lines), start=1)
    ]


def _ends(at_minutes: np.ndarray, total_minutes: float, longest_minutes: float) -> list[int]:
    """At which of the lifts the parts end."""
    ends: list[int] = []
    begun = 0.0
    while total_minutes - begun > longest_minutes:
        later = np.flatnonzero(at_minutes > begun + 1e-9)
        if not len(later):
            break
        within = later[at_minutes[later] <= begun + longest_minutes]
        ends.append(int(within[-1] if len(within) else later[0]))
        begun = float(at_minutes[ends[-1]])
    return ends
