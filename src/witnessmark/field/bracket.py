"""Between which bounds the made surface lies over the whole of each cell, not at its middle alone.

Question   how far can the surface that the moves leave stand above the wanted one anywhere in a cell, and how far can
           it lie beneath
Frame      standing frame; rows along +y, columns along +x
Units      mm
Arrays     lines (n, 6) float64: from x, y, z; to x, y, z; bulge (n,): how far the way may run beside its line (chords
           of arcs, level); profile (6,) as in field.profile; least, most (ny, nx) float64: bounds of made minus
           wanted, narrowed in place by ``narrow``
Method     What one straight move leaves of a cutter whose surface never falls with the radius is a convex function f
           of the place, finite over its own footprint. Against a plane it is greatest over a cell at one of the
           corners: the least over the moves of that bounds the made surface from above. From beneath f >= 2 f(middle)
           - max f over the corners (convex about the middle); where a footprint covers a part of the cell only,
           and wherever it is better, the lowest tip within reach and the surface at (distance - half
           diagonal) bound it.
Source     convex analysis, derived here: f(q) = min over u of z(u) + b(|q - p(u)|) is the least over u of a function
           convex in (q, u)
Valid      every slope and kind; what float64 rounds; with faces of field.facets, if the wanted surface is one of the
           planes wherever in the cell
Refuses    nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .facets import Facets
from .grid import Grid
from .profile import CONE, ROUND, TAPERED_BALL, disc_radius, surface_height
from .sweep_moves import columns_of, rows_of, stadium_span

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

HALVINGS = 50
FEW_HALVINGS = 30
ROUNDING_MM = 1e-6  # what few halvings leave
UPRIGHT_MM = 1e-9
LEVEL_RATIO = 1e-12
TILE = 16


def widest(facets: Facets, blank_top_mm: float) -> tuple[Floats, Floats]:
    """(least, most) before any move: the blank's own level top."""
    least, most = np.empty_like(facets.middle), np.empty_like(facets.middle)
    _widest(least.ravel(), most.ravel(), facets.low.reshape(-1, 4), facets.middle.ravel(), float(blank_top_mm))
    return least, most


def narrow(
    least: Floats,
    most: Floats,
    facets: Facets,
    judged: Mask,
    lines: Floats,
    bulge: Floats,
    profile: Floats,
    grid: Grid,
) -> None:
    """Take the moves into account, the last one first (the last ones lie lowest and spare the others' work)."""
    frame = (grid.x0_mm + 0.5 * grid.pitch_mm, grid.y0_mm + 0.5 * grid.pitch_mm, float(grid.pitch_mm))
    _narrow(least, most, facets.low, facets.middle, facets.high, judged, lines, bulge, profile, frame)


@njit(cache=True, error_model="numpy", nogil=True)
def _widest(least: Floats, most: Floats, low: Floats, middle: Floats, top: float) -> None:
    for k in range(middle.size):
        most[k] = top - min(min(low[k, 0], low[k, 1]), min(low[k, 2], low[k, 3]))
        least[k] = 2.0 * (top - middle[k]) - most[k]


