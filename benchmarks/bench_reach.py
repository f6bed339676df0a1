"""How fast reach is on a blank of 470 x 370 mm, and against its own mathematics done by scipy, in one run.

Run: python benchmarks/bench_reach.py
Scene: a leaf-like piece with walls flaring 12 degrees, foot up, in a blank 62 high; travel ends across the middle;
nose 65, nut 20 x 20, flat 6 mm cutter. The scipy figure is one sweep of the floor (dilations by nut and nose, and
the lowering) on a strip of the field, scaled to all rows.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy import ndimage

from witnessmark.field.columns import Columns
from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.field.threads import thread_count
from witnessmark.reach.clearance import least_clearance
from witnessmark.reach.entry import enterable
from witnessmark.reach.floor import reachable_floor
from witnessmark.reach.scene import Scene, Spindle
from witnessmark.reach.wanted import wanted_tips


def timed(work: Callable[[], object], repeats: int = 3) -> tuple[float, object]:
    """Median seconds of a call after one to warm up, and its result."""
    work()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        result = work()
        times.append(time.perf_counter() - start)
    return sorted(times)[repeats // 2], result


def leaf_scene(pitch_mm: float) -> Scene:
    grid = Grid.over(-235, -185, 235, 185, pitch_mm)
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    turn = np.arctan2(y / 155, x / 205)
    inside = np.hypot(x / 205, y / 155) < 0.86 + 0.12 * np.cos(3 * turn)
    from_rim_mm = ndimage.distance_transform_edt(inside) * pitch_mm
    piece = np.where(inside, np.minimum(62.0, 4.0 + 5.0 + from_rim_mm / np.tan(np.radians(12))), -np.inf)
    return Scene(grid, grid.full(62.0), piece.astype(np.float32))


def spindle(stickout_mm: float) -> Spindle:
    steps = np.array(
        [
            (3.0, 32.0, stickout_mm),
            (10.0, stickout_mm, stickout_mm + 20),
            (32.5, stickout_mm + 20, stickout_mm + 100),
        ]
    )
    window = (-290.0, -195.0, 10.0, 195.0)
    kinds = ("shank", "nut", "nose")
    return Spindle(profile_vector("flat", 6.0), steps, 32.0, 0.0, 90.0, window, False, 3.0, kinds)


def sweep_by_scipy(scene: Scene, bit: Spindle, rows: int) -> float:
    """Seconds that scipy would take for one sweep of all rows, from a strip of them."""
    pitch_mm = scene.grid.pitch_mm
    start = time.perf_counter()
    for radius_mm in (10.0, 32.5, 3.0):
        k = int(radius_mm / pitch_mm)
        y, x = np.mgrid[-k : k + 1, -k : k + 1]
        disc = np.hypot(x, y) * pitch_mm <= radius_mm
        ndimage.grey_dilation(scene.top[:rows], footprint=disc, mode="constant", cval=-np.inf)
    return (time.perf_counter() - start) * scene.grid.ny / rows


def main() -> None:
    print(f"{thread_count()} threads")
    print(
        f"{'pitch':>6}{'stick-out':>10}{'cells':>9}{'floor s':>9}{'sweeps':>7}{'clearance s':>12}{'rounds':>7}",
        end="",
    )
    print(f"{'entry s':>9}{'in the way cm3':>15}{'cut for it':>11}{'scipy sweep s':>14}{'ours':>7}{'ratio':>7}")
    for pitch_mm in (1.0, 0.5, 0.25):
        scene = leaf_scene(pitch_mm)
        for stickout_mm in (45.0, 25.0):
            bit = spindle(stickout_mm)
            floor_s, floor = timed(lambda s=scene, b=bit: reachable_floor(s, b))
            wanted = wanted_tips(scene, bit, 3.5, 3.0, (-235.0, -185.0, 5.0, 185.0))
            clear_s, clear = timed(lambda s=scene, b=bit, f=floor, w=wanted: least_clearance(s, b, f, w))
            entry_s, _ = timed(lambda s=scene, b=bit, c=clear: enterable(s, b, c.tips))
            scipy_s, own_s = sweep_by_scipy(scene, bit, max(4, int(8 * 0.5 / pitch_mm))), floor_s / floor.sweeps
            cut_ratio = clear.volume_mm3 / max(clear.needed_mm3, 1.0)
            print(
                f"{pitch_mm:6.2f}{stickout_mm:10.0f}{scene.top.size / 1e6:8.2f}M{floor_s:9.3f}{floor.sweeps:7d}"
                f"{clear_s:12.3f}{clear.rounds:7d}{entry_s:9.3f}{clear.needed_mm3 / 1e3:15.1f}"
                f"{cut_ratio:11.3f}{scipy_s:14.1f}{own_s:7.3f}{scipy_s / own_s:7.0f}"
            )
    columns()


def columns() -> None:
    """Cutting, turning over and looking for loose wood in a blank of four million columns."""
    up, over = np.eye(3), np.diag([1.0, -1.0, -1.0])
    grid = Grid.over(0, 0, 470, 370, 0.2)
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    top = (40 + 15 * np.sin(x / 20) * np.cos(y / 20)).astype(np.float32)
    block = Columns.block(grid, 0.0, 62.0)
    cut_s, once = timed(lambda: block.lowered(top, up))
    over_s, twice = timed(lambda: once.lowered(top[::-1].copy(), over))
    held = np.ones(grid.shape, dtype=bool)
    loose_s, loose = timed(lambda: twice.loose(held, over))
    print(f"columns, {grid.nx * grid.ny / 1e6:.1f} M cells: cut down {cut_s * 1e3:.0f} ms, from below ", end="")
    print(f"{over_s * 1e3:.0f} ms, loose wood {loose_s * 1e3:.0f} ms ({len(loose)} pieces)")


if __name__ == "__main__":
    main()
