"""How the passes meet the piece's outline at a height: where they cut into it, and where wood is left on it.

Question  by how much does any pass cut into the wood behind an edge of the outline; which parts of the edge have
          wood left in front of them thicker than an allowance; how thick is the wood in front of a place
Frame     piece frame, heights times ``up`` (see passes)
Units     mm
Arrays    edges, normals, steep, lean as in edges; passes and cells as in passes; bare (k, SPANS, 2) the parts of
          each edge not yet covered, along it from its first end; spans (k,) how many; gouge (k,) level depth, 0 none
Method    At height z a cutter with its tip at t cuts a disc of radius rho(z - t). rho is concave for every cutter
          here, so rho - distance is concave along a straight pass: its greatest value is exact for level passes and
          found by golden section on others. What a pass covers of an edge is one span.
          Wood behind an edge is cut by rho - distance (rho + distance where the pass runs behind it).
Source    plane geometry; golden section search (Kiefer 1953, from memory)
Valid     exact for level passes and flat cutters. Sloping passes of other cutters cover with the radius at their
          higher tip (too little is said to be covered; ``wood_before`` is exact to 1e-6 and asked afterwards).
          A pass more than ``deep_mm`` below an edge that does not lean outward is not tested for gouging there: the
          same pass gouges the same wall lower down at least as much, where it is tested.
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.field.profile import DISC

from .passes import BESIDE_MM, CELL_MM, TALLEST_MM
from .plane import between, covered_span, disc_radius, nearest_on

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SPANS = 6
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
_TURNS = 34  # golden section to 1e-7 of a pass


@njit(cache=True, error_model="numpy")
def _first_below(which: NDArray[np.int32], start: int, end: int, lowest: Floats, z: float) -> int:
    """Where in a cell's list the passes begin whose lowest tip is below z (they come highest first)."""
    while start < end:
        middle = (start + end) // 2
        if lowest[which[middle]] < z:
            end = middle
        else:
            start = middle + 1
    return start


@njit(cache=True, error_model="numpy")
def _cutting(e: Floats, z: float, profile: Floats) -> tuple[float, float]:
    """The share of a pass (from, to) over which it cuts at z: its tip is below and a disc's top above; 1, 0 if never.

    The tip is below z somewhere on the pass.
    """
    low, high = 0.0, 1.0
    if e[2] >= z or e[5] >= z:
        t = (z - e[2]) / (e[5] - e[2])
        low, high = (0.0, t) if e[2] < z else (t, 1.0)
    if profile[0] == DISC:
        top = z - profile[5]
        if e[2] < top and e[5] < top:
            return 1.0, 0.0
        if e[2] < top or e[5] < top:
            t = (top - e[2]) / (e[5] - e[2])
            low, high = (low, min(high, t)) if e[2] >= top else (max(low, t), high)
    return low, high


@njit(cache=True, error_model="numpy")
def _reach_at(e: Floats, t: float, profile: Floats, px: float, py: float, qx: float, qy: float, z: float) -> float:
    """rho - distance from the place at share t of the pass to the edge pq."""
    x, y, tip = e[0] + t * (e[3] - e[0]), e[1] + t * (e[4] - e[1]), e[2] + t * (e[5] - e[2])
    distance, _ = nearest_on(x, y, px, py, qx, qy)
    if profile[0] == DISC:
        return profile[1] - distance
    return disc_radius(max(z - tip, 0.0), profile) - distance


@njit(cache=True, error_model="numpy")
def _best_share(
    e: Floats, low: float, high: float, profile: Floats, px: float, py: float, qx: float, qy: float, z: float
) -> tuple[float, float]:
    """(greatest rho - distance, its share) along a sloping pass; the quantity is concave in the share."""
    a, b = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_a = _reach_at(e, a, profile, px, py, qx, qy, z)
    at_b = _reach_at(e, b, profile, px, py, qx, qy, z)
    for _ in range(_TURNS):
        if at_a < at_b:
            low, a, at_a = a, b, at_b
            b = low + _GOLDEN * (high - low)
            at_b = _reach_at(e, b, profile, px, py, qx, qy, z)
        else:
            high, b, at_b = b, a, at_a
            a = high - _GOLDEN * (high - low)
            at_a = _reach_at(e, a, profile, px, py, qx, qy, z)
    return (at_a, a) if at_a > at_b else (at_b, b)


