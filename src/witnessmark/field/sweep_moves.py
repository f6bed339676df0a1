"""One move over a band of rows: the exact swept volume of the cutter, row by row.

Question  lower the heights under one move to the surface that it leaves
Frame     standing frame; rows along +y, columns along +x
Units     mm
Arrays    heights (ny, nx) float32, lowered in place; move (9,) float64: from, to, arc centre, type;
          profile (6,) float64 (field.profile); frame = (x of column 0, y of row 0, pitch) at cell centres;
          ramp (RUN,) float32 offsets of the cells of a run from its middle
Method    geometry once per row in float64, cells in runs of at most RUN with the origin at the run's middle.
          ``back`` and ``ahead`` say how far behind the start and beyond the end cells are looked at: what lies
          further is covered by the neighbours in the chain (field.strips says why)
Source    plane geometry, derived here
Valid     lines of any slope, level arcs; a vertical move counts at its lowest point
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from .profile import CONE, TAPERED_BALL
from .sweep_rows import (
    NONE,
    RIM_SLACK_MM,
    row_arc,
    row_ball,
    row_bull_level,
    row_bull_slope,
    row_cone,
    row_fill,
    row_flat,
    row_tapered,
)

RUN = 128  # cells; at 0.2 mm a run's middle is at most 13 mm from its ends
LANES = 16  # runs are made a multiple of this long, so that the vector unit has no remainder
UPRIGHT_MM = 1e-9  # shorter than this seen from above: a vertical move
FAR = 1e9

_f4 = np.float32


@njit(cache=True)
def ramp_of(pitch: float) -> np.ndarray:
    """Offsets of a run's cells from its middle, (RUN,) float32."""
    ramp = np.empty(RUN, dtype=np.float32)
    for k in range(RUN):
        ramp[k] = (k - RUN // 2) * pitch
    return ramp


@njit(cache=True, inline="always")
def stadium_span(dy, tx, ty, length, radius):
    """Exact x range, from the start, of the points within ``radius`` of the move, dy above its start."""
    lo, hi = FAR, -FAR
    q = radius * radius - dy * dy
    if q >= 0.0:
        c = math.sqrt(q)
        lo, hi = -c, c
    ex, ey = length * tx, length * ty
    q = radius * radius - (dy - ey) ** 2
    if q >= 0.0:
        c = math.sqrt(q)
        lo, hi = min(lo, ex - c), max(hi, ex + c)
    left, right = box_span(dy, tx, ty, 0.0, length, radius)
    if left <= right:
        lo, hi = min(lo, left), max(hi, right)
    return lo, hi


@njit(cache=True, inline="always")
def box_span(dy, tx, ty, a_from, a_to, radius):
    """x range of the rectangle a_from..a_to along the move, ``radius`` to both sides; empty where lo > hi."""
    lo, hi = -FAR, FAR
    if abs(tx) > 1e-12:
        p, q = (a_from - dy * ty) / tx, (a_to - dy * ty) / tx
        lo, hi = min(p, q), max(p, q)
    elif dy * ty < a_from or dy * ty > a_to:
        return FAR, -FAR
    if abs(ty) > 1e-12:
        p, q = (dy * tx - radius) / ty, (dy * tx + radius) / ty
        lo, hi = max(lo, min(p, q)), min(hi, max(p, q))
    elif abs(dy * tx) > radius:
        return FAR, -FAR
    return lo, hi


@njit(cache=True, inline="always")
def columns_of(lo, hi, x_first, pitch, nx):
    """Columns i0 <= i < i1 whose centres lie in lo..hi."""
    i0 = max(0, math.ceil((lo - x_first) / pitch - 1e-9))
    i1 = min(nx, math.floor((hi - x_first) / pitch + 1e-9) + 1)
    return i0, i1


@njit(cache=True, error_model="numpy")
def cut_line(heights, frame, move, profile, ramp, back, ahead, row_from, row_to):
    """Cut rows row_from <= j < row_to with a straight move; (greatest height removed, greatest height met)."""
    x_first, y_first, pitch = frame
    nx = heights.shape[1]
    kind, radius = int(profile[0]), profile[1]
    rim = radius + RIM_SLACK_MM
    ax, ay, az = move[0], move[1], move[2]
    dx, dy, dz = move[3] - ax, move[4] - ay, move[5] - az
    length = math.sqrt(dx * dx + dy * dy)
    if length < UPRIGHT_MM:
        tx, ty, m, length, az = 1.0, 0.0, 0.0, 0.0, az + min(dz, 0.0)
    else:
        tx, ty, m = dx / length, dy / length, dz / length
    level_flat = kind == 0 and profile[2] == 0.0 and m == 0.0
    a_from, a_to = -min(back, rim), length + min(ahead, rim)
    y_low, y_high = min(a_from * ty, a_to * ty) - rim * abs(tx), max(a_from * ty, a_to * ty) + rim * abs(tx)
    j0 = max(row_from, math.ceil((ay + y_low - y_first) / pitch - 1e-9))
    j1 = min(row_to, math.floor((ay + y_high - y_first) / pitch + 1e-9) + 1)
    slope = profile[3]
    ball_lean = m / math.sqrt(1.0 + m * m)
    lean, pull = 0.0, 0.0
    if abs(m) < slope:
        lean = m / math.sqrt(slope * slope - m * m)
    else:
        pull = math.copysign(4.0 * rim, m)
    cut, met = NONE, NONE
    for j in range(j0, j1):
        py = y_first + j * pitch - ay
        if level_flat:
            lo, hi = stadium_span(py, tx, ty, length, rim)
            i0, i1 = columns_of(ax + lo, ax + hi, x_first, pitch, nx)
            if i1 > i0:
                top = row_fill(heights[j, i0:i1], _f4(az))
                cut = max(cut, _f4(top - _f4(az)))
            continue
        lo, hi = box_span(py, tx, ty, a_from, a_to, rim)
        i0, i1 = columns_of(ax + lo, ax + hi, x_first, pitch, nx)
        if i1 <= i0:
            continue
        i1 = min(nx, i0 + (i1 - i0 + LANES - 1) // LANES * LANES)
        i0 = max(0, i1 - (i1 - i0 + LANES - 1) // LANES * LANES)
        for i in range(i0, i1, RUN):
            run = heights[j, i : min(i + RUN, i1)]
            px = x_first + (i + RUN // 2) * pitch - ax
            along = px * tx + py * ty
            near = min(max(along, 0.0), length)  # the point of the move from which u is counted
            a0, d0, z0 = _f4(along - near), _f4(py * tx - px * ty), _f4(az + m * near)
            u_lo, u_hi = _f4(-near), _f4(length - near)
            fx, fy, fm = _f4(tx), _f4(ty), _f4(m)
            if kind == CONE:
                one, two = row_cone(
                    run, ramp, a0, d0, fx, fy, u_lo, u_hi, z0, fm, _f4(lean), _f4(pull), _f4(slope), _f4(rim * rim)
                )
            elif kind == TAPERED_BALL:
                one, two = row_tapered(
                    run, ramp, a0, d0, fx, fy, u_lo, u_hi, z0, fm, _f4(lean), _f4(pull), _f4(slope),
                    _f4(rim * rim), _f4(ball_lean), _f4(profile[2]), _f4(profile[4]), _f4(profile[5]),
                )  # fmt: skip
            elif profile[2] == 0.0:
                one, two = row_flat(run, ramp, a0, d0, fx, fy, u_lo, u_hi, z0, fm, _f4(rim * rim))
            elif profile[2] == radius:
                slack2 = _f4(radius * radius - rim * rim)
                one, two = row_ball(
                    run, ramp, a0, d0, fx, fy, u_lo, u_hi, z0, fm, _f4(ball_lean), _f4(radius),
                    _f4(radius * radius), slack2,
                )  # fmt: skip
            elif m == 0.0:
                one, two = row_bull_level(
                    run, ramp, a0, d0, fx, fy, u_lo, u_hi, z0, _f4(radius - profile[2]), _f4(profile[2]),
                    _f4(rim * rim),
                )  # fmt: skip
            else:
                one, two = row_bull_slope(
                    run, x_first + i * pitch, pitch, y_first + j * pitch, ax, ay, az, tx, ty, length, m,
                    radius - profile[2], profile[2], rim,
                )  # fmt: skip
            cut, met = max(cut, one), max(met, two)
    return cut, (cut if level_flat else met)


@njit(cache=True, inline="always")
def in_sweep(px, py, sx, sy, ex, ey, wide, whole, sense):
    """Whether the direction (px, py) from the centre lies in the arc from s to e."""
    after = (sx * py - sy * px) * sense >= 0.0
    until = (px * ey - py * ex) * sense >= 0.0
    return whole or (after and until) or (wide and (after or until))


@njit(cache=True, inline="always")
def arc_shape(move):
    """Start and end from the centre, radius, whether over half a turn, whether a full turn, sense, and bounds."""
    cx, cy = move[6], move[7]
    sx, sy, ex, ey = move[0] - cx, move[1] - cy, move[3] - cx, move[4] - cy
    around = math.sqrt(sx * sx + sy * sy)
    sense = 1.0 if move[8] == 1.0 else -1.0
    whole = abs(sx - ex) < UPRIGHT_MM and abs(sy - ey) < UPRIGHT_MM
    wide = (sx * ey - sy * ex) * sense < 0.0
    x_lo, x_hi, y_lo, y_hi = min(sx, ex), max(sx, ex), min(sy, ey), max(sy, ey)
    if in_sweep(around, 0.0, sx, sy, ex, ey, wide, whole, sense):
        x_hi = max(x_hi, around)
    if in_sweep(-around, 0.0, sx, sy, ex, ey, wide, whole, sense):
        x_lo = min(x_lo, -around)
    if in_sweep(0.0, around, sx, sy, ex, ey, wide, whole, sense):
        y_hi = max(y_hi, around)
    if in_sweep(0.0, -around, sx, sy, ex, ey, wide, whole, sense):
        y_lo = min(y_lo, -around)
    return sx, sy, ex, ey, around, wide, whole, sense, x_lo, x_hi, y_lo, y_hi


@njit(cache=True, error_model="numpy")
def cut_arc(heights, frame, move, profile, row_from, row_to):
    """Cut rows row_from <= j < row_to with a level arc; (greatest height removed, greatest height met)."""
    x_first, y_first, pitch = frame
    nx = heights.shape[1]
    rim = profile[1] + RIM_SLACK_MM
    cx, cy = move[6], move[7]
    sx, sy, ex, ey, around, wide, whole, sense, x_lo, x_hi, y_lo, y_hi = arc_shape(move)
    end_radius = math.sqrt(ex * ex + ey * ey)
    outer, inner = max(around, end_radius) + rim, min(around, end_radius) - rim
    j0 = max(row_from, math.ceil((cy + y_lo - rim - y_first) / pitch - 1e-9))
    j1 = min(row_to, math.floor((cy + y_hi + rim - y_first) / pitch + 1e-9) + 1)
    cut, met = NONE, NONE
    for j in range(j0, j1):
        py = y_first + j * pitch - cy
        half = math.sqrt(max(outer * outer - py * py, 0.0))
        hole = math.sqrt(max(inner * inner - py * py, 0.0)) if inner > 0.0 and abs(py) < inner else 0.0
        for side in range(2 if hole > 0.0 else 1):
            lo = max(x_lo - rim, hole if side == 1 else -half)
            hi = min(x_hi + rim, -hole if side == 0 and hole > 0.0 else half)
            i0, i1 = columns_of(cx + lo, cx + hi, x_first, pitch, nx)
            if i1 <= i0:
                continue
            one, two = row_arc(
                heights[j, i0:i1], x_first + i0 * pitch - cx, pitch, py, sx, sy, ex, ey, around, wide, whole,
                sense, move[2], profile, rim,
            )  # fmt: skip
            cut, met = max(cut, one), max(met, two)
    return cut, met


@njit(cache=True, error_model="numpy")
def cut_move(heights, frame, move, profile, ramp, back, ahead, row_from, row_to):
    """Cut rows row_from <= j < row_to with one move of any type; (height removed, height met), -1 where none."""
    if move[8] == 0.0:
        return cut_line(heights, frame, move, profile, ramp, back, ahead, row_from, row_to)
    return cut_arc(heights, frame, move, profile, row_from, row_to)
