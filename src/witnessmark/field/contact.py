"""When does something that must not touch wood stand over a cell, while one move is made?

Question  how low is the tip while a step (a cylinder about the spindle axis) stands over a cell, before the
          cutter first covers the cell, and after it has left it again
Frame     standing frame, or the step's: px, py from the start of a line, or from the centre of an arc
Units     mm
Arrays    none; scalars only. ``rim2`` is the square of the cutter's radius, -1 where nothing is cut
Method    Line: the step of radius g stands over a cell (a along, d beside) for a - sqrt(g^2 - d^2) <= u <=
          a + sqrt(g^2 - d^2), the cutter of radius c likewise. Before the cutter comes the wood is as it was;
          once it has come the wood is not above the cutter's own surface until it has left; after that the wood
          keeps the lowered height while the tip may sink on. The tip is straight in u, so its lowest place is at
          an end of each stretch. Level arcs: the cutter, being narrower than the step, comes later to every cell
          that it does not cover at the start.
Source    derived here; tests compare with moves split into hundreds of pieces and with sampling in time
Valid     steps wider than the cutter (narrower ones cannot touch wood that the cutter has not passed)
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

from numba import njit

NEVER = math.inf
ALONG = 1e-12  # a side along the move


@njit(cache=True, inline="always")
def disc_span(a, d, step2):
    """From and to along the move's line, from its start, where a disc stands over a cell; inf, -inf if nowhere."""
    g2 = step2 - d * d
    if g2 < 0.0:
        return NEVER, -NEVER
    g = math.sqrt(g2)
    return a - g, a + g


@njit(cache=True, inline="always")
def shape_span(px, py, tx, ty, sides, first, last):
    """The same for a convex shape: sides (n, 3), its normals and how far they lie from the spindle axis."""
    low, high = -NEVER, NEVER
    for k in range(first, last):
        over = sides[k, 0] * px + sides[k, 1] * py - sides[k, 2]  # how far the cell is outside of a side at the start
        rate = sides[k, 0] * tx + sides[k, 1] * ty
        if abs(rate) < ALONG:
            if over > 0.0:
                return NEVER, -NEVER
        elif rate > 0.0:
            low = max(low, over / rate)
        else:
            high = min(high, over / rate)
    return low, high


@njit(cache=True, inline="always")
def tip_before(a, d, low, high, length, m, start_z, rim2):
    """Lowest tip while the step is there (from low to high) and the cutter has not yet come; inf if never."""
    u_in, u_out = max(0.0, low), min(length, high)
    if u_in > u_out:
        return NEVER
    c2 = rim2 - d * d
    if c2 >= 0.0:
        c = math.sqrt(c2)
        if a - c <= length and a + c >= 0.0:
            if a - c <= u_in:
                return NEVER
            u_out = min(u_out, a - c)
    return start_z + m * (u_in if m >= 0.0 else u_out)


@njit(cache=True, inline="always")
def tip_after(a, d, low, high, length, m, start_z, rim2):
    """Lowest tip of a falling move while the step is over a cell that the cutter has left; inf if never."""
    c2 = rim2 - d * d
    if c2 < 0.0:
        return NEVER
    c = math.sqrt(c2)
    u_out = min(length, high)
    if a - c > length or a + c < 0.0 or a + c >= u_out or low > u_out:
        return NEVER
    return start_z + m * u_out


@njit(cache=True, inline="always")
def arc_before(px, py, arc, z, step2, rim2):
    """The tip's height if the step comes over the cell before the cutter on a level arc; inf if never."""
    sx, sy, ex, ey, around, wide, whole, sense, step = arc
    from_start2 = (px - sx) ** 2 + (py - sy) ** 2
    if from_start2 <= rim2:
        return NEVER
    if from_start2 <= step2 or (px - ex) ** 2 + (py - ey) ** 2 <= step2:
        return z
    after = (sx * py - sy * px) * sense >= 0.0
    until = (px * ey - py * ex) * sense >= 0.0
    beside = whole or (after and until) or (wide and (after or until))
    return z if beside and abs(math.sqrt(px * px + py * py) - around) <= step else NEVER


@njit(cache=True)
def box_near_line(x0, x1, y0, y1, ax, ay, bx, by, reach):
    """Whether a box comes within ``reach`` of a line from a to b (both convex: ends to box, corners to line)."""
    dx, dy = bx - ax, by - ay
    length2 = dx * dx + dy * dy
    if gap2(ax, ay, x0, x1, y0, y1) <= reach * reach or gap2(bx, by, x0, x1, y0, y1) <= reach * reach:
        return True
    if length2 == 0.0:
        return False
    inside_from, inside_to = math.inf, -math.inf
    for corner in range(4):
        px = (x1 if corner & 1 else x0) - ax
        py = (y1 if corner & 2 else y0) - ay
        side = py * dx - px * dy
        inside_from, inside_to = min(inside_from, side), max(inside_to, side)
        u = min(max((px * dx + py * dy) / length2, 0.0), 1.0)
        if (px - u * dx) ** 2 + (py - u * dy) ** 2 <= reach * reach:
            return True
    # the line may still run through the box without an end or a corner near it
    crosses = inside_from < 0.0 < inside_to
    return crosses and min(ax, bx) <= x1 and max(ax, bx) >= x0 and min(ay, by) <= y1 and max(ay, by) >= y0


@njit(cache=True, inline="always")
def gap2(px, py, x0, x1, y0, y1):
    """Square of the distance from a point to a box."""
    gx, gy = max(0.0, x0 - px, px - x1), max(0.0, y0 - py, py - y1)
    return gx * gx + gy * gy
