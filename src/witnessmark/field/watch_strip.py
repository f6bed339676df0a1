"""One strip of rows, in the order of the program: test the assembly, cut, test again.

Question  for every move: how deep does it cut here, and does a rigid step meet wood here
Frame     standing frame; the strip is rows row_from <= j < row_to
Units     mm
Arrays    heights (ny, nx) float32, lowered in place; steps (k, 5) float64: radius, underside above the tip, the
          caller's number of the step, and its sides (none: round) first <= i < last in sides (s, 3); tops16, tops128:
          greatest height in tiles of that many cells, float32, never too low, for wood only sinks; stale16: tiles
          cut since their top was taken
          found (members, 8) float64: height removed, height met, heights removed summed over the cells, contact
          by, step (-1 none), x, y, z
Method    a tile can hold a contact deeper than the one known only if its top is above the step's lowest
          underside by more; tops are taken afresh only where they stand in the way
Source    derived here
Valid     as field.contact; which of several equally deep places is named: the first by tiles
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from .contact import NEVER, arc_before, box_near_line, disc_span, gap2, shape_span, tip_after, tip_before
from .profile import surface_height
from .sweep_moves import arc_shape, cut_move, line_shape
from .sweep_rows import GRAZE_MM, RIM_SLACK_MM

TILE = 16
BLOCK = 128
IN_BLOCK = BLOCK // TILE

CUT, MET, TAKEN, BY, STEP, AT_X, AT_Y, AT_Z = range(8)
FIELDS = 8


@njit(cache=True, fastmath={"nnan", "nsz"}, error_model="numpy")
def top_of(part):
    """Greatest height of a part of the field."""
    lanes = np.full(TILE, -np.inf, dtype=np.float32)
    rows, width = part.shape
    if width == TILE:
        for j in range(rows):
            row = part[j]
            for k in range(TILE):
                lanes[k] = max(lanes[k], row[k])
    else:
        for j in range(rows):
            for k in range(width):
                lanes[0] = max(lanes[0], part[j, k])
    top = lanes[0]
    for k in range(1, TILE):
        top = max(top, lanes[k])
    return top


@njit(cache=True)
def take_top(heights, tops16, j, i):
    """Take the top of tile (j, i) afresh."""
    top = top_of(heights[j * TILE : (j + 1) * TILE, i * TILE : (i + 1) * TILE])
    tops16[j, i] = top
    return top


@njit(cache=True)
def take_block(tops16, tops128, block_j, block_i):
    """Take the top of a block from its tiles."""
    j0, i0 = block_j * IN_BLOCK, block_i * IN_BLOCK
    top = np.float32(-np.inf)
    for j in range(j0, min(tops16.shape[0], j0 + IN_BLOCK)):
        for i in range(i0, min(tops16.shape[1], i0 + IN_BLOCK)):
            top = max(top, tops16[j, i])
    tops128[block_j, block_i] = top


@njit(cache=True, nogil=True, error_model="numpy")
def watch_strip(
    heights, frame, moves, mine, profile, back, ahead, joined, steps, sides, least, cuts, tops16, tops128, stale16,
    row_from, row_to, found,
):  # fmt: skip
    """Cut and watch the strip's moves; ``least`` is the contact that counts, ``cuts`` whether wood is removed."""
    block_j = row_from // BLOCK
    for j in range(row_from // TILE, (row_to + TILE - 1) // TILE):
        for i in range(tops16.shape[1]):
            take_top(heights, tops16, j, i)
    for i in range(tops128.shape[1]):
        take_block(tops16, tops128, block_j, i)
    highest = tops128[block_j].max()
    best = np.empty(3)
    rim = profile[1] + RIM_SLACK_MM
    rim2 = rim * rim if cuts else -1.0
    y_low, y_high = frame[1] + row_from * frame[2], frame[1] + (row_to - 1) * frame[2]
    for q in range(mine.size):
        move = moves[mine[q]]
        one = found[q]
        lowest = min(move[2], move[5])
        for g in range(steps.shape[0]):
            if highest > lowest + steps[g, 1] + max(least, one[BY]):
                highest = look(heights, frame, move, steps[g], sides, rim2, least, False, tops16, tops128, stale16,
                               block_j, one)  # fmt: skip
        if not cuts:
            continue
        if move[8] == 0.0 and (min(move[1], move[4]) - rim > y_high or max(move[1], move[4]) + rim < y_low):
            pass
        else:
            if not joined[mine[q]]:
                one[MET] = max(one[MET], met_at_start(heights, frame, move, profile, rim, row_from, row_to))
            best[:] = (-1.0, -1.0, 0.0)
            cut_move(heights, best, frame, move, profile, back[mine[q]], ahead[mine[q]], row_from, row_to)
            one[CUT] = max(one[CUT], best[0])
            one[TAKEN] += best[2]
            if move[8] != 0.0 or move[0] != move[3] or move[1] != move[4]:  # an upright move's rim meets nothing
                one[MET] = max(one[MET], best[1])
            if one[CUT] > 0.0:
                mark_stale(stale16, frame, move, rim, row_from, row_to)
        if move[8] == 0.0 and move[5] < move[2]:
            for g in range(steps.shape[0]):
                if highest > lowest + steps[g, 1] + max(least, one[BY]):
                    highest = look(heights, frame, move, steps[g], sides, rim2, least, True, tops16, tops128, stale16,
                                   block_j, one)  # fmt: skip


@njit(cache=True, inline="always")
def bounds_of(move):
    """x and y range of a move's axis."""
    if move[8] == 0.0:
        return min(move[0], move[3]), max(move[0], move[3]), min(move[1], move[4]), max(move[1], move[4])
    shape = arc_shape(move)
    return move[6] + shape[8], move[6] + shape[9], move[7] + shape[10], move[7] + shape[11]


@njit(cache=True, inline="always")
def tiles_of(lo, hi, first, pitch, reach, least, most):
    """Tiles t0 <= t < t1 within ``reach`` of lo..hi."""
    t0 = max(least, math.floor(((lo - reach - first) / pitch - 1e-6) / TILE))
    t1 = min(most, math.floor(((hi + reach - first) / pitch + 1e-6) / TILE) + 1)
    return t0, t1


@njit(cache=True)
def mark_stale(stale16, frame, move, rim, row_from, row_to):
    """Remember which tiles a move may have lowered."""
    x_lo, x_hi, y_lo, y_hi = bounds_of(move)
    last = (row_to + TILE - 1) // TILE
    j0, j1 = tiles_of(y_lo, y_hi, frame[1], frame[2], rim, row_from // TILE, last)
    i0, i1 = tiles_of(x_lo, x_hi, frame[0], frame[2], rim, 0, stale16.shape[1])
    for j in range(j0, j1):
        for i in range(i0, i1):
            stale16[j, i] = True


@njit(cache=True, error_model="numpy")
def met_at_start(heights, frame, move, profile, rim, row_from, row_to):
    """Greatest height above the tip of wood inside the cutter where a chain begins (-1 none)."""
    x_first, y_first, pitch = frame
    met = -1.0
    j0 = max(row_from, math.ceil((move[1] - rim - y_first) / pitch))
    j1 = min(row_to, math.floor((move[1] + rim - y_first) / pitch) + 1)
    i0 = max(0, math.ceil((move[0] - rim - x_first) / pitch))
    i1 = min(heights.shape[1], math.floor((move[0] + rim - x_first) / pitch) + 1)
    for j in range(j0, j1):
        for i in range(i0, i1):
            r = math.hypot(x_first + i * pitch - move[0], y_first + j * pitch - move[1])
            above = heights[j, i] - move[2]
            if r <= rim - GRAZE_MM and above > surface_height(min(r, profile[1]), profile):
                met = max(met, above)
    return met


@njit(cache=True, error_model="numpy")
def look(heights, frame, move, step, sides, rim2, least, after, tops16, tops128, stale16, block_j, one):
    """Look for a contact deeper than the one known, tile by tile; the strip's greatest height."""
    x_first, y_first, pitch = frame
    x_lo, x_hi, y_lo, y_hi = bounds_of(move)
    j_last = min(tops16.shape[0], (block_j + 1) * IN_BLOCK)
    j0, j1 = tiles_of(y_lo, y_hi, y_first, pitch, step[0], block_j * IN_BLOCK, j_last)
    i0, i1 = tiles_of(x_lo, x_hi, x_first, pitch, step[0], 0, tops16.shape[1])
    under = min(move[2], move[5]) + step[1]
    if j1 <= j0 or i1 <= i0:
        return tops128[block_j].max()
    for block_i in range(i0 // IN_BLOCK, (i1 - 1) // IN_BLOCK + 1):
        if tops128[block_j, block_i] <= under + max(least, one[BY]):
            continue
        taken = False
        for j in range(j0, j1):
            y0 = y_first + j * TILE * pitch
            for i in range(max(i0, block_i * IN_BLOCK), min(i1, (block_i + 1) * IN_BLOCK)):
                if tops16[j, i] <= under + max(least, one[BY]):
                    continue
                x0 = x_first + i * TILE * pitch
                side = (TILE - 1) * pitch
                if not near_move(x0, x0 + side, y0, y0 + side, move, step[0]):
                    continue
                if stale16[j, i]:
                    stale16[j, i] = False
                    taken = True
                    if take_top(heights, tops16, j, i) <= under + max(least, one[BY]):
                        continue
                search_tile(heights, frame, move, step, sides, rim2, least, after, j * TILE, i * TILE, one)
        if taken:
            take_block(tops16, tops128, block_j, block_i)
    return tops128[block_j].max()


@njit(cache=True)
def near_move(x0, x1, y0, y1, move, reach):
    """Whether a box comes within ``reach`` of a move's axis (for arcs: may say yes too often)."""
    if move[8] == 0.0:
        return box_near_line(x0, x1, y0, y1, move[0], move[1], move[3], move[4], reach)
    around = math.hypot(move[0] - move[6], move[1] - move[7])
    outer = around + reach
    if gap2(move[6], move[7], x0, x1, y0, y1) > outer * outer:
        return False
    far_x, far_y = max(abs(x0 - move[6]), abs(x1 - move[6])), max(abs(y0 - move[7]), abs(y1 - move[7]))
    return math.hypot(far_x, far_y) >= around - reach


@njit(cache=True, error_model="numpy")
def search_tile(heights, frame, move, step, sides, rim2, least, after, row, column, one):
    """Every cell of a tile that stands above the step's lowest underside; the deepest contact goes to ``one``."""
    x_first, y_first, pitch = frame
    ax, ay, az, tx, ty, length, m = line_shape(move)
    step2 = step[0] * step[0]
    curved = move[8] != 0.0
    centre_x, centre_y = (move[6], move[7]) if curved else (ax, ay)
    sx, sy, ex, ey, around, wide, whole, sense, _, _, _, _ = arc_shape(move)
    arc = (sx, sy, ex, ey, around, wide, whole, sense, step[0])
    under = min(move[2], move[5]) + step[1]
    first, last = int(step[3]), int(step[4])
    for j in range(row, min(heights.shape[0], row + TILE)):
        py = y_first + j * pitch - centre_y
        for i in range(column, min(heights.shape[1], column + TILE)):
            h = heights[j, i]
            if h <= under + max(least, one[BY]):
                continue
            px = x_first + i * pitch - centre_x
            if curved:
                tip = arc_before(px, py, arc, move[2], step2, rim2)
            else:
                a, d = px * tx + py * ty, py * tx - px * ty
                low, high = disc_span(a, d, step2)
                if last > first:
                    low, high = shape_span(px, py, tx, ty, sides, first, last)
                if after:
                    tip = tip_after(a, d, low, high, length, m, az, rim2)
                else:
                    tip = tip_before(a, d, low, high, length, m, az, rim2)
            by = h - (tip + step[1])
            if tip != NEVER and by > max(least, one[BY]):
                one[BY], one[STEP] = by, step[2]
                one[AT_X], one[AT_Y], one[AT_Z] = px + centre_x, py + centre_y, tip + step[1]
