"""One move over a band of rows: the exact swept volume of the cutter, row by row.

Question  lower the heights under one move to the surface that it leaves
Frame     standing frame; rows along +y, columns along +x
Units     mm
Arrays    heights (ny, nx) float32, lowered in place; move (9,) float64: from, to, arc centre, type;
          profile (6,) float64 (field.profile); frame = (x of column 0, y of row 0, pitch) at cell centres;
          best: the record of field.sweep_rows, or None
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
    LANES,
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
UPRIGHT_MM = 1e-9  # shorter than this seen from above: a vertical move
FAR = 1e9
SQUARE = 1e-9  # a direction is taken as along an axis when its other part is smaller

_f4 = np.float32


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
    left, right = -FAR, FAR  # the rectangle between the two discs
    if abs(tx) > SQUARE:
        p, q = -dy * ty / tx, (length - dy * ty) / tx
        left, right = min(p, q), max(p, q)
    elif dy * ty < 0.0 or dy * ty > length:
        return lo, hi
    if abs(ty) > SQUARE:
        p, q = (dy * tx - radius) / ty, (dy * tx + radius) / ty
        left, right = max(left, min(p, q)), min(right, max(p, q))
    elif abs(dy * tx) > radius:
        return lo, hi
    if left <= right:
        lo, hi = min(lo, left), max(hi, right)
    return lo, hi


@njit(cache=True, inline="always")
def columns_of(lo, hi, x_first, pitch, nx):
    """Columns i0 <= i < i1 whose centres lie in lo..hi."""
    i0 = max(0, math.ceil((lo - x_first) / pitch - 1e-9))
    i1 = min(nx, math.floor((hi - x_first) / pitch + 1e-9) + 1)
    return i0, i1


@njit(cache=True, inline="always")
def line_shape(move):
    """Start, direction seen from above, length seen from above, and rise; an upright move is its lowest point."""
    ax, ay, az = move[0], move[1], move[2]
    dx, dy, dz = move[3] - ax, move[4] - ay, move[5] - az
    length = math.sqrt(dx * dx + dy * dy)
    if length < UPRIGHT_MM:
        return ax, ay, az + min(dz, 0.0), 1.0, 0.0, 0.0, 0.0
    return ax, ay, az, dx / length, dy / length, length, dz / length


@njit(cache=True, inline="always")
def rows_of(lo, hi, y_first, pitch, row_from, row_to):
    """Rows j0 <= j < j1 of the band whose centres lie in lo..hi."""
    j0 = max(row_from, math.ceil((lo - y_first) / pitch - 1e-9))
    j1 = min(row_to, math.floor((hi - y_first) / pitch + 1e-9) + 1)
    return j0, j1


@njit(cache=True, error_model="numpy")
def cut_level_flat(heights, best, frame, move, rim, row_from, row_to):
    """A flat cutter on a level line: one height over the exact span of each row, at the speed of the memory."""
    x_first, y_first, pitch = frame
    ax, ay, az, tx, ty, length, _ = line_shape(move)
    reach = length * ty
    j0, j1 = rows_of(ay + min(reach, 0.0) - rim, ay + max(reach, 0.0) + rim, y_first, pitch, row_from, row_to)
    for j in range(j0, j1):
        lo, hi = stadium_span(y_first + j * pitch - ay, tx, ty, length, rim)
        i0, i1 = columns_of(ax + lo, ax + hi, x_first, pitch, heights.shape[1])
        if i1 > i0:
            row_fill(heights[j, i0:i1], best, _f4(az))


@njit(cache=True, inline="always")
def lay_out(frame, move, rim, back, ahead, row_from, row_to):
    """What the rows of a line share: rows, line, and the column edges as straight functions of the row."""
    x_first, y_first, pitch = frame
    ax, ay, az, tx, ty, length, m = line_shape(move)
    a_from, a_to = -min(back, rim), length + min(ahead, rim)
    y_low = ay + min(a_from * ty, a_to * ty) - rim * abs(tx)
    y_high = ay + max(a_from * ty, a_to * ty) + rim * abs(tx)
    j0, j1 = rows_of(y_low, y_high, y_first, pitch, row_from, row_to)
    x_cell, y_cell = (ax - x_first) / pitch, (ay - y_first) / pitch
    end_at, end_step, end_reach = x_cell, 0.0, FAR  # columns between the ends of the part looked at
    if abs(tx) > SQUARE:
        end_step = -ty / tx
        end_at, end_reach = x_cell + 0.5 * (a_from + a_to) / (tx * pitch), 0.5 * (a_to - a_from) / abs(tx * pitch)
    side_step, side_reach = 0.0, FAR  # columns between its sides
    if abs(ty) > SQUARE:
        side_step, side_reach = tx / ty, rim / abs(ty * pitch)
    edges = (y_cell, end_at, end_step, end_reach + 1e-6, side_step, side_reach + 1e-6, x_cell)
    return j0, j1, (x_cell, y_cell, az, pitch * tx, pitch * ty, length, m, tx, ty, pitch), edges


@njit(cache=True, inline="always")
def cells_of(j, edges, nx):
    """Columns i0 <= i < i1 of row j, a multiple of LANES wherever the field is wide enough."""
    y_cell, end_at, end_step, end_reach, side_step, side_reach, side_at = edges
    rise = j - y_cell
    end, side = end_at + rise * end_step, side_at + rise * side_step
    i0 = max(0, math.ceil(max(end - end_reach, side - side_reach)))
    i1 = min(nx, math.floor(min(end + end_reach, side + side_reach)) + 1)
    if i1 <= i0:
        return 0, 0
    i1 = min(nx, i0 + (i1 - i0 + LANES - 1) // LANES * LANES)
    return max(0, i1 - (i1 - i0 + LANES - 1) // LANES * LANES), i1


@njit(cache=True, inline="always")
def place_of(i, j, line):
    """Where a run that begins at column i lies, float32: its middle's place, and the ends and height of the move."""
    x_cell, y_cell, az, step_x, step_y, length, m, tx, ty, pitch = line
    right, up = i + RUN // 2 - x_cell, j - y_cell
    along = right * step_x + up * step_y
    near = min(max(along, 0.0), length)  # the point of the move from which u is counted
    place = (
        _f4(along - near), _f4(up * step_x - right * step_y), _f4(tx), _f4(ty), _f4(-(RUN // 2) * pitch), _f4(pitch),
    )  # fmt: skip
    return place, _f4(-near), _f4(length - near), _f4(az + m * near)


@njit(cache=True, error_model="numpy")
def cut_ball_line(heights, best, frame, move, profile, back, ahead, row_from, row_to):
    """A ball cutter on a line."""
    rim = profile[1] + RIM_SLACK_MM
    j0, j1, line, edges = lay_out(frame, move, rim, back, ahead, row_from, row_to)
    m = line[6]
    radius = _f4(profile[1])
    lean, slack2 = _f4(m / math.sqrt(1.0 + m * m)), _f4(profile[1] * profile[1] - rim * rim)
    for j in range(j0, j1):
        i0, i1 = cells_of(j, edges, heights.shape[1])
        for chunk in range(i0, i1, RUN):
            i = min(chunk, i1 - LANES)
            place, lo, hi, z0 = place_of(i, j, line)
            run = heights[j, i : min(i + RUN, i1)]
            row_ball(run, best, place, lo, hi, z0, _f4(m), lean, radius, radius * radius, slack2)


@njit(cache=True, error_model="numpy")
def cut_flat_slope(heights, best, frame, move, profile, back, ahead, row_from, row_to):
    """A flat cutter on a slope."""
    rim = profile[1] + RIM_SLACK_MM
    j0, j1, line, edges = lay_out(frame, move, rim, back, ahead, row_from, row_to)
    m = line[6]
    for j in range(j0, j1):
        i0, i1 = cells_of(j, edges, heights.shape[1])
        for chunk in range(i0, i1, RUN):
            i = min(chunk, i1 - LANES)
            place, lo, hi, z0 = place_of(i, j, line)
            run = heights[j, i : min(i + RUN, i1)]
            row_flat(run, best, place, lo, hi, z0, _f4(m), _f4(rim * rim))


@njit(cache=True, error_model="numpy")
def cut_bull_level(heights, best, frame, move, profile, back, ahead, row_from, row_to):
    """A bull cutter on a level line."""
    rim = profile[1] + RIM_SLACK_MM
    j0, j1, line, edges = lay_out(frame, move, rim, back, ahead, row_from, row_to)
    flat, corner = _f4(profile[1] - profile[2]), _f4(profile[2])
    for j in range(j0, j1):
        i0, i1 = cells_of(j, edges, heights.shape[1])
        for chunk in range(i0, i1, RUN):
            i = min(chunk, i1 - LANES)
            place, lo, hi, z0 = place_of(i, j, line)
            run = heights[j, i : min(i + RUN, i1)]
            row_bull_level(run, best, place, lo, hi, z0, flat, corner, _f4(rim * rim))


@njit(cache=True, inline="always")
def lowest_on_cone(m, slope, rim):
    """Where a cone is lowest on a rise m: (lean, pull) of ``row_cone``."""
    if abs(m) < slope:
        return _f4(m / math.sqrt(slope * slope - m * m)), _f4(0.0)
    return _f4(0.0), _f4(math.copysign(4.0 * rim, m))


@njit(cache=True, error_model="numpy")
def cut_cone_line(heights, best, frame, move, profile, back, ahead, row_from, row_to):
    """A cone on a line."""
    rim = profile[1] + RIM_SLACK_MM
    j0, j1, line, edges = lay_out(frame, move, rim, back, ahead, row_from, row_to)
    m = line[6]
    lean, pull = lowest_on_cone(m, profile[3], rim)
    for j in range(j0, j1):
        i0, i1 = cells_of(j, edges, heights.shape[1])
        for chunk in range(i0, i1, RUN):
            i = min(chunk, i1 - LANES)
            place, lo, hi, z0 = place_of(i, j, line)
            run = heights[j, i : min(i + RUN, i1)]
            row_cone(run, best, place, lo, hi, z0, _f4(m), lean, pull, _f4(profile[3]), _f4(rim * rim))


@njit(cache=True, error_model="numpy")
def cut_tapered_line(heights, best, frame, move, profile, back, ahead, row_from, row_to):
    """A tapered ball on a line."""
    rim = profile[1] + RIM_SLACK_MM
    j0, j1, line, edges = lay_out(frame, move, rim, back, ahead, row_from, row_to)
    m = line[6]
    lean, pull = lowest_on_cone(m, profile[3], rim)
    ball_lean, ball = _f4(m / math.sqrt(1.0 + m * m)), _f4(profile[2])
    slope, blend, blend_z = _f4(profile[3]), _f4(profile[4]), _f4(profile[5])
    rim2 = _f4(rim * rim)
    for j in range(j0, j1):
        i0, i1 = cells_of(j, edges, heights.shape[1])
        for chunk in range(i0, i1, RUN):
            i = min(chunk, i1 - LANES)
            place, lo, hi, z0 = place_of(i, j, line)
            run = heights[j, i : min(i + RUN, i1)]
            row_tapered(
                run, best, place, lo, hi, z0, _f4(m), lean, pull, slope, rim2, ball_lean, ball, blend, blend_z
            )


@njit(cache=True, error_model="numpy")
def cut_bull_slope(heights, best, frame, move, profile, back, ahead, row_from, row_to):
    """A bull cutter on a slope: its own rows, in float64."""
    rim, corner = profile[1] + RIM_SLACK_MM, profile[2]
    j0, j1, line, edges = lay_out(frame, move, rim, back, ahead, row_from, row_to)
    x_cell, y_cell, az, step_x, step_y, length, m, _, _, _ = line
    scratch = np.empty((4, RUN))
    for j in range(j0, j1):
        i0, i1 = cells_of(j, edges, heights.shape[1])
        for i in range(i0, i1, RUN):
            right, up = i - x_cell, j - y_cell
            place = (right * step_x + up * step_y, step_x, up * step_x - right * step_y, -step_y)
            run = heights[j, i : min(i + RUN, i1)]
            row_bull_slope(run, best, place, scratch, length, az, m, profile[1] - corner, corner, rim)


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


@njit(cache=True, inline="always")
def _surface_of(profile):
    """The profile as ``row_arc`` takes it."""
    kind, radius, corner = int(profile[0]), profile[1], profile[2]
    if kind == CONE:
        return 0.0, 0.0, profile[3], 0.0, 0.0
    if kind == TAPERED_BALL:
        return 0.0, corner, profile[3], profile[4], profile[5]
    return radius - corner, corner, 0.0, FAR, 0.0


@njit(cache=True, error_model="numpy")
def cut_arc(heights, best, frame, move, profile, row_from, row_to):
    """Cut rows row_from <= j < row_to with a level arc."""
    x_first, y_first, pitch = frame
    nx = heights.shape[1]
    rim = profile[1] + RIM_SLACK_MM
    cx, cy = move[6], move[7]
    sx, sy, ex, ey, around, wide, whole, sense, x_lo, x_hi, y_lo, y_hi = arc_shape(move)
    ends, end_radius = (sx, sy, ex, ey), math.sqrt(ex * ex + ey * ey)
    surface = _surface_of(profile)
    outer, inner = max(around, end_radius) + rim, min(around, end_radius) - rim
    j0, j1 = rows_of(cy + y_lo - rim, cy + y_hi + rim, y_first, pitch, row_from, row_to)
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
            i1 = min(nx, i0 + (i1 - i0 + LANES - 1) // LANES * LANES)
            i0 = max(0, i1 - (i1 - i0 + LANES - 1) // LANES * LANES)
            px0 = x_first + i0 * pitch - cx
            row_arc(
                heights[j, i0:i1], best, px0, pitch, py, ends, around, wide, whole, sense, move[2], surface, rim
            )  # fmt: skip


@njit(cache=True, error_model="numpy")
def cut_move(heights, best, frame, move, profile, back, ahead, row_from, row_to):
    """Cut rows row_from <= j < row_to with one move of any type; ``best`` as in field.sweep_rows."""
    kind, radius, corner = int(profile[0]), profile[1], profile[2]
    level = move[2] == move[5] or (move[0] == move[3] and move[1] == move[4])
    if move[8] != 0.0:
        cut_arc(heights, best, frame, move, profile, row_from, row_to)
    elif kind == CONE:
        cut_cone_line(heights, best, frame, move, profile, back, ahead, row_from, row_to)
    elif kind == TAPERED_BALL:
        cut_tapered_line(heights, best, frame, move, profile, back, ahead, row_from, row_to)
    elif corner == radius:
        cut_ball_line(heights, best, frame, move, profile, back, ahead, row_from, row_to)
    elif corner == 0.0 and level:
        cut_level_flat(heights, best, frame, move, radius + RIM_SLACK_MM, row_from, row_to)
    elif corner == 0.0:
        cut_flat_slope(heights, best, frame, move, profile, back, ahead, row_from, row_to)
    elif level:
        cut_bull_level(heights, best, frame, move, profile, back, ahead, row_from, row_to)
    else:
        cut_bull_slope(heights, best, frame, move, profile, back, ahead, row_from, row_to)
