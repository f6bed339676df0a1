"""The lowest that a cutter's tip can come over a solid.

Question   lowest tip height at given places so that the cutter's surface is nowhere below the solid's
Frame      standing frame
Units      mm
Arrays     points (n, 2); triangles (m, 3, 3), only those that do not face down; tips (n,), -inf where nothing is met
Method     tip = max over facets, edges and corners within the radius. Facet: the rounding touches where its normal is
           the facet's, r0 + r sin t out from the axis (t the facet's slope, r the rounding, r0 = R - r). Corner:
           z - b(distance). Edge: the maximum of z(t) - b(r(t)) along it, concave since b is convex and rising:
           in closed form for a ball (a circle on a line) and a flat cutter (the chord's higher end), else by golden
           section. Triangles are kept in buckets, highest first, so that a query ends as soon as no triangle left
           can be higher.
Source     plane and solid geometry
Valid      exact for flat, bull and ball cutters (golden section to 1e-9 mm)
Refuses    nothing: the caller checks once
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.field.profile import surface_height
from witnessmark.field.threads import in_strips

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BUCKET_MM = 2.0
GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0


@dataclass(frozen=True, eq=False)
class Lowest:
    """Triangles in buckets for one cutter's profile; ask ``tips(points)``."""

    triangles: Floats
    profile: Floats
    corner_mm: tuple[float, float]
    shape: tuple[int, int]
    first: Ints
    member: Ints

    def tips(self, points_mm: Floats) -> Floats:
        """Lowest tip (n,) at the places (n, 2 or more), mm."""
        points = np.ascontiguousarray(points_mm[:, :2], dtype=np.float64)
        tips = np.full(len(points), -np.inf)
        buckets = (*self.corner_mm, *self.shape, self.first, self.member)
        in_strips(lambda a, b: _tips(points, self.triangles, self.profile, *buckets, tips, a, b), len(points), 4, 64)
        return tips


def lowest_over(triangles: Floats, profile: Floats) -> Lowest:
    """Sort triangles (m, 3, 3) into buckets for a cutter's profile; those that face down are left out."""
    edge_a, edge_b = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    facing = edge_a[:, 0] * edge_b[:, 1] - edge_a[:, 1] * edge_b[:, 0]
    kept = triangles[facing >= -1e-12]
    kept = np.ascontiguousarray(kept[np.argsort(-kept[..., 2].max(axis=1), kind="stable")])
    radius = float(profile[1]) + 1e-9
    low = kept[..., :2].min(axis=(0, 1)) - radius
    high = kept[..., :2].max(axis=(0, 1)) + radius
    nx, ny = (math.ceil(size / BUCKET_MM) + 1 for size in high - low)
    count = np.zeros(nx * ny + 1, dtype=np.int64)
    _fill(kept, radius, low[0], low[1], nx, ny, count, np.empty(0, dtype=np.int64), True)
    first = np.cumsum(count)
    member = np.empty(first[-1], dtype=np.int64)
    _fill(kept, radius, low[0], low[1], nx, ny, first[:-1].copy(), member, False)
    return Lowest(kept, profile, (float(low[0]), float(low[1])), (nx, ny), first, member)


@njit(cache=True, error_model="numpy")
def _span(t: Floats, y_from: float, y_to: float) -> tuple[float, float]:
    """Extent in x of the part of a triangle between two values of y; (inf, -inf) if none."""
    low, high = np.inf, -np.inf
    for i in range(3):
        ax, ay = t[i, 0], t[i, 1]
        bx, by = t[(i + 1) % 3, 0], t[(i + 1) % 3, 1]
        if y_from <= ay <= y_to:
            low, high = min(low, ax), max(high, ax)
        if ay == by:
            continue
        for y in (y_from, y_to):
            s = (y - ay) / (by - ay)
            if 0.0 <= s <= 1.0:
                x = ax + s * (bx - ax)
                low, high = min(low, x), max(high, x)
    return low, high


@njit(cache=True, error_model="numpy")
def _fill(
    triangles: Floats, radius: float, x0: float, y0: float, nx: int, ny: int, at: Ints, member: Ints, counting: bool
) -> None:
    """Count triangles into at[k + 1], or write them from at[k] on; bucket k is row * nx + column."""
    for m in range(len(triangles)):
        t = triangles[m]
        y_low = min(t[0, 1], t[1, 1], t[2, 1]) - radius
        y_high = max(t[0, 1], t[1, 1], t[2, 1]) + radius
        j0 = max(0, int((y_low - y0) / BUCKET_MM))
        j1 = min(ny - 1, int((y_high - y0) / BUCKET_MM))
        for j in range(j0, j1 + 1):
            row = y0 + j * BUCKET_MM
            x_low, x_high = _span(t, row - radius, row + BUCKET_MM + radius)
            if x_low > x_high:
                continue
            i0 = max(0, int((x_low - radius - x0) / BUCKET_MM))
            i1 = min(nx - 1, int((x_high + radius - x0) / BUCKET_MM))
            for i in range(i0, i1 + 1):
                k = j * nx + i
                if counting:
                    at[k + 1] += 1
                else:
                    member[at[k]] = m
                    at[k] += 1


