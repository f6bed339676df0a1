"""Every way to share items among groups: what layouts are tried out with."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations


def partitions(items: tuple[int, ...]) -> Iterator[list[tuple[int, ...]]]:
    """Every way to share items among groups."""
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for size in range(len(rest) + 1):
        for others in combinations(rest, size):
            left = tuple(i for i in rest if i not in others)
            for more in partitions(left):
                yield [(first, *others), *more]
