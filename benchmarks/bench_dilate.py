"""How fast dilations of a height field are, against scipy and a plain vectorised double loop, in one run.

Run: python benchmarks/bench_dilate.py
Every comparison is made on the same field; where the slower side would take minutes it works on a stated part of
the rows and its time is scaled up. Results are compared for equality on that part.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy import ndimage

from witnessmark.field.dilate import disc_max, tip_over_surface
from witnessmark.field.drop import top_bounds, top_centre
from witnessmark.field.grid import Grid
from witnessmark.field.profile import profile_vector, surface_height
from witnessmark.field.threads import thread_count

PITCH_MM = 0.5


def seconds(work: Callable[[], object], repeats: int = 5) -> float:
    """Median time of a call, after one to warm up."""
    work()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return sorted(times)[repeats // 2]


def waves(grid: Grid) -> np.ndarray:
    """Waves with a pocket and a post: nowhere flat for long, so that early outs do not flatter the figures."""
    x, y = np.meshgrid(grid.x_mm, grid.y_mm)
    heights = 6 * np.sin(x / 12) * np.cos(y / 12) - 10
    heights[(abs(x - 175) < 75) & (abs(y - 150) < 70)] = -35
    heights[np.hypot(x - 400, y - 300) < 40] = 25
    return heights.astype(np.float32)


def footprint(radius_mm: float) -> tuple[np.ndarray, np.ndarray]:
    k = int(radius_mm / PITCH_MM + 1e-9)
    y, x = np.mgrid[-k : k + 1, -k : k + 1] * PITCH_MM
    return np.hypot(x, y), np.hypot(x, y) <= radius_mm + 1e-9


def plain(heights: np.ndarray, radius_mm: float, rows: int) -> np.ndarray:
    """The first rows of the disc's dilation by shifting the whole field once per offset (NumPy)."""
    _, disc = footprint(radius_mm)
    k = disc.shape[0] // 2
    padded = np.pad(heights, k, constant_values=-np.inf)
    out = np.full((rows, heights.shape[1]), -np.inf, dtype=np.float32)
    for j, i in np.argwhere(disc):
        np.maximum(out, padded[j : j + rows, i : i + heights.shape[1]], out=out)
    return out


def main() -> None:
    grid = Grid.over(0, 0, 500, 400, PITCH_MM)
    heights = waves(grid)
    print(f"field {grid.nx} x {grid.ny}, pitch {PITCH_MM} mm, {thread_count()} threads")
    print(f"{'':24}{'ours ms':>10}{'scipy ms':>12}{'ratio':>8}{'NumPy ms':>12}{'ratio':>8}  equal")
    for radius_mm, scipy_rows, plain_rows in ((3.0, 800, 800), (10.0, 100, 200), (35.0, 8, 40)):
        ours = seconds(lambda r=radius_mm: disc_max(heights, grid, r))
        result = disc_max(heights, grid, radius_mm)
        _, disc = footprint(radius_mm)
        k = disc.shape[0] // 2
        part = heights[: scipy_rows + k]
        start = time.perf_counter()
        by_scipy = ndimage.grey_dilation(part, footprint=disc, mode="constant", cval=-np.inf)[:scipy_rows]
        scipy_s = (time.perf_counter() - start) * grid.ny / len(part)
        start = time.perf_counter()
        by_numpy = plain(heights, radius_mm, plain_rows)
        plain_s = (time.perf_counter() - start) * grid.ny / plain_rows
        equal = np.array_equal(by_scipy, result[:scipy_rows]) and np.array_equal(by_numpy, result[:plain_rows])
        name = f"disc of {radius_mm:g} mm radius"
        print(
            f"{name:24}{ours * 1e3:10.1f}{scipy_s * 1e3:12.0f}{scipy_s / ours:8.0f}"
            f"{plain_s * 1e3:12.0f}{plain_s / ours:8.0f}  {equal}"
        )
    for name, profile in (
        ("ball 6", profile_vector("ball", 6.0)),
        ("bull 6, corner 1", profile_vector("bull", 6.0, 1.0)),
        ("V 12, 60 degrees", profile_vector("v", 12.0, included_angle_deg=60.0)),
    ):
        ours = seconds(lambda p=profile: tip_over_surface(heights, grid, p))
        distance, disc = footprint(float(profile[1]))
        at = np.minimum(distance, profile[1])
        structure = -np.array([[surface_height(r, profile) for r in row] for row in at])
        rows = 100
        start = time.perf_counter()
        by_scipy = ndimage.grey_dilation(
            heights[: rows + len(disc)], footprint=disc, structure=structure, mode="constant", cval=-np.inf
        )[:rows]
        scipy_s = (time.perf_counter() - start) * grid.ny / (rows + len(disc))
        equal = np.allclose(by_scipy, tip_over_surface(heights, grid, profile)[:rows], atol=1e-5)
        print(f"{name:24}{ours * 1e3:10.1f}{scipy_s * 1e3:12.0f}{scipy_s / ours:8.0f}{'':20}  {equal}")
    drops()


def drops() -> None:
    """Dropping a mesh of some 45,000 triangles onto a fine grid."""
    import manifold3d

    mesh = manifold3d.Manifold.sphere(150, 300).scale((1, 0.8, 0.3)).to_mesh()
    triangles = np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3][np.asarray(mesh.tri_verts)]
    grid = Grid.over(-155, -125, 155, 125, 0.2)
    bounds_s = seconds(lambda: top_bounds(triangles, grid), 3)
    centre_s = seconds(lambda: top_centre(triangles, grid), 3)
    cells = grid.nx * grid.ny / 1e6
    print(f"drop {len(triangles)} triangles on {cells:.1f} M cells: bounds {bounds_s * 1e3:.0f} ms, ", end="")
    print(f"centres {centre_s * 1e3:.0f} ms")


if __name__ == "__main__":
    main()
