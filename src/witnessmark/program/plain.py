"""The quick way through plain lines: words of G0 to G3, X Y Z I J F with plain numbers, and nothing else.

Question  what motions do these lines make?
Frame     program frame
Units     mm after ``scale`` (1 or 25.4 mm a unit); feed mm/min
Arrays    text (n,) uint8; position (3,), changed in place; offset (3,), added to each coordinate word; kinds (m,)
          int8, starts, ends, centres (m, 3), feeds (m,), lines (m,) int32: rows from ``count`` on are filled;
          nan where a move has no centre or feed
Method    a line is carried out here only if all of it is plain and right; the first other line is left to the
          general way, at its beginning. A number is its digits as a whole number over a power of ten: both are
          exact in float64 up to 15 digits, so the quotient is the same double that the general way reads.
Source    as in the modules of the general way (grammar, trace); the tests hold the two together
Valid     G90, G94, G17, with the place known on every axis: the caller sees to it
Refuses   nothing: whatever is doubtful goes the general way
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .grammar import LONGEST_LINE
from .trace import FARTHEST_MM, RADIUS_SLACK_INCH_MM, RADIUS_SLACK_MM

_POWERS = np.array([10.0**k for k in range(23)])
_MOST_DIGITS = 15
_G, _X, _Y, _Z, _I, _J, _F = range(7)
_SLOT = np.full(256, -1, dtype=np.int64)
for _slot, _letter in enumerate("GXYZIJF"):
    _SLOT[ord(_letter)] = _SLOT[ord(_letter.lower())] = _slot


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _number(text: NDArray[np.uint8], at: int, n: int) -> tuple[float, int]:
    """The number at ``at`` and the index after it; index -1 when it is not plain."""
    negative = at < n and text[at] == ord("-")
    if at < n and (negative or text[at] == ord("+")):
        at += 1
    whole, digits, decimals, seen, point = 0, 0, 0, False, False
    while at < n:
        c = int(text[at])
        if ord("0") <= c <= ord("9"):
            whole = whole * 10 + (c - ord("0"))
            digits += 1 if whole > 0 else 0
            decimals += 1 if point else 0
            seen = True
            if digits > _MOST_DIGITS:
                return 0.0, -1
        elif c == ord(".") and not point:
            point = True
        else:
            break
        at += 1
    if not seen or decimals >= len(_POWERS):
        return 0.0, -1
    value = whole / _POWERS[decimals]
    return (-value if negative else value), at


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _skip_number(text: NDArray[np.uint8], at: int, n: int) -> int:
    """Past spaces and a line number at the start of a line."""
    while at < n and (text[at] == ord(" ") or text[at] == ord("\t")):
        at += 1
    if at < n and (text[at] == ord("N") or text[at] == ord("n")):
        begin = at + 1
        at = begin
        while at < n and ord("0") <= text[at] <= ord("9"):
            at += 1
        if at == begin or at - begin > 5:
            return -1
    return at


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _words(text: NDArray[np.uint8], at: int, n: int, values: NDArray[np.float64], given: NDArray[np.bool_]) -> int:
    """Read a line's words; the index of its end, or -1 when it is not plain."""
    begin = at
    given[:] = False
    at = _skip_number(text, at, n)
    if at < 0:
        return -1
    while at < n and text[at] != ord("\n"):
        c = int(text[at])
        at += 1
        if c == ord(" ") or c == ord("\t"):
            continue
        slot = _SLOT[c]
        if slot < 0 or given[slot]:
            return -1
        while at < n and (text[at] == ord(" ") or text[at] == ord("\t")):
            at += 1
        values[slot], at = _number(text, at, n)
        if at < 0:
            return -1
        given[slot] = True
    return at if at - begin <= LONGEST_LINE else -1


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _plain_motion(values: NDArray[np.float64], given: NDArray[np.bool_], motion: int) -> int:
    """The line's motion 0 to 3, -1 when it makes none (feed alone, or nothing), -2 when it is not plain."""
    axes = given[_X] or given[_Y] or given[_Z]
    if given[_F] and values[_F] < 0.0:
        return -2
    if given[_G]:
        g = values[_G]
        if not axes or not (g == 0.0 or g == 1.0 or g == 2.0 or g == 3.0):
            return -2
        motion = int(g)
    centre = given[_I] or given[_J]
    if centre != (axes and motion >= 2):
        return -2
    if motion >= 2 and axes and not (given[_X] or given[_Y]):
        return -2
    return motion if axes else -1


@njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def run_plain(
    text: NDArray[np.uint8],
    at: int,
    line: int,
    position: NDArray[np.float64],
    offset: NDArray[np.float64],
    scale: float,
    motion: int,
    feed: float,
    kinds: NDArray[np.int8],
    starts: NDArray[np.float64],
    ends: NDArray[np.float64],
    centres: NDArray[np.float64],
    feeds: NDArray[np.float64],
    lines: NDArray[np.int32],
    count: int,
) -> tuple[int, int, int, float, int, bool]:
    """Carry out plain lines; returns (at, line, motion, feed, count, full)."""
    n = len(text)
    values, given, to = np.zeros(7), np.zeros(7, dtype=np.bool_), np.empty(3)
    slack = 0.999 * (RADIUS_SLACK_MM if scale == 1.0 else RADIUS_SLACK_INCH_MM)
    while at < n:
        if count == len(kinds):
            return at, line, motion, feed, count, True
        end = _words(text, at, n, values, given)
        if end < 0:
            break
        kind = _plain_motion(values, given, motion)
        if kind == -2:
            break
        for axis in range(3):
            to[axis] = values[axis + 1] * scale + offset[axis] if given[axis + 1] else position[axis]
        if kind >= 0 and not (abs(to[0]) <= FARTHEST_MM and abs(to[1]) <= FARTHEST_MM and abs(to[2]) <= FARTHEST_MM):
            break
        cx, cy, cz = math.nan, math.nan, math.nan
        if kind >= 2:
            cx = position[0] + (values[_I] * scale if given[_I] else 0.0)
            cy = position[1] + (values[_J] * scale if given[_J] else 0.0)
            cz = position[2]
            radius = math.hypot(position[0] - cx, position[1] - cy)
            if radius == 0.0 or abs(radius - math.hypot(to[0] - cx, to[1] - cy)) > slack:
                break
        feed = values[_F] * scale if given[_F] else feed
        if kind >= 2 or (kind >= 0 and (to[0] != position[0] or to[1] != position[1] or to[2] != position[2])):
            kinds[count], lines[count] = kind, line
            feeds[count] = feed if kind > 0 else math.nan
            starts[count, :], ends[count, :] = position, to
            centres[count, 0], centres[count, 1], centres[count, 2] = cx, cy, cz
            count += 1
        if kind >= 0:
            motion = kind
            position[:] = to
        at, line = end + 1, line + 1
    return min(at, n), line, motion, feed, count, False