@njit(cache=True, error_model="numpy")
def _take(bare: NDArray[np.float32], n: int, low: float, high: float) -> int:
    """Take the span [low, high] off the n bare spans of one edge; returns how many are left."""
    i = 0
    while i < n:
        start, end = bare[i, 0], bare[i, 1]
        if high <= start or low >= end:
            i += 1
        elif low <= start and high >= end:
            n -= 1
            bare[i, 0], bare[i, 1] = bare[n, 0], bare[n, 1]
        elif low <= start:
            bare[i, 0] = high
            i += 1
        elif high >= end:
            bare[i, 1] = low
            i += 1
        else:
            if n < len(bare):
                bare[n, 0], bare[n, 1] = high, end
                bare[i, 1] = low
                n += 1
            i += 1
    return n


@njit(cache=True, error_model="numpy")
def _gouge(
    e: Floats, low: float, high: float, profile: Floats, edge: Floats, nx: float, ny: float, z: float
) -> float:
    """Level depth to which one pass (its share low..high is below z) cuts into the wood behind an edge."""
    ax, ay = e[0] + low * (e[3] - e[0]), e[1] + low * (e[4] - e[1])
    bx, by = e[0] + high * (e[3] - e[0]), e[1] + high * (e[4] - e[1])
    tip = min(e[2] + low * (e[5] - e[2]), e[2] + high * (e[5] - e[2]))
    rho = profile[1] if profile[0] == DISC else disc_radius(z - tip, profile)
    distance, on_edge, on_pass = between(edge[0], edge[1], edge[2], edge[3], ax, ay, bx, by)
    if rho <= distance:
        return 0.0
    if e[2] != e[5] and profile[2] + profile[3] > 0.0:
        reach, share = _best_share(e, low, high, profile, edge[0], edge[1], edge[2], edge[3], z)
        if reach <= 0.0:
            return 0.0
        x, y = e[0] + share * (e[3] - e[0]), e[1] + share * (e[4] - e[1])
        distance, on_edge = nearest_on(x, y, edge[0], edge[1], edge[2], edge[3])
        rho = reach + distance
    else:
        x, y = ax + on_pass * (bx - ax), ay + on_pass * (by - ay)
    if 0.0 < on_edge < 1.0:
        x -= edge[0] + on_edge * (edge[2] - edge[0])
        y -= edge[1] + on_edge * (edge[3] - edge[1])
        if x * nx + y * ny < 0.0:
            return rho + distance
    return rho - distance


