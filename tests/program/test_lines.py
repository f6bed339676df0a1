"""Strokes as text, many at a time, against one line after another in plain Python."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.path.strokes import CUT, ENTRY, RAPID
from witnessmark.program.lines import FEED_ROOM, KNOWN, LINES, LONGEST_LINE, NONE, X, words_in_force, write_lines
from witnessmark.program.number import shown_count

FEEDS = ["F1200", "F400.5"]


def plainly(points, mode, arcs, decimals, numbered):
    """The same lines, word by word; nothing is in force at the start."""
    lines, place, motion_now, feed_now = [], [None, None, None], "", ""
    arc_at = {int(row[0]): row for row in arcs}
    i = 0
    while i < len(mode):
        feed = {RAPID: "", CUT: FEEDS[0], ENTRY: FEEDS[1]}[int(mode[i])]
        row = arc_at.get(i)
        if row is not None:
            end, motion = points[row[1]], "G3" if row[4] == 1 else "G2"
            words = [f"X{shown_count(int(end[0]), decimals)}", f"Y{shown_count(int(end[1]), decimals)}"]
            words += [f"{'IJ'[k]}{shown_count(int(row[2 + k] - points[i][k]), decimals)}" for k in range(2)]
            place[:2] = [int(end[0]), int(end[1])]
            i = int(row[1])
        else:
            motion, words = "G0" if mode[i] == RAPID else "G1", []
            for axis in range(3):
                count = int(points[i + 1][axis])
                if count != place[axis]:
                    words.append("XYZ"[axis] + shown_count(count, decimals))
                    place[axis] = count
            i += 1
        if words:
            words = ([motion] if motion != motion_now else []) + words
            motion_now = motion
            if feed and feed != feed_now:
                words.append(feed)
                feed_now = feed
            lines.append((f"N{len(lines) % 99999 + 1} " if numbered else "") + " ".join(words) + "\n")
    return "".join(lines)


def fast(points, mode, arcs, decimals, numbered, lines_before=0):
    table = np.zeros((2, FEED_ROOM), dtype=np.uint8)
    for row, feed in zip(table, FEEDS):
        row[: len(feed)] = list(feed.encode())
    feed_of_mode = np.full(3, NONE, dtype=np.int64)
    feed_of_mode[[CUT, ENTRY]] = 0, 1
    words, out = words_in_force(lines_before), np.empty(LONGEST_LINE * len(mode), dtype=np.uint8)
    length = write_lines(points, mode, arcs, decimals, numbered, feed_of_mode, table, words, out)
    return out[:length].tobytes().decode(), words


counts = st.one_of(st.integers(-30, 30), st.integers(-(10**15) + 1, 10**15 - 1), st.sampled_from([0, 1000, -1000]))


@st.composite
def strokes(draw):
    n = draw(st.integers(1, 25))
    points = np.array(
        draw(st.lists(st.tuples(counts, counts, counts), min_size=n + 1, max_size=n + 1)), dtype=np.int64
    )
    mode = np.array(draw(st.lists(st.sampled_from([RAPID, CUT, ENTRY]), min_size=n, max_size=n)), dtype=np.int8)
    arcs, i = [], 0
    while i < n:
        first = i + draw(st.integers(0, 4))
        last = first + draw(st.integers(1, 5))
        if last > n or not draw(st.booleans()):
            break
        arcs.append(
            [first, last, draw(st.integers(-99, 99)), draw(st.integers(-99, 99)), draw(st.sampled_from([1, 2]))]
        )
        i = last
    return points, mode, np.array(arcs, dtype=np.int64).reshape(-1, 5)


@given(path=strokes(), decimals=st.integers(0, 6), numbered=st.booleans())
def test_many_lines_at_once_are_those_of_one_after_another(path, decimals, numbered):
    assert fast(*path, decimals, numbered)[0] == plainly(*path, decimals, numbered)


@pytest.mark.parametrize("decimals", [0, 1, 4, 6])
def test_the_longest_line_has_room(decimals):
    far = 10**15 - 1
    points = np.array([[far, far, far], [-far, -far, -far]], dtype=np.int64)
    text, words = fast(
        points, np.array([ENTRY], dtype=np.int8), np.empty((0, 5), dtype=np.int64), decimals, True, 99998
    )
    assert text == plainly(points, [ENTRY], [], decimals, True).replace("N1 ", "N99999 ")
    assert len(text) < LONGEST_LINE
    assert words[KNOWN] == 7
    assert words[LINES] == 99999
    assert words[X] == -far
