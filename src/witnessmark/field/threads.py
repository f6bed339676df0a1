"""Share rows of a field among a few threads, so that no two threads ever write to the same row.

Question   how is one field's work split
Frame      any; only row indices
Units      none
Arrays     none
Method     contiguous strips of rows; the kernels release the interpreter's lock (numba nogil)
Source     none needed
Valid      for kernels that write only to their own rows: the result does not depend on the number of strips
Refuses    nothing
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import pairwise
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")


def thread_count() -> int:
    """Threads used by the field kernels: the processors this process may use, at most 8."""
    available = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else (os.cpu_count() or 1)
    return max(1, min(8, available))


@cache
def pool() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(max_workers=thread_count(), thread_name_prefix="field")


def row_strips(row_count: int, strip_count: int) -> list[tuple[int, int]]:
    """Split ``row_count`` rows into at most ``strip_count`` contiguous (from, to) strips, none empty."""
    count = max(1, min(strip_count, row_count))
    edges = [row_count * i // count for i in range(count + 1)]
    return [(a, b) for a, b in pairwise(edges) if b > a]


def in_strips(work: Callable[[int, int], object], row_count: int, strips_each: int = 1, least_rows: int = 16) -> None:
    """Call ``work(from_row, to_row)`` over all rows, in threads; errors are raised here.

    ``strips_each`` strips a thread even out uneven rows. ``work`` must not call ``in_strips`` itself.
    """
    strips = row_strips(row_count, min(thread_count() * strips_each, max(1, row_count // least_rows)))
    if len(strips) == 1 or thread_count() == 1:
        for strip in strips:
            work(*strip)
        return
    for task in [pool().submit(work, *strip) for strip in strips]:
        task.result()


def side_by_side(work: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """Results of ``work`` on every item, two at a time in threads, in their order; errors are raised here.

    Two, because each such part fills memory of its own. For large independent parts, which may call ``in_strips``:
    the heavy work in them (numba kernels, numpy, GEOS, manifold3d) runs outside the interpreter's lock.
    """
    items = list(items)
    if len(items) < 2:
        return [work(item) for item in items]
    with ThreadPoolExecutor(2, thread_name_prefix="part") as parts:
        return list(parts.map(work, items))
