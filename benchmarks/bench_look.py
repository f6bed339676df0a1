"""How long the first question takes: a small piece, the chest, and a plate three travels large, each asked warm.

Run: python benchmarks/bench_look.py. Prints seconds, placements and their bound.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import manifold3d

from witnessmark.shapes.ginkgo import tea_chest_body
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookAnswer, LookSizes, look

SMALL_TRAVEL_MM, LARGE_TRAVEL_MM = (300.0, 300.0, 90.0), (300.0, 400.0, 90.0)


def pocketed(x_mm: float, y_mm: float, z_mm: float) -> Solid:
    """A plate with a pocket of 0.4 of its thickness over a third of it."""
    cube = manifold3d.Manifold.cube
    pocket = cube((x_mm * 0.6, y_mm * 0.6, z_mm * 0.8), True).translate((0, 0, z_mm / 2))
    return Solid(cube((x_mm, y_mm, z_mm), True) - pocket)


def asked(solid: Solid, travel_mm: tuple[float, float, float], folder: Path) -> LookAnswer:
    sizes = LookSizes(travel_mm=travel_mm, cutter_mm=6, stickout_mm=45, nut_mm=(20, 20), nose_mm=65)
    return look(write_stl(solid, folder / "piece.stl"), sizes, picture=folder / "look.png")


def main() -> None:
    pieces = (
        ("plate 120 x 80 x 25", pocketed(120, 80, 25), SMALL_TRAVEL_MM),
        ("tea chest body", tea_chest_body(), LARGE_TRAVEL_MM),
        ("plate 900 x 900 x 20", pocketed(900, 900, 20), SMALL_TRAVEL_MM),
    )
    with tempfile.TemporaryDirectory() as folder:
        asked(pieces[0][1], SMALL_TRAVEL_MM, Path(folder))  # compiles the kernels, or loads them
        for name, solid, travel_mm in pieces:
            started = time.perf_counter()
            answer = asked(solid, travel_mm, Path(folder))
            seconds = time.perf_counter() - started
            said = f"{len(answer.plan.placements)} placements, bound {answer.plan.bound}"
            print(f"{name:22} {seconds:6.1f} s   {said}")


if __name__ == "__main__":
    main()
