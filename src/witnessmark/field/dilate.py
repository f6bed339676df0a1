"""How low a cutter may go over a height field, and how low a field is cut by given tips.

Question   lowest tip that keeps the cutter (or what turns above it) off a surface; and the surface that tips leave
Frame      standing frame; rows along +y, columns along +x; values at cell centres
Units      mm
Arrays     heights (ny, nx) float32, -inf where there is nothing; tips (ny, nx) float32, +inf where no tip is;
           steps (k, 3) float64: radius, from, to above the tip; profile (6,) as in field.profile
Method     with d = |q - c| between cell centres, g = grow_mm, s = shrink_mm, R the cutter's radius:
           tip_over_surface  max over d <= R + g of heights(q) - b(max(0, d - g))
           tip_clear_of      max over steps, d <= radius + g, of heights(q) - from
           lowered_by        min over d <= R - s of tips(c) + b(d + s)
           underside_over    min over steps, d <= radius + g, of tips(c) + from
           Flat discs: every row of the disc is a chord; the maximum over a chord is that of two overlapping windows
           whose length is a power of two, kept in a ring of row tables. Curved cutters: offsets in order of rising b,
           tile by tile, until no offset left can change the tile.
Source     Urbach, E. R. and Wilkinson, M. H. F. (2008), Efficient 2-D grayscale morphological transformations with
           arbitrary flat structuring elements, IEEE Transactions on Image Processing 17(1), 1-8 (from memory)
Valid      exact on the cell centres, to float32 rounding; with g = s = the grid's ``reach_mm`` and fields of cell
           maxima it is on the safe side for the continuous surface. Beyond the grid there is nothing.
Refuses    nothing: the caller checks once
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .grid import Grid, Heights
from .profile import CONE, surface_height
from .threads import in_strips

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

EDGE_MM = 1e-9  # a centre on the disc's rim counts as inside, whatever the rounding
_COLUMNS = 1024  # columns of a row tabled at a time: the ring of tables stays in the second-level cache
_TILE_ROWS, _TILE_COLUMNS = 8, 128
_WORTH_STEPS = 300_000  # less than so many steps are made sooner than another thread is woken


def tip_over_surface(heights: Heights, grid: Grid, profile: Floats, grow_mm: float = 0.0) -> Heights:
    """Lowest tip height at each cell that keeps the cutter on or above the surface; -inf where it meets nothing."""
    return _dilated_by_profile(heights, grid.pitch_mm, profile, grow_mm)


def tip_clear_of(heights: Heights, grid: Grid, steps: Floats, grow_mm: float = 0.0) -> Heights:
    """Lowest tip height at each cell that keeps every rigid step above the surface; -inf where none meets any."""
    out = np.full(heights.shape, -np.inf, dtype=np.float32)
    highest = float(heights.max(initial=-np.inf))
    for radius_mm, from_mm in undersides(steps):
        if highest - from_mm > out.min():
            np.maximum(out, disc_max(heights, grid, radius_mm + grow_mm) - np.float32(from_mm), out=out)
    return out


def lowered_by(tips: Heights, grid: Grid, profile: Floats, shrink_mm: float = 0.0) -> Heights:
    """Height of the surface that the cutter leaves after visiting every tip; +inf where it never comes."""
    return np.negative(_dilated_by_profile(np.negative(tips), grid.pitch_mm, profile, -shrink_mm))


def underside_over(tips: Heights, grid: Grid, steps: Floats, grow_mm: float = 0.0) -> Heights:
    """Lowest that a rigid step's underside comes over each cell as the cutter visits every tip; +inf where never."""
    out = np.full(tips.shape, -np.inf, dtype=np.float32)
    upturned = np.negative(tips)
    for radius_mm, from_mm in undersides(steps):
        np.maximum(out, disc_max(upturned, grid, radius_mm + grow_mm) - np.float32(from_mm), out=out)
    return np.negative(out)


def undersides(steps: Floats) -> list[tuple[float, float]]:
    """The (radius, from) of the steps that are not above a wider one: all that a field seen from above can meet."""
    kept: list[tuple[float, float]] = []
    for radius_mm, from_mm, _ in sorted(map(tuple, np.asarray(steps).reshape(-1, 3)), key=lambda s: (s[1], -s[0])):
        if all(radius_mm > wider_mm for wider_mm, _ in kept):
            kept.append((float(radius_mm), float(from_mm)))
    return kept


