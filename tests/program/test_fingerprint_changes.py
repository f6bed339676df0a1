"""Any digit or letter changed in a written program changes its fingerprint, comments and minutes too."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.demonstration import demonstration_cutters, demonstration_machine
from witnessmark.path.strokes import CUT, ENTRY, RAPID, Strokes
from witnessmark.program.fingerprint import fingerprint, stamped, stamped_of
from witnessmark.program.header import filled, value_of
from witnessmark.program.minutes import minutes
from witnessmark.program.read import read
from witnessmark.program.write import ProgramSpec, write_program

LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"


def written() -> str:
    """A real program as it is handed out: a rapid, an entry, a line and an arc, header, minutes, fingerprint."""
    turn = np.linspace(0.0, np.pi, 120)  # chords off the arc by less than what the writer may round
    arc = np.column_stack([60.0 + 20.0 * np.cos(turn), 50.0 + 20.0 * np.sin(turn), np.full(120, 8.0)])
    points = np.vstack([[[100, 50, 30], [100, 50, 12], [90, 50, 8], [80, 50, 8]], arc[1:], [[40, 50, 30]]])
    modes = np.array([RAPID, ENTRY, CUT, *[CUT] * 119, RAPID], dtype=np.int8)
    machine = demonstration_machine()
    spec = ProgramSpec("a job", "box", "1", "+z", demonstration_cutters()[0], 1, machine, notes=("look twice",))
    draft = write_program(Strokes(points.astype(np.float64), modes), spec)
    return filled(draft, "minutes", f"{minutes(read(draft), machine).total_min:.3f}")


PROGRAM = stamped(written(), fingerprint(written()))
LINES = PROGRAM.splitlines(keepends=True)
STAMP = next(i for i, line in enumerate(LINES) if line.startswith("(fingerprint:"))
PLACES = [(i, j) for i, line in enumerate(LINES) for j, c in enumerate(line) if c in LETTERS and i != STAMP]


def with_letter(line: int, at: int, letter: str) -> str:
    changed = LINES[line][:at] + letter + LINES[line][at + 1 :]
    return "".join([*LINES[:line], changed, *LINES[line + 1 :]])


def test_the_program_is_a_whole_one() -> None:
    """What the tests below change is a program with comments, minutes, arcs and its own fingerprint."""
    assert stamped_of(PROGRAM) == fingerprint(PROGRAM)
    assert float(value_of(PROGRAM, "minutes") or 0) > 0
    assert any(" I" in line and " J" in line for line in LINES)
    assert sum(line.startswith("(") for line in LINES) > 8


def test_every_place_counts() -> None:
    """Each digit or letter of each line in turn, replaced by another one."""
    for line, at in PLACES:
        other = "7" if LINES[line][at] != "7" else "8"
        changed = with_letter(line, at, other)
        assert fingerprint(changed) != fingerprint(PROGRAM), (LINES[line], at)
        assert stamped_of(changed) != fingerprint(changed)


@given(st.sampled_from(PLACES), st.sampled_from(LETTERS))
def test_any_letter_put_anywhere_counts(place: tuple[int, int], letter: str) -> None:
    """Whatever stands there instead: the program carries the fingerprint of another text."""
    line, at = place
    if letter != LINES[line][at]:
        changed = with_letter(line, at, letter)
        assert fingerprint(changed) != fingerprint(PROGRAM)
        assert stamped_of(changed) == fingerprint(PROGRAM)


@given(st.sampled_from(range(len(LINES))), st.sampled_from(range(len(LINES))))
def test_lines_left_out_doubled_or_exchanged_count(i: int, k: int) -> None:
    """A line missing, doubled or in another's place makes another text, whichever line it is."""
    a, b = min(i, k), max(i, k)
    texts = ["".join(LINES[:i] + LINES[i + 1 :]), "".join(LINES[: i + 1] + LINES[i:])]
    texts.append("".join([*LINES[:a], LINES[b], *LINES[a + 1 : b], LINES[a], *LINES[b + 1 :]]) if a < b else PROGRAM)
    for text in texts:
        assert (fingerprint(text) == fingerprint(PROGRAM)) == (text == PROGRAM)


@given(st.text(alphabet=LETTERS + "- ", max_size=40))
def test_what_stands_in_the_fingerprint_line_does_not_count(value: str) -> None:
    """Its own line may say anything."""
    assert fingerprint(stamped(PROGRAM, value)) == fingerprint(PROGRAM)


@pytest.mark.parametrize("key", ["minutes", "cutter", "placement", "side up"])
def test_a_header_line_filled_otherwise_counts(key: str) -> None:
    """Minutes or cutter told otherwise make another program."""
    assert value_of(PROGRAM, key) is not None
    assert fingerprint(filled(PROGRAM, key, "1")) != fingerprint(filled(PROGRAM, key, "2"))
