"""Cut lists of 40 parts on 12 boards: how far from their bound, and how long it took.

Run it: python benchmarks/bench_layout.py
"""

from __future__ import annotations

import time

import numpy as np

from witnessmark.job.boards import Board, Sawing
from witnessmark.wood.layout.parts import CutPart, clear_areas, spread
from witnessmark.wood.layout.solve import lay_out

CHERRY = "cherry, black"
SECONDS = 28.0


def main() -> None:
    print("seed  kinds of parts  boards used  cost    bound   gap     seconds")
    for seed, kinds in ((1, 40), (2, 40), (3, 40), (4, 10), (5, 20), (6, 40), *((k, 40) for k in range(7, 25))):
        rng = np.random.default_rng(seed)
        parts = [
            CutPart(f"p{k}", float(rng.integers(150, 700)), float(rng.integers(35, 130)), 20.0, CHERRY, 40 // kinds)
            for k in range(kinds)
        ]
        boards = [
            Board(
                name=f"b{k}",
                length_mm=float(rng.integers(1200, 2600)),
                width_mm=float(rng.integers(120, 260)),
                thickness_mm=25.0,
                price=float(rng.integers(15, 45)),
            )
            for k in range(12)
        ]
        started = time.perf_counter()
        layout = lay_out(parts, clear_areas(spread(boards), Sawing()), 3.2, SECONDS)
        seconds = time.perf_counter() - started
        used = len({laid.board for laid in layout.laid})
        figures = f"{layout.cost:7.2f} {layout.bound:7.2f}  {layout.gap_ratio:5.2%}  {seconds:5.1f}"
        print(f"{seed:4}  {kinds:14}  {used:11}  {figures}")


if __name__ == "__main__":
    main()