def disc_max(heights: Heights, grid: Grid, radius_mm: float) -> Heights:
    """Greatest height over the cell centres within ``radius_mm`` of each cell's centre."""
    if radius_mm < 0:
        return np.full(heights.shape, -np.inf, dtype=np.float32)
    half, level = _chords(radius_mm / grid.pitch_mm)
    reach = len(half) - 1
    padded = np.pad(heights.astype(np.float32, copy=False), reach, constant_values=-np.inf)
    out = np.empty(heights.shape, dtype=np.float32)
    rows = _worth_rows(heights.shape[1] * (reach + 2))
    in_strips(lambda a, b: _disc_rows(padded, half, level, out, a, b, _COLUMNS), len(heights), least_rows=rows)
    return out


def _worth_rows(steps_a_row: int) -> int:
    """The fewest rows that are worth a thread of their own."""
    return max(8, math.ceil(_WORTH_STEPS / max(1, steps_a_row)))


@lru_cache(maxsize=64)
def _chords(radius_cells: float) -> tuple[Ints, Ints]:
    """Half widths (in cells) of the disc's rows 0..reach off its centre, and the power of two of their windows."""
    reach = math.floor(radius_cells + EDGE_MM)
    off = np.arange(reach + 1, dtype=np.float64)
    half = np.floor(np.sqrt(np.maximum(radius_cells**2 - off**2, 0.0)) + EDGE_MM).astype(np.int64)
    level = np.array([(2 * int(w) + 1).bit_length() - 1 for w in half], dtype=np.int64)
    return half, level


@njit(cache=True, error_model="numpy", nogil=True)
def _table_row(row: Heights, table: Heights, used: int) -> None:
    """Fill table[j, x] = max(row[x : x + 2**j]) for the levels 0..used."""
    n = row.size
    table[0, :n] = row
    for j in range(1, used + 1):
        s = 1 << (j - 1)
        n -= s
        a = table[j - 1, :n]
        b = table[j - 1, s : s + n]
        c = table[j, :n]
        for i in range(n):
            c[i] = a[i] if a[i] > b[i] else b[i]


@njit(cache=True, error_model="numpy", nogil=True)
def _max_of_chords(acc: Heights, above: Heights, below: Heights, left: int, right: int) -> None:
    """Raise acc by the two windows (from left, from right) of the rows above and below."""
    n = acc.size
    a = above[left : left + n]
    b = above[right : right + n]
    c = below[left : left + n]
    d = below[right : right + n]
    for i in range(n):
        u = a[i] if a[i] > b[i] else b[i]
        v = c[i] if c[i] > d[i] else d[i]
        u = u if u > v else v
        acc[i] = u if u > acc[i] else acc[i]


@njit(cache=True, error_model="numpy", nogil=True)
def _disc_rows(padded: Heights, half: Ints, level: Ints, out: Heights, y_from: int, y_to: int, block: int) -> None:
    """Rows y_from..y_to of the dilation by a disc; padded has ``reach`` empty cells all round."""
    reach = half.size - 1
    ring = 2 * reach + 1
    used = level.max()
    nx = out.shape[1]
    table = np.empty((ring, used + 1, block + 2 * reach), dtype=np.float32)
    peak = np.empty(ring, dtype=np.float32)
    for x0 in range(0, nx, block):
        n = min(block, nx - x0)
        for yp in range(y_from, y_to + 2 * reach):
            slot = yp % ring
            row = padded[yp, x0 : x0 + n + 2 * reach]
            _table_row(row, table[slot], used)
            peak[slot] = row.max()
            y = yp - 2 * reach
            if y < y_from:
                continue
            acc = out[y, x0 : x0 + n]
            acc[:] = -np.inf
            highest = peak.max()
            for a in range(reach + 1):
                w = half[a]
                j = level[a]
                above = table[(y + reach + a) % ring, j]
                below = table[(y + reach - a) % ring, j]
                _max_of_chords(acc, above, below, reach - w, reach + w + 1 - (1 << j))
                if a % 16 == 0 and acc.min() >= highest:
                    break


