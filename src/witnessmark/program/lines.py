"""The lines between a program's opening and its end, as text, many at a time.

Question  how are strokes and arcs written, each word only where it changes something?
Frame     program frame
Units     counts of the format's least decimal
Arrays    points (n + 1, 3) int64; mode (n,) int8; arcs (k, 5) int64 as ``fit_arcs`` gives them. ``words`` (7,)
          int64: the words in force (see below), brought up to date. Out: uint8, ASCII, one line feed after each line
Method    as ``number.shown_count`` writes a count: no exponent, no trailing zeros or point, never -0
Source    NIST IR 6556 (from memory): words G X Y Z I J F, N for the line's number
Valid     for counts below 1e15
Refuses   nothing: the caller checks once
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.path.strokes import RAPID

MOTION, FEED, X, Y, Z, KNOWN, LINES = range(
    7
)  # motion G0 to G3 or NONE; feed's number; place; known axes; lines so far
NONE = -1
LARGEST_LINE_NUMBER = 99999
LONGEST_LINE = 160  # an N, a G, five numbers of at most 18 places, a feed of at most FEED_ROOM
FEED_ROOM = 32
_AXES = np.frombuffer(b"XYZ", dtype=np.uint8)

Bytes = NDArray[np.uint8]
Counts = NDArray[np.int64]


def words_in_force(lines: int) -> Counts:
    """What is in force after so many lines that set neither motion, feed nor place."""
    return np.array([NONE, NONE, 0, 0, 0, 0, lines], dtype=np.int64)


@njit(cache=True, error_model="numpy", nogil=True)  # type: ignore[untyped-decorator]
def _put_count(out: Bytes, at: int, letter: int, count: int, decimals: int) -> int:
    """A letter and a count of 10**-decimals after it; where the text goes on."""
    out[at] = letter
    at += 1
    if count < 0:
        out[at] = 45
        at += 1
        count = -count
    size = 10**decimals
    whole, part = count // size, count % size
    first, rest = at, whole
    while rest > 0 or at == first:
        out[at] = 48 + rest % 10
        rest //= 10
        at += 1
    for k in range((at - first) // 2):
        out[first + k], out[at - 1 - k] = out[at - 1 - k], out[first + k]
    if part > 0:
        out[at] = 46
        at += 1
        while part > 0:
            size //= 10
            out[at] = 48 + part // size
            part %= size
            at += 1
    return at


@njit(cache=True, error_model="numpy", nogil=True)  # type: ignore[untyped-decorator]
def _put_start(out: Bytes, at: int, words: Counts, numbered: bool) -> int:
    if numbered:
        at = _put_count(out, at, 78, words[LINES] % LARGEST_LINE_NUMBER + 1, 0)
        out[at] = 32
        at += 1
    return at


@njit(cache=True, error_model="numpy", nogil=True)  # type: ignore[untyped-decorator]
def _put_motion(out: Bytes, at: int, words: Counts, motion: int) -> int:
    if words[MOTION] != motion:
        words[MOTION] = motion
        at = _put_count(out, at, 71, motion, 0)
        out[at] = 32
        at += 1
    return at


@njit(cache=True, error_model="numpy", nogil=True)  # type: ignore[untyped-decorator]
def _put_end(out: Bytes, at: int, words: Counts, feed: int, feeds: Bytes) -> int:
    """The feed where it is another (in the place of the last space there is), and the line's end."""
    if feed != NONE and feed != words[FEED]:
        words[FEED] = feed
        for k in range(FEED_ROOM):
            if feeds[feed, k] == 0:
                break
            out[at] = feeds[feed, k]
            at += 1
        at += 1
    out[at - 1] = 10
    words[LINES] += 1
    return at


@njit(cache=True, error_model="numpy", nogil=True)  # type: ignore[untyped-decorator]
def _put_move(out: Bytes, at: int, words: Counts, motion: int, to: Counts, decimals: int) -> int:
    """The words of a straight move, a space after each; ``at`` where it would change nothing."""
    start = at
    moves = False
    for axis in range(3):
        moves = moves or to[axis] != words[X + axis] or not (words[KNOWN] >> axis) & 1
    if not moves:
        return start
    at = _put_motion(out, at, words, motion)
    for axis in range(3):
        if to[axis] != words[X + axis] or not (words[KNOWN] >> axis) & 1:
            at = _put_count(out, at, _AXES[axis], to[axis], decimals)
            out[at] = 32
            at += 1
            words[X + axis] = to[axis]
    words[KNOWN] = 7
    return at


@njit(cache=True, error_model="numpy", nogil=True)  # type: ignore[untyped-decorator]
def write_lines(
    points: Counts,
    mode: NDArray[np.int8],
    arcs: Counts,
    decimals: int,
    numbered: bool,
    feed_of_mode: Counts,
    feeds: Bytes,
    words: Counts,
    out: Bytes,
) -> int:
    """Fill ``out`` (room for LONGEST_LINE a stroke); the length of the text.

    ``feed_of_mode``: the row of ``feeds`` (k, FEED_ROOM; text, then zeros) that a mode is cut at, or NONE.
    """
    at, i, arc, n = 0, 0, 0, len(mode)
    while i < n:
        start = _put_start(out, at, words, numbered)
        feed = feed_of_mode[mode[i]]
        if arc < len(arcs) and arcs[arc, 0] == i:
            last = arcs[arc, 1]
            after = _put_motion(out, start, words, 3 if arcs[arc, 4] == 1 else 2)
            for axis in range(2):
                after = _put_count(out, after, _AXES[axis], points[last, axis], decimals)
                out[after] = 32
                after += 1
                words[X + axis] = points[last, axis]
            for axis in range(2):
                after = _put_count(out, after, 73 + axis, arcs[arc, 2 + axis] - points[i, axis], decimals)
                out[after] = 32
                after += 1
            words[KNOWN] |= 3
            at = _put_end(out, after, words, feed, feeds)
            i, arc = last, arc + 1
            continue
        after = _put_move(out, start, words, 0 if mode[i] == RAPID else 1, points[i + 1], decimals)
        if after > start:
            at = _put_end(out, after, words, feed, feeds)
        i += 1
    return at