@njit(cache=True, error_model="numpy")
def _on_facet(t: Floats, x: float, y: float, corner: float, flat: float) -> float:
    """Tip height when the rounding touches the inside of a facet; -inf if it touches elsewhere."""
    ux, uy, uz = t[1, 0] - t[0, 0], t[1, 1] - t[0, 1], t[1, 2] - t[0, 2]
    vx, vy, vz = t[2, 0] - t[0, 0], t[2, 1] - t[0, 1], t[2, 2] - t[0, 2]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    if nz <= 1e-12:
        return -np.inf
    run = math.sqrt(nx * nx + ny * ny)
    size = math.sqrt(run * run + nz * nz)
    sine, cosine = run / size, nz / size
    cx, cy = x, y
    if run > 1e-12 * size:
        out = flat + corner * sine
        cx -= nx / run * out
        cy -= ny / run * out
    a = ((cx - t[0, 0]) * vy - (cy - t[0, 1]) * vx) / nz
    b = ((cy - t[0, 1]) * ux - (cx - t[0, 0]) * uy) / nz
    if a < 0.0 or b < 0.0 or a + b > 1.0:
        return -np.inf
    return t[0, 2] + a * uz + b * vz - corner * (1.0 - cosine)


@njit(cache=True, error_model="numpy")
def _on_edge(ax: float, ay: float, az: float, bx: float, by: float, bz: float, profile: Floats) -> float:
    """Tip height over an edge a-b given relative to the axis; -inf if out of reach."""
    radius, corner = profile[1], profile[2]
    dx, dy, dz = bx - ax, by - ay, bz - az
    run2 = dx * dx + dy * dy
    r2 = radius * radius
    if run2 < 1e-18:
        if ax * ax + ay * ay > r2:
            return -np.inf
        return max(az, bz) - surface_height(math.sqrt(ax * ax + ay * ay), profile)
    middle = -(ax * dx + ay * dy) / run2
    away2 = max(ax * ax + ay * ay - middle * middle * run2, 0.0)
    if away2 > r2:
        return -np.inf
    half = math.sqrt((r2 - away2) / run2)
    low, high = max(0.0, middle - half), min(1.0, middle + half)
    if low > high:
        return -np.inf
    if corner == 0.0:
        return az + dz * (high if dz > 0.0 else low)
    if corner == radius:
        rho = math.sqrt(r2 - away2)
        best = middle + rho * dz / math.sqrt(run2 + dz * dz) / math.sqrt(run2)
        best = min(max(best, low), high)
        d2 = away2 + (best - middle) ** 2 * run2
        return az + dz * best - surface_height(math.sqrt(min(d2, r2)), profile)
    return _on_edge_by_search(az, dz, middle, away2, run2, low, high, profile)


@njit(cache=True, error_model="numpy")
def _along(t: float, az: float, dz: float, middle: float, away2: float, run2: float, profile: Floats) -> float:
    d = math.sqrt(away2 + (t - middle) ** 2 * run2)
    return az + dz * t - surface_height(min(d, profile[1]), profile)


@njit(cache=True, error_model="numpy")
def _on_edge_by_search(
    az: float, dz: float, middle: float, away2: float, run2: float, low: float, high: float, profile: Floats
) -> float:
    """Golden section for the greatest of a concave function on [low, high]."""
    p = high - GOLDEN * (high - low)
    q = low + GOLDEN * (high - low)
    fp, fq = _along(p, az, dz, middle, away2, run2, profile), _along(q, az, dz, middle, away2, run2, profile)
    for _ in range(48):
        if fp > fq:
            high, q, fq = q, p, fp
            p = high - GOLDEN * (high - low)
            fp = _along(p, az, dz, middle, away2, run2, profile)
        else:
            low, p, fp = p, q, fq
            q = low + GOLDEN * (high - low)
            fq = _along(q, az, dz, middle, away2, run2, profile)
    ends = max(_along(low, az, dz, middle, away2, run2, profile), _along(high, az, dz, middle, away2, run2, profile))
    return max(ends, fp, fq)


@njit(cache=True, error_model="numpy", nogil=True)
def _tips(
    points: Floats,
    triangles: Floats,
    profile: Floats,
    x0: float,
    y0: float,
    nx: int,
    ny: int,
    first: Ints,
    member: Ints,
    tips: Floats,
    n_from: int,
    n_to: int,
) -> None:
    """Tips of the points n_from to n_to, in place."""
    corner = profile[2]
    flat = profile[1] - corner
    for n in range(n_from, n_to):
        x, y = points[n, 0], points[n, 1]
        i, j = math.floor((x - x0) / BUCKET_MM), math.floor((y - y0) / BUCKET_MM)
        if i < 0 or j < 0 or i >= nx or j >= ny:
            continue
        best = -np.inf
        for k in range(first[j * nx + i], first[j * nx + i + 1]):
            t = triangles[member[k]]
            if max(t[0, 2], t[1, 2], t[2, 2]) <= best:
                break
            best = max(best, _on_facet(t, x, y, corner, flat))
            for e in range(3):
                a, b = t[e], t[(e + 1) % 3]
                if max(a[2], b[2]) > best:
                    best = max(best, _on_edge(a[0] - x, a[1] - y, a[2], b[0] - x, b[1] - y, b[2], profile))
        tips[n] = best