def _dilated_by_profile(heights: Heights, pitch_mm: float, profile: Floats, grow_mm: float) -> Heights:
    """Max over d <= R + grow of heights(q) - b(|d - grow| kept >= 0); a negative ``grow_mm`` shrinks the cutter."""
    radius_mm = float(profile[1]) + grow_mm
    if radius_mm < 0:
        return np.full(heights.shape, -np.inf, dtype=np.float32)
    if int(profile[0]) != CONE and profile[2] == 0.0 and profile[3] == 0.0:
        return disc_max(heights, Grid(0.0, 0.0, pitch_mm, heights.shape[1], heights.shape[0]), radius_mm)
    offset_y, offset_x, drop = footprint(pitch_mm, tuple(float(v) for v in profile), grow_mm)
    quarter = (offset_y >= 0) & (offset_x >= 0)  # the others are its mirror images
    offset_y, offset_x, drop = offset_y[quarter], offset_x[quarter], drop[quarter]
    reach = int(offset_y.max())
    padded = np.pad(heights.astype(np.float32, copy=False), reach, constant_values=-np.inf)
    out = np.empty(heights.shape, dtype=np.float32)
    rows = _worth_rows(heights.shape[1] * len(drop))
    in_strips(lambda a, b: _curved_rows(padded, reach, offset_y, offset_x, drop, out, a, b), len(heights), 4, rows)
    return out


@lru_cache(maxsize=32)
def footprint(pitch_mm: float, profile_mm: tuple[float, ...], grow_mm: float) -> tuple[Ints, Ints, Heights]:
    """Offsets in cells (rows, columns) under the cutter with the cutter's height above its tip there, lowest first.

    ``grow_mm`` grows the cutter (its height is read nearer the axis); a negative one shrinks it.
    """
    radius_mm = profile_mm[1] + grow_mm
    reach = math.floor(radius_mm / pitch_mm + EDGE_MM)
    oy, ox = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    distance = np.hypot(oy, ox) * pitch_mm
    inside = distance <= radius_mm + EDGE_MM
    at = np.clip(distance[inside] - grow_mm, 0.0, profile_mm[1])
    drop = _profile_heights(at, np.array(profile_mm))
    order = np.argsort(drop, kind="stable")
    return oy[inside][order], ox[inside][order], drop[order].astype(np.float32)


@njit(cache=True, error_model="numpy")
def _profile_heights(radii: Floats, profile: Floats) -> Floats:
    out = np.empty_like(radii)
    for i in range(radii.size):
        out[i] = surface_height(radii[i], profile)
    return out


@njit(cache=True, error_model="numpy", nogil=True)
def _raise_row(acc: Heights, above: Heights, below: Heights, reach: int, ox: int, drop: float) -> None:
    """Raise a row of the result by the four mirror images of one offset of the cutter."""
    n = acc.size
    a = above[reach - ox : reach - ox + n]
    b = above[reach + ox : reach + ox + n]
    c = below[reach - ox : reach - ox + n]
    d = below[reach + ox : reach + ox + n]
    for i in range(n):
        u = a[i] if a[i] > b[i] else b[i]
        v = c[i] if c[i] > d[i] else d[i]
        u = (u if u > v else v) - drop
        acc[i] = u if u > acc[i] else acc[i]


@njit(cache=True, error_model="numpy", nogil=True)
def _curved_rows(
    padded: Heights,
    reach: int,
    offset_y: Ints,
    offset_x: Ints,
    drop: Heights,
    out: Heights,
    y_from: int,
    y_to: int,
) -> None:
    """Rows y_from..y_to of the dilation by a curved cutter, a tile at a time, stopping when nothing can change."""
    nx = out.shape[1]
    for y0 in range(y_from, y_to, _TILE_ROWS):
        y1 = min(y_to, y0 + _TILE_ROWS)
        for x0 in range(0, nx, _TILE_COLUMNS):
            x1 = min(nx, x0 + _TILE_COLUMNS)
            tile = out[y0:y1, x0:x1]
            tile[:, :] = -np.inf
            highest = padded[y0 : y1 + 2 * reach, x0 : x1 + 2 * reach].max()
            lowest = np.float32(-np.inf)
            for k in range(offset_y.size):
                if k % 8 == 0:
                    lowest = tile.min()
                if highest - drop[k] <= lowest:
                    break
                for y in range(y0, y1):
                    above = padded[y + reach + offset_y[k], x0 : x1 + 2 * reach]
                    below = padded[y + reach - offset_y[k], x0 : x1 + 2 * reach]
                    _raise_row(tile[y - y0], above, below, reach, offset_x[k], drop[k])