@njit(cache=True, error_model="numpy", nogil=True)
def meet(
    edges: Floats,
    normals: Floats,
    steep: Floats,
    outward: NDArray[np.bool_],
    z: Floats,
    place: Floats,
    starts: Ints,
    which: NDArray[np.int32],
    circles: NDArray[np.float32],
    ends: Floats,
    lowest: Floats,
    cutter: Ints,
    bulge: Floats,
    profiles: Floats,
    full: Floats,
    allowance: float,
    deep: float,
    bare: NDArray[np.float32],
    spans: NDArray[np.int8],
    gouge: Floats,
    gouged_by: Ints,
    from_row: int,
    to_row: int,
) -> None:
    """Take what the passes cover off ``bare``/``spans`` and note the worst ``gouge`` and its pass for each edge."""
    deepest = deep + full.max()
    for k in range(from_row, to_row):
        mx, my = (edges[k, 0] + edges[k, 2]) / 2, (edges[k, 1] + edges[k, 3]) / 2
        column, row = int((mx - place[0]) // CELL_MM), int((my - place[1]) // CELL_MM)
        if column < 0 or row < 0 or column >= place[2] or row >= place[3]:
            continue
        cell = row * int(place[2]) + column
        length = math.hypot(edges[k, 2] - edges[k, 0], edges[k, 3] - edges[k, 1])
        ux, uy = 1.0, 0.0
        if length > 0.0:
            ux, uy = (edges[k, 2] - edges[k, 0]) / length, (edges[k, 3] - edges[k, 1]) / length
        allow = allowance / steep[k]
        n = int(spans[k])
        worst, by = 0.0, -1
        widest = profiles[:, 1].max() + allow + length / 2
        for i in range(_first_below(which, starts[cell], starts[cell + 1], lowest, z[k]), starts[cell + 1]):
            dx, dy, clear = circles[i, 0] - mx, circles[i, 1] - my, widest + circles[i, 2]
            if dx * dx + dy * dy > clear * clear:
                continue
            p = which[i]
            profile = profiles[cutter[p]]
            too_deep = lowest[p] < z[k] - full[cutter[p]] - deep and not outward[k]
            if too_deep and n == 0:
                if lowest[p] < z[k] - deepest:
                    break
                continue
            e = ends[p]
            away, _ = nearest_on(mx, my, e[0], e[1], e[3], e[4])
            if away > profile[1] + allow + length / 2:
                continue
            low, high = _cutting(e, z[k], profile)
            if low > high:
                continue
            if not too_deep:
                depth = _gouge(e, low, high, profile, edges[k], normals[k, 0], normals[k, 1], z[k])
                if depth > 0.0 and depth + bulge[p] > worst:
                    worst, by = depth + bulge[p], p
            if n > 0:
                rho = profile[1]
                if profile[0] != DISC:
                    rho = disc_radius(z[k] - max(e[2] + low * (e[5] - e[2]), e[2] + high * (e[5] - e[2])), profile)
                if rho + allow - bulge[p] > 0.0:
                    from_s, to_s = covered_span(
                        edges[k, 0],
                        edges[k, 1],
                        ux,
                        uy,
                        e[0] + low * (e[3] - e[0]),
                        e[1] + low * (e[4] - e[1]),
                        e[0] + high * (e[3] - e[0]),
                        e[1] + high * (e[4] - e[1]),
                        rho + allow - bulge[p],
                    )
                    if from_s <= to_s:
                        n = _take(bare[k], n, from_s - 1e-6, to_s + 1e-6)
        spans[k] = n
        if worst > gouge[k]:
            gouge[k], gouged_by[k] = worst, by


@njit(cache=True, error_model="numpy", nogil=True)
def wood_before(
    points: Floats,
    z: Floats,
    place: Floats,
    starts: Ints,
    which: NDArray[np.int32],
    ends: Floats,
    lowest: Floats,
    cutter: Ints,
    profiles: Floats,
    thick: Floats,
    from_row: int,
    to_row: int,
) -> None:
    """Level distance from each place (n, 2) to the nearest wood that is gone at height z (n,); lowers ``thick``."""
    for k in range(from_row, to_row):
        column = int((points[k, 0] - place[0]) // CELL_MM)
        row = int((points[k, 1] - place[1]) // CELL_MM)
        for ring in range(2):
            if ring == 1 and thick[k] <= BESIDE_MM:
                break  # every pass that leaves less before the place is listed in its own cell
            for r in range(max(row - ring, 0), min(row + ring + 1, int(place[3]))):
                for c in range(max(column - ring, 0), min(column + ring + 1, int(place[2]))):
                    cell = r * int(place[2]) + c
                    first = _first_below(which, starts[cell], starts[cell + 1], lowest, z[k])
                    for i in range(first, starts[cell + 1]):
                        p = which[i]
                        profile = profiles[cutter[p]]
                        thick[k] = _thinner(thick[k], points[k, 0], points[k, 1], z[k], ends[p], profile)
                        if thick[k] == 0.0:
                            break


@njit(cache=True, error_model="numpy")
def _thinner(thick: float, px: float, py: float, z: float, e: Floats, profile: Floats) -> float:
    """The lesser of ``thick`` and the way from p to what one pass takes away at height z; not below 0."""
    away, _ = nearest_on(px, py, e[0], e[1], e[3], e[4])
    if away - profile[1] >= thick:
        return thick
    if e[2] == e[5]:
        if profile[0] == DISC and z - e[2] > profile[5]:
            return thick
        reach = disc_radius(z - e[2], profile) - away
    else:
        low, high = _cutting(e, z, profile)
        if low > high:
            return thick
        reach, _ = _best_share(e, low, high, profile, px, py, px, py, z)
    return max(min(thick, -reach), 0.0)


DEEP_MM = 1.5 + TALLEST_MM
