"""Many places under suspicion: a sample may fail a proof, but never pass it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray


class Suspects(Protocol):
    """n places, with by how much each is off (n,), mm."""

    @property
    def by_mm(self) -> NDArray[np.float64]: ...


S = TypeVar("S", bound=Suspects)
T = TypeVar("T")


def looked_at(
    suspects: S,
    most: int,
    kept: Callable[[S, NDArray[np.int64]], S],
    look: Callable[[S], T],
    at_fault: Callable[[T], bool],
) -> T:
    """What ``look`` finds in a sample where that is ``at_fault``, else in all of the suspects."""
    some = sample(suspects.by_mm, most)
    if len(some) < len(suspects.by_mm):
        found = look(kept(suspects, some))
        if at_fault(found):
            return found
    return look(suspects)


def sample(by_mm: NDArray[np.float64], most: int) -> NDArray[np.int64]:
    """At most ``most`` rows: the worst third, and of the others every n-th; rising."""
    if len(by_mm) <= most:
        return np.arange(len(by_mm))
    order = np.argsort(-by_mm, kind="stable")
    worst, others = order[: most // 3], np.sort(order[most // 3 :])
    every = -(-len(others) // (most - len(worst)))
    return np.sort(np.concatenate([worst, others[::every]]))
