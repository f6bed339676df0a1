"""One move over one row of cells: the inner loops of the sweeps.

Question  how low does the cutter's surface get over each cell of a short run of a row, while one move is made
Frame     along the move: a = place of the cell along it, d = distance to its left, u = where the tip is, all
          counted from a point of the move near the run, so that float32 keeps about 1e-6 mm sideways
Units     mm; m = dz/du, pure number
Arrays    run (n,) float32 heights, n >= LANES, lowered in place; place = (a, d, tx, ty, e, pitch) of the run
          best (3,) float64 or None: the greatest height removed, the greatest height above the tip of wood that
          the rim met (rubbed by less than GRAZE_MM does not count), and the heights removed summed over the cells;
          None: a kernel that keeps no such record
Method    z(u) = z0 + m u + b(sqrt((u - a)^2 + d^2)) is convex in u; its least value over the part of the move
          in which the cell lies under the cutter: closed forms for flat, ball, cone and tapered ball, bisection
          on the radius for the bull's torus
Source    plane geometry, derived here; checked against closed forms, dense sampling and mesh booleans
Valid     every slope; a cell within 2e-6 mm outside the rim counts as under the cutter (``RIM_SLACK_MM``)
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, types
from numba.extending import intrinsic

LANES = 16  # cells handled as one vector; a constant count, so that the compiler needs no remainder
GRAZE_MM = 0.02  # wood that reaches less far into the cutter's circle is rubbed away, not met
RIM_SLACK_MM = 2e-6  # cells exactly under the rim are common with round numbers: rounding must not decide them
BISECTIONS = 30  # to 1e-9 of the corner radius; the height is flat there, so its error is far smaller still
NONE = np.float32(-1.0)
NOTHING = np.int32(-1)  # the bits of floats: those of what is above 0 are in order, all others are below them
CUT, MET, TAKEN = 0, 1, 2

_f4 = np.float32
_ZERO = np.float32(0.0)
_THIN = np.float32(2.0 * GRAZE_MM)  # a chord's half length squared, where it lies so near the rim: this times the rim
_FAST = {"nnan", "nsz", "contract", "reassoc"}  # no approximate roots or reciprocals; -inf is a height


@intrinsic
def bits(typing_context, value):
    """The bits of a float32 as an int32: LLVM makes vectors of the greatest of integers, and not of floats."""

    def as_int(context, builder, signature, arguments):
        return builder.bitcast(arguments[0], context.get_value_type(types.int32))

    return types.int32(types.float32), as_int


@intrinsic
def from_bits(typing_context, value):
    """The float32 that has these bits."""

    def as_float(context, builder, signature, arguments):
        return builder.bitcast(arguments[0], context.get_value_type(types.float32))

    return types.float32(types.int32), as_float


@njit(cache=True, inline="always")
def keep(best, cut, met, taken):
    """Put the greatest of a run into the record; what is not above 0 leaves it as it is."""
    if cut > 0:
        best[CUT] = max(best[CUT], from_bits(np.int32(cut)))
    if met > 0:
        best[MET] = max(best[MET], from_bits(np.int32(met)))
    best[TAKEN] += taken


@njit(cache=True, fastmath=_FAST, error_model="numpy")
def row_fill(run, best, z):
    """Lower a run of any length to one height; what it met it also removed."""
    if best is not None:
        top = NOTHING
        taken = _ZERO
        for k in range(run.size):
            gone = max(run[k] - z, _ZERO)
            top = max(top, bits(gone))
            taken += gone
        keep(best, top, top, taken)
    for k in range(run.size):
        run[k] = min(run[k], z)


@njit(cache=True, fastmath=_FAST, error_model="numpy")
def row_flat(run, best, place, lo, hi, z0, m, rim2):
    """Flat cutter on a slope: the lowest tip while the cell is under it."""
    a0, d0, tx, ty, e0, pitch = place
    cut = met = NOTHING
    taken = _ZERO
    up = m > _ZERO
    thin = _THIN * math.sqrt(rim2)
    for b in range(0, run.size, LANES):
        begin = min(b, run.size - LANES)
        part = run[begin : begin + LANES]
        e1 = e0 + _f4(begin) * pitch
        for k in range(LANES):
            e = e1 + _f4(k) * pitch
            d = d0 - e * ty
            a = a0 + e * tx
            c2 = rim2 - d * d
            c = math.sqrt(max(c2, _ZERO))
            u_from = max(lo, a - c)
            u_to = min(hi, a + c)
            z = z0 + m * (u_from if up else u_to)
            h = part[k]
            under = (c2 >= _ZERO) & (u_from <= u_to)
            if best is not None:
                gone = max(h - z, _ZERO) if under else _ZERO
                cut = max(cut, bits(gone))
                taken += gone
                met = max(met, bits(h - (z0 + m * u_from) if under & (c2 > thin) & (a - c > lo) else NONE))
            part[k] = min(h, z if under else h)
    if best is not None:
        keep(best, cut, met, taken)


@njit(cache=True, fastmath=_FAST, error_model="numpy")
def row_ball(run, best, place, lo, hi, z0, m, lean, radius, radius2, slack2):
    """Ball cutter; lean = m / sqrt(1 + m^2)."""
    a0, d0, tx, ty, e0, pitch = place
    cut = met = NOTHING
    taken = _ZERO
    thin = _THIN * radius
    for b in range(0, run.size, LANES):
        begin = min(b, run.size - LANES)
        part = run[begin : begin + LANES]
        e1 = e0 + _f4(begin) * pitch
        for k in range(LANES):
            e = e1 + _f4(k) * pitch
            d = d0 - e * ty
            a = a0 + e * tx
            c2 = radius2 - d * d
            c = math.sqrt(max(c2, _ZERO))
            u = min(max(a - lean * c, lo), hi)
            w = u - a
            q = c2 - w * w
            z = z0 + m * u + (radius - math.sqrt(max(q, _ZERO)))
            h = part[k]
            under = q >= slack2
            if best is not None:
                gone = max(h - z, _ZERO) if under else _ZERO
                cut = max(cut, bits(gone))
                taken += gone
                met = max(met, bits(h - (z0 + m * (a - c)) if under & (c2 > thin) & (a - c > lo) else NONE))
            part[k] = min(h, z if under else h)
    if best is not None:
        keep(best, cut, met, taken)


@njit(cache=True, fastmath=_FAST, error_model="numpy")
def row_cone(run, best, place, lo, hi, z0, m, lean, pull, slope, rim2):
    """Cone; lowest where u - a = -lean |d| - pull (pull is beyond any rim where the move is steeper)."""
    a0, d0, tx, ty, e0, pitch = place
    cut = met = NOTHING
    taken = _ZERO
    thin = _THIN * math.sqrt(rim2)
    for b in range(0, run.size, LANES):
        begin = min(b, run.size - LANES)
        part = run[begin : begin + LANES]
        e1 = e0 + _f4(begin) * pitch
        for k in range(LANES):
            e = e1 + _f4(k) * pitch
            d = d0 - e * ty
            a = a0 + e * tx
            c2 = rim2 - d * d
            c = math.sqrt(max(c2, _ZERO))
            u_from = max(lo, a - c)
            u_to = min(hi, a + c)
            u = min(max(a - lean * abs(d) - pull, u_from), u_to)
            w = u - a
            z = z0 + m * u + slope * math.sqrt(w * w + d * d)
            h = part[k]
            under = (c2 >= _ZERO) & (u_from <= u_to)
            if best is not None:
                gone = max(h - z, _ZERO) if under else _ZERO
                cut = max(cut, bits(gone))
                taken += gone
                met = max(met, bits(h - (z0 + m * u_from) if under & (c2 > thin) & (a - c > lo) else NONE))
            part[k] = min(h, z if under else h)
    if best is not None:
        keep(best, cut, met, taken)


@njit(cache=True, fastmath=_FAST, error_model="numpy")
def row_tapered(run, best, place, lo, hi, z0, m, lean, pull, slope, rim2, ball_lean, ball, blend, blend_z):
    """Tapered ball: the ball's lowest place if it lies on the ball, else the cone's (the blend is smooth)."""
    a0, d0, tx, ty, e0, pitch = place
    cut = met = NOTHING
    taken = _ZERO
    thin = _THIN * math.sqrt(rim2)
    ball2 = ball * ball
    blend2 = blend * blend
    for b in range(0, run.size, LANES):
        begin = min(b, run.size - LANES)
        part = run[begin : begin + LANES]
        e1 = e0 + _f4(begin) * pitch
        for k in range(LANES):
            e = e1 + _f4(k) * pitch
            d = d0 - e * ty
            a = a0 + e * tx
            d2 = d * d
            c2 = rim2 - d2
            c = math.sqrt(max(c2, _ZERO))
            u_from = max(lo, a - c)
            u_to = min(hi, a + c)
            on_ball = -ball_lean * math.sqrt(max(ball2 - d2, _ZERO))
            w = on_ball if on_ball * on_ball + d2 <= blend2 else -lean * abs(d) - pull
            u = min(max(a + w, u_from), u_to)
            w = u - a
            r2 = w * w + d2
            b_ball = ball - math.sqrt(max(ball2 - r2, _ZERO))
            b_cone = blend_z + slope * (math.sqrt(r2) - blend)
            z = z0 + m * u + (b_ball if r2 <= blend2 else b_cone)
            h = part[k]
            under = (c2 >= _ZERO) & (u_from <= u_to)
            if best is not None:
                gone = max(h - z, _ZERO) if under else _ZERO
                cut = max(cut, bits(gone))
                taken += gone
                met = max(met, bits(h - (z0 + m * u_from) if under & (c2 > thin) & (a - c > lo) else NONE))
            part[k] = min(h, z if under else h)
    if best is not None:
        keep(best, cut, met, taken)


@njit(cache=True, fastmath=_FAST, error_model="numpy")
def row_bull_level(run, best, place, lo, hi, z0, flat, corner, rim2):
    """Bull cutter on a level move: the nearest point of the axis is the lowest."""
    a0, d0, tx, ty, e0, pitch = place
    cut = met = NOTHING
    taken = _ZERO
    corner2 = corner * corner
    thin = _THIN * math.sqrt(rim2)
    for b in range(0, run.size, LANES):
        begin = min(b, run.size - LANES)
        part = run[begin : begin + LANES]
        e1 = e0 + _f4(begin) * pitch
        for k in range(LANES):
            e = e1 + _f4(k) * pitch
            d = d0 - e * ty
            a = a0 + e * tx
            w = min(max(a, lo), hi) - a
            r2 = w * w + d * d
            over = max(math.sqrt(r2) - flat, _ZERO)
            z = z0 + (corner - math.sqrt(max(corner2 - over * over, _ZERO)))
            h = part[k]
            under = r2 <= rim2
            c2 = rim2 - d * d
            c = math.sqrt(max(c2, _ZERO))
            if best is not None:
                gone = max(h - z, _ZERO) if under else _ZERO
                cut = max(cut, bits(gone))
                taken += gone
                met = max(met, bits(h - z0 if under & (c2 > thin) & (a - c > lo) else NONE))
            part[k] = min(h, z if under else h)
    if best is not None:
        keep(best, cut, met, taken)


@njit(cache=True, fastmath={"nnan", "nsz", "contract"}, error_model="numpy")
def row_bull_slope(run, best, place, scratch, length, z0, m, flat, corner, rim):
    """Bull cutter on a slope, in float64: where b'(r) w / r = -m, by bisection on the radius.

    place = (a, step of a, d, step of d) of the run's first cell; scratch (4, >= n) float64.
    """
    a0, a_step, d0, d_step = place
    n = run.size
    along, beside2, near, far = scratch[0, :n], scratch[1, :n], scratch[2, :n], scratch[3, :n]
    for k in range(n):
        along[k] = a0 + k * a_step
        d = d0 + k * d_step
        beside2[k] = d * d
        near[k] = max(abs(d), flat)
        far[k] = flat + corner
    rise2, corner2 = m * m, corner * corner
    for _ in range(BISECTIONS):
        for k in range(n):
            r = 0.5 * (near[k] + far[k])
            over2 = (r - flat) * (r - flat)
            inward = over2 * (r * r - beside2[k]) < rise2 * r * r * (corner2 - over2)
            near[k] = r if inward else near[k]
            far[k] = far[k] if inward else r
    uphill = -1.0 if m > 0.0 else 1.0
    for k in range(n):
        a, d2 = along[k], beside2[k]
        c2 = rim * rim - d2
        c = math.sqrt(max(c2, 0.0))
        u_from, u_to = max(0.0, a - c), min(length, a + c)
        u = min(max(a + uphill * math.sqrt(max(near[k] * near[k] - d2, 0.0)), u_from), u_to)
        over = max(math.sqrt((u - a) * (u - a) + d2) - flat, 0.0)
        z = _f4(z0 + m * u + (corner - math.sqrt(max(corner2 - over * over, 0.0))))
        h = run[k]
        under = (c2 >= 0.0) & (u_from <= u_to)
        if best is not None and under:
            best[CUT] = max(best[CUT], h - z)
            best[TAKEN] += max(h - z, _ZERO)
            if a - c > 0.0 and c2 > 2.0 * GRAZE_MM * rim:
                best[MET] = max(best[MET], _f4(h - (z0 + m * u_from)))
        run[k] = min(h, z if under else h)


@njit(cache=True, fastmath={"nnan", "nsz", "contract"}, error_model="numpy")
def row_arc(run, best, px0, pitch, py, ends, around, wide, whole, sense, z, surface, rim):
    """Level arc in float64; px, py and the ends (start x, y, end x, y) are counted from its centre.

    surface = (flat, corner, slope, blend, blend height): a round edge up to the blend, a cone beyond it.
    """
    sx, sy, ex, ey = ends
    flat, corner, slope, blend, blend_z = surface
    rim2 = rim * rim
    cut = met = NOTHING
    taken = _ZERO
    for b in range(0, run.size, LANES):
        begin = min(b, run.size - LANES)
        part = run[begin : begin + LANES]
        p1 = px0 + begin * pitch
        for k in range(LANES):
            px = p1 + k * pitch
            after = (sx * py - sy * px) * sense >= 0.0
            until = (px * ey - py * ex) * sense >= 0.0
            beside = whole | (after & until) | (wide & (after | until))
            from_start2 = (px - sx) * (px - sx) + (py - sy) * (py - sy)
            to_end2 = (px - ex) * (px - ex) + (py - ey) * (py - ey)
            ring = math.sqrt(px * px + py * py) - around
            near2 = min(from_start2, to_end2)
            r2 = min(near2, ring * ring) if beside else near2
            r = math.sqrt(r2)
            over = max(r - flat, 0.0)
            edge = corner - math.sqrt(max(corner * corner - over * over, 0.0))
            low = _f4(z + (edge if r <= blend else blend_z + slope * (r - blend)))
            h = part[k]
            under = r2 <= rim2
            if best is not None:
                gone = max(h - low, _ZERO) if under else _ZERO
                cut = max(cut, bits(gone))
                taken += gone
                into = abs(ring) < rim - GRAZE_MM
                met = max(met, bits(_f4(h - z) if under & into & (from_start2 > rim2) else NONE))
            part[k] = min(h, low if under else h)
    if best is not None:
        keep(best, cut, met, taken)
