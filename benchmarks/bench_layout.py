"""Cut lists of 40 parts on 12 boards: how far from their bound, and how long it took.

Three families of random piles: boards whose price goes by their area, within a tenth, with parts and boards several
alike or all unlike (as a workshop has them), and boards of any price, a square metre of some up to five times as dear
as of others, all unlike (as hard as they come).

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
PRICE_MM2 = 70e-6
PARTS, BOARDS = 40, 12
ALIKE = range(1, 21)
BY_AREA = range(1, 21)
ANY_PRICE = ((1, 40), (2, 40), (3, 40), (4, 10), (5, 20), *((k, 40) for k in range(6, 25)))


def parts_of(rng: np.random.Generator, kinds: int) -> list[CutPart]:
    return [
        CutPart(f"p{k}", float(rng.integers(150, 700)), float(rng.integers(35, 130)), 20.0, CHERRY, PARTS // kinds)
        for k in range(kinds)
    ]


def boards_of(rng: np.random.Generator, kinds: int, by_area: bool) -> list[Board]:
    found = []
    for k in range(kinds):
        long_mm, wide_mm = float(rng.integers(1200, 2600)), float(rng.integers(120, 260))
        price = long_mm * wide_mm * PRICE_MM2 * rng.uniform(0.9, 1.1) if by_area else float(rng.integers(15, 45))
        found.append(
            Board(
                name=f"b{k}",
                length_mm=long_mm,
                width_mm=wide_mm,
                thickness_mm=25.0,
                price=price,
                count=BOARDS // kinds,
            )
        )
    return found


def main() -> None:
    print("prices   seed  kinds of parts  boards used  cost    bound   gap     seconds")
    piles = [("by area", seed, 10, 3) for seed in ALIKE]
    piles += [("by area", seed, PARTS, BOARDS) for seed in BY_AREA]
    piles += [("any", seed, kinds, BOARDS) for seed, kinds in ANY_PRICE]
    for prices, seed, kinds, unlike in piles:
        rng = np.random.default_rng(seed)
        parts, boards = parts_of(rng, kinds), boards_of(rng, unlike, prices == "by area")
        started = time.perf_counter()
        layout = lay_out(parts, clear_areas(spread(boards), Sawing()), 3.2, SECONDS)
        seconds = time.perf_counter() - started
        used = len({laid.board for laid in layout.laid})
        figures = f"{layout.cost:7.2f} {layout.bound:7.2f}  {layout.gap_ratio:5.2%}  {seconds:5.1f}"
        print(f"{prices:7}  {seed:4}  {kinds:14}  {used:11}  {figures}", flush=True)


if __name__ == "__main__":
    main()