@njit(cache=True, error_model="numpy", nogil=True)
def _narrow(
    least: Floats,
    most: Floats,
    low: Floats,
    middle: Floats,
    high: Floats,
    judged: Mask,
    lines: Floats,
    bulge: Floats,
    profile: Floats,
    frame: tuple[float, float, float],
) -> None:
    x_first, y_first, pitch = frame
    ny, nx = least.shape
    half, corner_mm = 0.5 * pitch, pitch / math.sqrt(2.0)
    radius, kind = profile[1], int(profile[0])
    roof = np.where(judged, high + most, -math.inf)  # what does not come below it anywhere narrows nothing
    roof16 = np.empty(((ny + TILE - 1) // TILE, (nx + TILE - 1) // TILE))
    stale16 = np.ones(roof16.shape, dtype=np.bool_)
    for n in range(lines.shape[0] - 1, -1, -1):
        ax, ay, az = lines[n, 0], lines[n, 1], lines[n, 2]
        dx, dy, dz = lines[n, 3] - ax, lines[n, 4] - ay, lines[n, 5] - az
        length = math.sqrt(dx * dx + dy * dy)
        tx, ty, m = 1.0, 0.0, 0.0
        if length < UPRIGHT_MM:
            length, az = 0.0, az + min(dz, 0.0)
        else:
            tx, ty, m = dx / length, dy / length, dz / length
            if abs(m) < LEVEL_RATIO:
                m, az = 0.0, min(az, lines[n, 5])
        line = (tx, ty, length, az, m)
        beside = bulge[n]
        rim = radius + corner_mm + beside
        depth = _roof_over(roof, roof16, stale16, line, ax, ay, rim, frame) - (az + min(m * length, 0.0))
        if depth <= 0.0:
            continue
        rim = min(rim, max(disc_radius(depth, profile), 0.0) + corner_mm + beside)
        j0, j1 = rows_of(ay + min(length * ty, 0.0) - rim, ay + max(length * ty, 0.0) + rim, y_first, pitch, 0, ny)
        for j in range(j0, j1):
            py = y_first + j * pitch - ay
            lo, hi = stadium_span(py, tx, ty, length, rim)
            i0, i1 = columns_of(ax + lo, ax + hi, x_first, pitch, nx)
            for i in range(i0, i1):
                if az + min(m * length, 0.0) >= roof[j, i]:
                    continue
                px = x_first + i * pitch - ax
                along, aside = px * tx + py * ty, py * tx - px * ty
                over = along - min(max(along, 0.0), length)
                away = math.sqrt(over * over + aside * aside)
                lowest = az + m * (max(0.0, along - rim) if m >= 0.0 else min(length, along + rim))
                within = min(max(away - corner_mm - beside, 0.0), radius)
                under = lowest + surface_height(within, profile) - high[j, i]
                if under >= most[j, i]:
                    continue
                if away <= radius - corner_mm - beside:
                    worst = -math.inf
                    for k in range(4):
                        qx, qy = px + half * (2 * (k & 1) - 1), py + half * (2 * (k >> 1) - 1)
                        worst = max(worst, _left_at(qx, qy, line, profile, beside) - low[j, i, k])
                    if worst < most[j, i]:
                        most[j, i] = worst
                        roof[j, i] = high[j, i] + worst
                        stale16[j // TILE, i // TILE] = True
                    here = _left_at(px, py, line, profile, -beside) - middle[j, i]
                    under = max(under, 2.0 * here - worst)
                if under < least[j, i]:
                    if m != 0.0 and (kind == CONE or away > radius - corner_mm):
                        under = max(under, _at_least(along, aside, line, profile, corner_mm) - high[j, i])
                    least[j, i] = min(least[j, i], under)


@njit(cache=True, error_model="numpy", nogil=True)
def _roof_over(
    roof: Floats,
    roof16: Floats,
    stale16: Mask,
    line: tuple[float, float, float, float, float],
    ax: float,
    ay: float,
    rim: float,
    frame: tuple[float, float, float],
) -> float:
    """The highest roof in the tiles about a line."""
    x_first, y_first, pitch = frame
    ny, nx = roof.shape
    dx, dy = line[0] * line[2], line[1] * line[2]
    j0, j1 = rows_of(ay + min(dy, 0.0) - rim, ay + max(dy, 0.0) + rim, y_first, pitch, 0, ny)
    i0, i1 = columns_of(ax + min(dx, 0.0) - rim, ax + max(dx, 0.0) + rim, x_first, pitch, nx)
    top = -math.inf
    if i1 <= i0 or j1 <= j0:
        return top
    for j in range(j0 // TILE, (j1 - 1) // TILE + 1):
        for i in range(i0 // TILE, (i1 - 1) // TILE + 1):
            if stale16[j, i]:
                stale16[j, i] = False
                highest = -math.inf
                for y in range(j * TILE, min(j * TILE + TILE, ny)):
                    for x in range(i * TILE, min(i * TILE + TILE, nx)):
                        highest = max(highest, roof[y, x])
                roof16[j, i] = highest
            top = max(top, roof16[j, i])
    return top


@njit(cache=True, error_model="numpy", nogil=True)
def _left_at(
    px: float, py: float, line: tuple[float, float, float, float, float], profile: Floats, beside: float
) -> float:
    """The height that a move leaves at a place under it; its way runs ``beside`` farther off (level moves)."""
    tx, ty, length, az, m = line
    radius, corner = profile[1], profile[2]
    a, d = px * tx + py * ty, py * tx - px * ty
    if m == 0.0:
        over = a - min(max(a, 0.0), length)
        r = math.sqrt(over * over + d * d) + beside
        return az + surface_height(min(max(r, 0.0), radius), profile)
    c = math.sqrt(max(radius * radius - d * d, 0.0))
    u_from, u_to = max(0.0, a - c), min(length, a + c)
    kind = int(profile[0])
    if kind == ROUND and corner == 0.0:
        return az + m * (u_from if m > 0.0 else u_to)
    if kind == ROUND and corner == radius:
        w = -m / math.sqrt(1.0 + m * m) * c
    elif kind == CONE:
        w = _on_cone(m, profile[3], d, radius)
    elif kind == TAPERED_BALL:
        w = -m / math.sqrt(1.0 + m * m) * math.sqrt(max(corner * corner - d * d, 0.0))
        if w * w + d * d > profile[4] * profile[4]:
            w = _on_cone(m, profile[3], d, radius)
    else:
        w = _on_torus(m, radius - corner, corner, d, u_from - a, u_to - a)
    u = min(max(a + w, u_from), u_to)
    r = math.sqrt((u - a) * (u - a) + d * d)
    return az + m * u + surface_height(min(r, radius), profile)


@njit(cache=True, error_model="numpy", nogil=True)
def _at_least(
    a: float, d: float, line: tuple[float, float, float, float, float], profile: Floats, corner_mm: float
) -> float:
    """The least that a sloping move leaves within ``corner_mm`` of a place: the surface at the distance less that."""
    _, _, length, az, m = line
    rim = profile[1] + corner_mm
    c = math.sqrt(max(rim * rim - d * d, 0.0))
    w_from, w_to = max(0.0, a - c) - a, min(length, a + c) - a
    for _ in range(FEW_HALVINGS):
        w = 0.5 * (w_from + w_to)
        r = math.sqrt(w * w + d * d)
        if m + (_steepness(r - corner_mm, profile) * w / r if r > corner_mm else 0.0) > 0.0:
            w_to = w
        else:
            w_from = w
    w = 0.5 * (w_from + w_to)
    r = min(max(math.sqrt(w * w + d * d) - corner_mm, 0.0), profile[1])
    return az + m * (a + w) + surface_height(r, profile) - ROUNDING_MM


@njit(cache=True, error_model="numpy", nogil=True)
def _steepness(r: float, profile: Floats) -> float:
    """How steeply the cutter's surface rises with the radius."""
    kind = int(profile[0])
    corner = profile[2]
    if kind == CONE or (kind == TAPERED_BALL and r > profile[4]):
        return profile[3]
    over = r if kind == TAPERED_BALL else max(r - (profile[1] - corner), 0.0)
    if over == 0.0:
        return 0.0
    return over / math.sqrt(max(corner * corner - over * over, 1e-300))


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def _on_cone(m: float, slope: float, d: float, radius: float) -> float:
    """Where along the move, from the place, a cone is lowest over it."""
    if abs(m) < slope:
        return -m * abs(d) / math.sqrt(slope * slope - m * m)
    return -math.copysign(4.0 * radius, m)


@njit(cache=True, error_model="numpy", nogil=True)
def _on_torus(m: float, flat: float, corner: float, d: float, w_from: float, w_to: float) -> float:
    """The same for a rounded edge, by halving: the height is convex along the move."""
    for _ in range(HALVINGS):
        w = 0.5 * (w_from + w_to)
        r = math.sqrt(w * w + d * d)
        rise = m
        if r > flat:
            over = r - flat
            rise += over / math.sqrt(max(corner * corner - over * over, 1e-300)) * w / r
        if rise > 0.0:
            w_to = w
        else:
            w_from = w
    return 0.5 * (w_from + w_to)
