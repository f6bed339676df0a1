"""The speed that the proof stands on: moves a second, memory's speed, watching, and how cost grows; one run.

Run: python benchmarks/bench_proof.py [--markdown]
Field 400 x 300 mm in cells of 0.2 mm, two threads on two processors. Everything is a ratio to something measured in
the same run: the same moves in plain NumPy (bench_sweep.plain) and by mesh booleans (manifold3d), each on a stated
part and scaled to all; the memory's own speed by the triad a = b + s c (McCalpin, J. D. (1995), Memory bandwidth and
machine balance in current high performance computers, IEEE TCCA Newsletter; 24 bytes an element counted, from
memory). Exponents are slopes of a straight line through the logarithms. ``--markdown`` prints the table of docs.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
from bench_sweep import plain, seconds
from manifold3d import CrossSection, Manifold
from numba import njit, prange
from numpy.typing import NDArray

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector, surface_height
from witnessmark.field.sweep import remove
from witnessmark.field.threads import thread_count
from witnessmark.field.watch import remove_and_watch

Floats = NDArray[np.float64]

PITCH_MM = 0.2
SIZE_MM = (400.0, 300.0)
HIGH_MM = 40.0
EDGE_MM = 10.0  # of wood round the finished surface that stays
BALL = profile_vector("ball", 6.0)
FLAT = profile_vector("flat", 6.0)
CONE = profile_vector("v", 6.0, included_angle_deg=60.0)
TAPERED = profile_vector("tapered_ball", 6.0, 1.0, 15.0)
PLAIN_MOVES = 600
MESH_MOVES = 150
TRIAD_ELEMENTS = 20_000_000


@njit(parallel=True, fastmath=True)
def triad(a: Floats, b: Floats, c: Floats, s: float) -> None:
    for i in prange(a.size):
        a[i] = b[i] + s * c[i]


def triad_gb_s() -> float:
    """Best of several passes, 10^9 bytes a second."""
    a, b, c = (np.ones(TRIAD_ELEMENTS) for _ in range(3))
    triad(a, b, c, 3.0)
    best = np.inf
    for _ in range(10):
        start = time.perf_counter()
        triad(a, b, c, 3.0)
        best = min(best, time.perf_counter() - start)
    return 24 * TRIAD_ELEMENTS / best / 1e9


def raster(count: int) -> Floats:
    """A ball finish of ``count`` short moves: rows 0.5 mm apart, back and forth over a wavy surface."""
    rows = int((SIZE_MM[1] - 2 * EDGE_MM) / 0.5)
    per_row = max(1, round(count / rows))
    x = np.linspace(EDGE_MM, SIZE_MM[0] - EDGE_MM, per_row + 1)
    parts = []
    for k in range(rows):
        y = EDGE_MM + 0.5 * k
        z = 22.0 + 5.0 * np.sin(x / 15.0) * np.cos(y / 12.0)
        points = np.column_stack([x, np.full_like(x, y), z])[:: 1 if k % 2 == 0 else -1]
        parts.append(np.hstack([points[:-1], points[1:]]))
    lines = np.concatenate(parts)
    return np.hstack([lines, np.zeros((len(lines), 3))])


def roughing(count: int) -> Floats:
    """Long level moves along x, rows 2.4 mm apart, level under level."""
    rows = int((SIZE_MM[1] - 2 * EDGE_MM) / 2.4)
    k = np.arange(count)
    y, z = EDGE_MM + 2.4 * (k % rows), HIGH_MM - 1.5 * (1 + k // rows)
    left, right = np.full(count, EDGE_MM), np.full(count, SIZE_MM[0] - EDGE_MM)
    forth = k % 2 == 0
    a, b = np.where(forth, left, right), np.where(forth, right, left)
    return np.column_stack([a, y, z, b, y, z, np.zeros((count, 3))])


def roughing_bytes(moves: Floats, grid: Grid) -> float:
    """Bytes read and written: 8 for every cell under every move, from its area."""
    length = np.abs(moves[:, 3] - moves[:, 0])
    area_mm2 = length * 2 * FLAT[1] + np.pi * FLAT[1] ** 2
    return float(area_mm2.sum()) / grid.pitch_mm**2 * 8


def steps(stickout_mm: float) -> Floats:
    """Shank, collet nut and spindle nose above the tip."""
    return np.array(
        [
            (3.0, 16.0, stickout_mm),
            (10.0, stickout_mm, stickout_mm + 20),
            (32.5, stickout_mm + 20, stickout_mm + 100),
        ]
    )


def fresh(pitch_mm: float = PITCH_MM) -> tuple[np.ndarray, Grid]:
    grid = Grid.over(0.0, 0.0, *SIZE_MM, pitch_mm)
    return grid.full(HIGH_MM), grid


def taken_s(work: Callable[[np.ndarray, Grid], object], pitch_mm: float = PITCH_MM, repeats: int = 5) -> float:
    """Least time of the work on a fresh field; filling it is not counted."""
    best = np.inf
    for _ in range(repeats + 1):
        heights, grid = fresh(pitch_mm)
        start = time.perf_counter()
        work(heights, grid)
        best = min(best, time.perf_counter() - start)
    return best


def plain_s(moves: Floats, profile: Floats) -> float:
    """Time of plain NumPy for all moves, from an even part of them."""
    some = moves[:: max(1, len(moves) // PLAIN_MOVES)]
    heights, grid = fresh()
    took = seconds(lambda: plain(heights, grid, some, profile), repeats=1)
    return took * len(moves) / len(some)


def booleans_s(moves: Floats, profile: Floats) -> float:
    """Time of mesh booleans for all moves, from the first of them: a hull of the cutter at both ends, taken away."""
    radii = profile[1] * np.sin(np.linspace(0, np.pi / 2, 16))
    rise = np.append([surface_height(r, profile) for r in radii], HIGH_MM)
    turn = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    r = np.append(radii, profile[1])[:, None]
    flat = np.stack([r * np.cos(turn), r * np.sin(turn), np.broadcast_to(rise[:, None], (17, 32))], -1)
    body = flat.reshape(-1, 3)
    wood = Manifold.cube((*SIZE_MM, HIGH_MM))
    start = time.perf_counter()
    for move in moves[:MESH_MOVES]:
        wood = wood - Manifold.hull_points(np.vstack([body + move[:3], body + move[3:6]]))
    assert wood.volume() > 0.0  # evaluated here, not later
    return (time.perf_counter() - start) * len(moves) / MESH_MOVES


def exponent(sizes: list[float], times: list[float]) -> float:
    return float(np.polyfit(np.log(sizes), np.log(times), 1)[0])


def peak_bytes_a_cell() -> tuple[float, float]:
    """How the greatest memory of a whole proof grows with the cells of its blank; seconds of the finer."""
    from witnessmark.job.demonstration import demonstration_cutters, demonstration_machine
    from witnessmark.job.frames import standing
    from witnessmark.job.models import Settings
    from witnessmark.job.placement import Placement
    from witnessmark.proof.judge import blank_columns, prove
    from witnessmark.proof.verdict import ProgramText
    from witnessmark.shapes.solid import Solid

    low, high = np.array([-125.0, -150.0, 0.0]), np.array([125.0, 150.0, HIGH_MM])
    turn = np.linspace(0, np.pi, 200)
    right = np.column_stack([100 + 3 * np.sin(turn), -3 * np.cos(turn)])
    groove = CrossSection([np.vstack([right, -right]).tolist()]).extrude(5.0).translate((0.0, 0.0, HIGH_MM - 4.0))
    solid = Solid(Manifold.cube((250.0, 300.0, HIGH_MM), True).translate((0.0, 0.0, HIGH_MM / 2)) - groove)
    text = "G21 G90 G94\nM3 S18000\nG0 Z50\nG0 X45 Y170\nG1 Z36 F600\nG1 X245 F2000\nG1 X45\nG0 Z50\nM30\n"
    place = Placement("1", "+z", standing("+z", low, high), (145.0, 170.0), 0.0, (-125, -150, 125, 150), ("flat 6",))
    peaks, cells, took = [], [], 0.0
    for pitch in (PITCH_MM, PITCH_MM, PITCH_MM / 2):  # the first time kernels are loaded or compiled
        settings = Settings(proof_pitch_mm=pitch)
        tracemalloc.start()
        start = time.perf_counter()
        verdict = prove(
            [ProgramText("groove.nc", "1", "flat 6", text)],
            blank_columns(low, high, settings),
            solid,
            demonstration_machine(),
            [c for c in demonstration_cutters() if c.name == "flat 6"],
            {"1": place},
            settings,
        )
        took = time.perf_counter() - start
        peaks.append(tracemalloc.get_traced_memory()[1])
        cells.append(250.0 * 300.0 / pitch**2)
        tracemalloc.stop()
        assert verdict.passed, verdict.findings
    return (peaks[2] - peaks[1]) / (cells[2] - cells[1]), took


SMALL = "G21 G90 G94\nM3 S18000\nG0 Z30\nG0 X10 Y10\nG1 Z15 F300\nG1 X90 F1200\nG0 Z30\nM30\n"
ALONE = ["--machine", "three-hundred router", "--cutter", "flat 6", "--blank", "100x60x20"]


def command_s(words: list[str]) -> float:
    """Median time of a command, warm, start included."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "small.nc").write_text(SMALL)
        line = [str(Path(sys.executable).with_name("witnessmark")), *words]
        return seconds(lambda: subprocess.run(line, check=True, cwd=folder, capture_output=True), repeats=3)


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--markdown", action="store_true")
    markdown = options.parse_args().markdown
    rows: list[tuple[str, str, str]] = []

    def say(what: str, got: str, wanted: str) -> None:
        rows.append((what, got, wanted))
        if not markdown:
            print(f"{what:64}{got:>24}   {wanted}", flush=True)

    gb_s = triad_gb_s()
    _, grid = fresh()
    say(f"triad, {thread_count()} threads", f"{gb_s:.1f} GB/s", "")
    say("field", f"{grid.nx} x {grid.ny} cells", "")

    finish = raster(400_000)
    ours = taken_s(lambda h, g: remove(h, g, finish, BALL))
    rate = len(finish) / ours / 1e6
    say(f"ball finish of {len(finish)} moves", f"{ours:.3f} s", "")
    say("  against plain NumPy", f"{plain_s(finish, BALL) / ours:.0f} times", "at least 70")
    say("  against mesh booleans", f"{booleans_s(finish, BALL) / ours:.0f} times", "at least 1000")
    say("  million moves/s per 16 GB/s", f"{rate * 16 / gb_s:.2f}", "at least 1.2")

    rough = roughing(1000)
    took = taken_s(lambda h, g: remove(h, g, rough, FLAT))
    moved = roughing_bytes(rough, grid) / took / 1e9
    say("1000 long level flat moves", f"{took * 1e3:.1f} ms", "")
    say("  of the triad's speed", f"{100 * moved / gb_s:.0f} %", "at least 70 %")

    def share(moves: Floats, profile: Floats, stickout_mm: float) -> tuple[str, str]:
        """What watching the parts adds to cutting with a record of each move; what that adds to bare cutting."""
        cut = taken_s(lambda h, g: remove(h, g, moves, profile))
        none = np.empty((0, 3))
        recorded = taken_s(lambda h, g: remove_and_watch(h, g, moves, profile, 16.0, none))
        watched = taken_s(lambda h, g: remove_and_watch(h, g, moves, profile, 16.0, steps(stickout_mm)))
        return f"{100 * (watched / recorded - 1):.0f} %", f"{recorded / cut:.1f} times"

    for name, moves, profile, stickout_mm in (
        ("ball finish, parts above the wood", finish, BALL, 30.0),
        ("ball finish, nut beside standing wood", finish, BALL, 21.0),
        ("long level flat moves", rough, FLAT, 30.0),
    ):
        adds, record = share(moves, profile, stickout_mm)
        say(f"whole-assembly test adds, {name}", adds, "at most 35 %")
        say("  removal with depth, volume and height met of each move, to bare removal", record, "")

    for name, profile in (("V", CONE), ("tapered ball", TAPERED)):
        chain = taken_s(lambda h, g, p=profile: remove(h, g, finish, p), repeats=2)
        say(f"{name}, a chain of {len(finish)} moves", f"{len(finish) / chain / 1e6:.2f} M moves/s", "at least 0.4")

    counts = [10_000, 30_000, 100_000, 300_000, 1_000_000]
    times = []
    for count in counts:
        moves = raster(count)
        times.append(taken_s(lambda h, g, m=moves: remove_and_watch(h, g, m, BALL, 16.0, steps(30.0)), repeats=2))
    path = [f"{t:.3f}" for t in times]
    say("ball finish and watch, 10^4 to 10^6 moves", " ".join(path) + " s", "")
    say("  exponent over moves on one surface", f"{exponent([float(c) for c in counts], times):.2f}", "at most 1")
    lengths, times = [0.25, 0.5, 1.0], []
    for share in lengths:
        part = finish[: int(len(finish) * share)]
        times.append(taken_s(lambda h, g, m=part: remove_and_watch(h, g, m, BALL, 16.0, steps(30.0)), repeats=2))
    say("  exponent over length of path", f"{exponent(lengths, times):.2f}", "at most 1.1")
    pitches = [0.4, 0.28, 0.2, 0.14, 0.1]
    times = [
        taken_s(lambda h, g: remove_and_watch(h, g, finish, BALL, 16.0, steps(30.0)), pitch, 2) for pitch in pitches
    ]
    say("the same at 0.4, 0.28, 0.2, 0.14, 0.1 mm", " ".join(f"{t:.3f}" for t in times) + " s", "")
    cells = [1 / pitch**2 for pitch in pitches]
    say("  exponent over cells", f"{exponent(cells, times):.2f}", "at most 1.1")

    each, took = peak_bytes_a_cell()
    say("greatest memory of a whole proof", f"{each:.0f} bytes a cell", "at most 40")
    say("  which took, while memory was traced", f"{took:.1f} s", "")
    for what, words, wanted in (
        ("witnessmark --help", ["--help"], "under 0.5 s"),
        ("witnessmark prove, a small program without a job", ["prove", "small.nc", *ALONE], "under 3 s"),
    ):
        say(what, f"{command_s(words):.2f} s", wanted)
    if markdown:
        print("| what | measured | wanted |\n|---|---|---|")
        for what, got, wanted in rows:
            print(f"| {what.strip()} | {got} | {wanted} |")


if __name__ == "__main__":
    main()
