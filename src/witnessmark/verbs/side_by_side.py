"""Pieces do not depend on one another: work on them side by side, results in order."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")


def side_by_side(work: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """Results of ``work`` on every item, in their order; the first exception stops it.

    Threads serve: the heavy parts (numba kernels, GEOS, manifold3d) run outside the interpreter's lock.
    """
    workers = max(1, min(4, os.cpu_count() or 1))
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(work, items))
