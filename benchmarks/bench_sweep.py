"""How fast the sweep is against a plain NumPy removal of the same moves, cutter by cutter, in one run.

Run: python benchmarks/bench_sweep.py
Field 240 x 160 mm in cells of 0.2 mm. Moves: short lines of a ball finish, long sloping lines of roughing, and level
arcs. The reference works with whole arrays over each move's own rectangle, in closed form wherever there is one (all
but sloping lines of the bull cutter, which take a golden section search); it takes a stated part of the moves, and
its time is scaled to all of them. The greatest difference between the two on that part is printed.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector
from witnessmark.field.sweep import remove
from witnessmark.field.threads import thread_count

Floats = NDArray[np.float64]

PITCH_MM = 0.2
SIZE_MM = (240.0, 160.0)
HIGH_MM = 30.0
SEARCH_STEPS = 40  # golden section over a move: 40 steps leave 4e-9 of its length
GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0

CUTTERS = (
    ("flat 6", profile_vector("flat", 6.0)),
    ("ball 6", profile_vector("ball", 6.0)),
    ("bull 6, corner 1", profile_vector("bull", 6.0, 1.0)),
    ("V 12, 60 deg", profile_vector("v", 12.0, included_angle_deg=60.0)),
    ("tapered 6, ball r 1", profile_vector("tapered_ball", 6.0, 1.0, 15.0)),
)


def finish_rows(count: int, draw: np.random.Generator) -> Floats:
    """Short lines in rows 1 mm apart over a wavy surface."""
    per_row = count // 150
    x = np.linspace(5.0, SIZE_MM[0] - 5.0, per_row + 1)
    rows = []
    for k in range(150):
        y = np.full_like(x, 5.0 + k)
        z = 12.0 + 5.0 * np.sin(x / 15.0) * np.cos(k / 12.0)
        rows.append(np.column_stack([x[:-1], y[:-1], z[:-1], x[1:], y[1:], z[1:]]))
    lines = np.concatenate(rows)
    return np.hstack([lines, np.zeros((len(lines), 3))])


def long_lines(count: int, draw: np.random.Generator) -> Floats:
    """Lines across the field, each with a slope of its own."""
    ends = draw.uniform((5.0, 5.0, 8.0), (SIZE_MM[0] - 5.0, SIZE_MM[1] - 5.0, 25.0), (count, 2, 3)).reshape(count, 6)
    return np.hstack([ends, np.zeros((count, 3))])


def arcs(count: int, draw: np.random.Generator) -> Floats:
    """Level arcs of 4 to 30 mm radius, both ways round."""
    radius = draw.uniform(4.0, 30.0, count)
    centre = draw.uniform((35.0, 35.0), (SIZE_MM[0] - 35.0, SIZE_MM[1] - 35.0), (count, 2))
    z, turns = draw.uniform(8.0, 25.0, count), draw.uniform(0.0, 2 * np.pi, (count, 2))
    start, end = (centre + radius[:, None] * np.column_stack([np.cos(t), np.sin(t)]) for t in turns.T)
    return np.column_stack([start, z, end, z, centre, draw.integers(1, 3, count)])


MOVES: tuple[tuple[str, Callable[[int, np.random.Generator], Floats], int, int], ...] = (
    ("finish, short lines", finish_rows, 120_000, 1200),
    ("long sloping lines", long_lines, 400, 6),
    ("level arcs", arcs, 1000, 40),
)


def surface(r: Floats, profile: Floats) -> Floats:
    """b(r) of every kind, whole arrays."""
    kind, radius, corner, slope, blend, blend_z = profile
    if kind == 1:
        return slope * r
    if kind == 2:
        ball = corner - np.sqrt(np.maximum(corner**2 - r**2, 0.0))
        return np.where(r <= blend, ball, blend_z + slope * (r - blend))
    over = np.clip(r - (radius - corner), 0.0, corner)
    return corner - np.sqrt(np.maximum(corner**2 - over**2, 0.0))


def plain(heights: NDArray[np.float32], grid: Grid, moves: Floats, profile: Floats) -> None:
    """The same removal with NumPy, in place: one rectangle of cells a move."""
    radius = profile[1]
    for move in moves:
        low, high = _box(move, radius)
        c0, c1 = np.clip(((np.array([low[0], high[0]]) - grid.x0_mm) / PITCH_MM + [0, 1]).astype(int), 0, grid.nx)
        r0, r1 = np.clip(((np.array([low[1], high[1]]) - grid.y0_mm) / PITCH_MM + [0, 1]).astype(int), 0, grid.ny)
        x, y = grid.x_mm[None, c0:c1], grid.y_mm[r0:r1, None]
        floor = _line(move, x, y, profile) if move[8] == 0 else _arc(move, x, y, profile)
        part = heights[r0:r1, c0:c1]
        np.minimum(part, floor.astype(np.float32), out=part)


def _box(move: Floats, radius: float) -> tuple[Floats, Floats]:
    if move[8] == 0:
        ends = np.array([move[:2], move[3:5]])
        return ends.min(axis=0) - radius, ends.max(axis=0) + radius
    around = np.hypot(*(move[:2] - move[6:8])) + radius
    return move[6:8] - around, move[6:8] + around


def _line(move: Floats, x: Floats, y: Floats, profile: Floats) -> Floats:
    """Least of tip + b(distance) over the line; convex along it, so that the least of a few places is exact."""
    way = move[3:6] - move[:3]
    length = float(np.hypot(way[0], way[1]))
    tx, ty, rise = way[0] / length, way[1] / length, way[2] / length
    along = (x - move[0]) * tx + (y - move[1]) * ty
    beside = np.abs((y - move[1]) * tx - (x - move[0]) * ty)
    half = np.sqrt(np.maximum(profile[1] ** 2 - beside**2, 0.0))
    low, high = np.maximum(along - half, 0.0), np.minimum(along + half, length)
    covered = (beside <= profile[1]) & (low <= high)
    high = np.maximum(low, high)

    def height(u: Floats) -> Floats:
        return move[2] + rise * u + surface(np.minimum(np.hypot(u - along, beside), profile[1]), profile)

    least = np.minimum(height(low), height(high))
    for u in _still(along, beside, rise, profile):
        np.minimum(least, height(np.clip(u, low, high)), out=least)
    if profile[0] == 0 and 0 < profile[2] < profile[1]:
        np.minimum(least, height(_searched(height, low, high)), out=least)
    return np.where(covered, least, np.inf)


def _still(along: Floats, beside: Floats, rise: float, profile: Floats) -> list[Floats]:
    """Where the height over a cell neither rises nor falls along the line: under a ball, and under a cone."""
    kind, radius, corner, slope = profile[:4]
    found = []
    if corner == radius or kind == 2:
        found.append(along - rise / np.hypot(1.0, rise) * np.sqrt(np.maximum(corner**2 - beside**2, 0.0)))
    if kind in (1, 2) and abs(rise) < slope:
        found.append(along - rise * beside / np.sqrt(slope**2 - rise**2))
    return found


def _searched(height: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """The least place of a convex height between two ends, by golden section."""
    for _ in range(SEARCH_STEPS):
        p, q = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
        left = height(p) < height(q)
        low, high = np.where(left, low, p), np.where(left, q, high)
    return np.asarray((low + high) / 2)


def _arc(move: Floats, x: Floats, y: Floats, profile: Floats) -> Floats:
    sense = 1.0 if move[8] == 1 else -1.0
    px, py = x - move[6], y - move[7]
    begin = np.arctan2(move[1] - move[7], move[0] - move[6])
    swept = (sense * (np.arctan2(move[4] - move[7], move[3] - move[6]) - begin)) % (2 * np.pi)
    turn = (sense * (np.arctan2(py, px) - begin)) % (2 * np.pi)
    ends = np.minimum(np.hypot(x - move[0], y - move[1]), np.hypot(x - move[3], y - move[4]))
    beside = np.abs(np.hypot(px, py) - np.hypot(move[0] - move[6], move[1] - move[7]))
    distance = np.where(turn <= swept, beside, ends)
    inside = distance <= profile[1]
    return np.where(inside, move[2] + surface(np.minimum(distance, profile[1]), profile), np.inf)


def seconds(work: Callable[[], object], repeats: int = 3) -> float:
    """Median time of a call, after one to warm up."""
    work()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return sorted(times)[repeats // 2]


def main() -> None:
    grid = Grid.over(0.0, 0.0, *SIZE_MM, PITCH_MM)
    print(f"field {grid.nx} x {grid.ny}, pitch {PITCH_MM} mm, {thread_count()} threads")
    print(f"{'moves':22}{'cutter':22}{'count':>8}{'ours ms':>10}{'moves/s':>12}{'NumPy s':>10}", end="")
    print(f"{'of moves':>10}{'ratio':>8}{'differ mm':>12}")
    for name, make, count, part in MOVES:
        moves = make(count, np.random.default_rng(7))
        some = moves[:: max(1, len(moves) // part)]
        for cutter, profile in CUTTERS:
            ours = seconds(lambda m=moves, p=profile: remove(grid.full(HIGH_MM), grid, m, p))
            by_numpy, by_us = grid.full(HIGH_MM), grid.full(HIGH_MM)
            start = time.perf_counter()
            plain(by_numpy, grid, some, profile)
            plain_s = (time.perf_counter() - start) * len(moves) / len(some)
            remove(by_us, grid, some, profile)
            print(
                f"{name:22}{cutter:22}{len(moves):8d}{ours * 1e3:10.1f}{len(moves) / ours:12.0f}{plain_s:10.2f}"
                f"{len(some):10d}{plain_s / ours:8.0f}{np.abs(by_numpy - by_us).max():12.1e}"
            )


if __name__ == "__main__":
    main()
