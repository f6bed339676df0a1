"""Hidden latches: how many assembled ones a second the margins are reckoned for, and how long a search takes.

Run it: python benchmarks/bench_latch.py
"""

from __future__ import annotations

import time

from witnessmark.job.latch import demonstration_latch
from witnessmark.latch.chances import Astray, Loose, drawn, works, yield_of
from witnessmark.latch.gates import Tables
from witnessmark.latch.search import magnets_ratio, search
from witnessmark.verbs.hidden import wood_of

COUNT, TIMES = 500_000, 5


def main() -> None:
    latch = demonstration_latch()
    loose = Loose(magnets_ratio(latch), 0.2, False, (Astray(),) * latch.wish.bolts)
    started = time.perf_counter()
    found = search(latch, wood_of(latch), loose)
    print(f"search over the drawer, kernels compiled or read: {time.perf_counter() - started:.1f} s")
    started = time.perf_counter()
    search(latch, wood_of(latch), loose)
    print(f"search again: {time.perf_counter() - started:.1f} s, {found.looked_at} latches looked at")
    design = found.design
    assert design is not None
    tables = Tables.of(design)
    best = min(
        _seconds(lambda seed=seed: works(design, tables, drawn(latch.spreads, loose, COUNT, seed)))
        for seed in range(TIMES)
    )
    print(f"drawn and judged: {COUNT / best / 1e6:.2f} million assembled latches a second")
    started = time.perf_counter()
    share = yield_of(design, latch.spreads, loose)
    print(f"yield with what matters, {share.tried} latches: {time.perf_counter() - started:.2f} s")


def _seconds(work) -> float:  # type: ignore[no-untyped-def]
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


if __name__ == "__main__":
    main()
