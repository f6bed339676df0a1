"""The fingerprint says which text was proven."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.program.fingerprint import fingerprint, proof_of, stamped, stamped_of
from witnessmark.program.header import filled, harmless, header_lines, value_of

PROGRAM = "(job: chest)\n(minutes: )\n(fingerprint: )\nG21\nG0 Z5\nM2\n"


def test_stamping_does_not_change_it() -> None:
    """A stamped program has the fingerprint that it carries."""
    value = fingerprint(PROGRAM)
    text = stamped(PROGRAM, value)
    assert stamped_of(text) == value == fingerprint(text)
    assert text.count(value) == 1


def test_it_can_be_read_aloud() -> None:
    """Five groups of four hexadecimal digits."""
    groups = fingerprint(PROGRAM).split("-")
    assert [len(group) for group in groups] == [4] * 5
    assert all(c in "0123456789ABCDEF" for group in groups for c in group)


@given(st.integers(0, len(PROGRAM) - 1), st.sampled_from("0123456789XYZ"))
def test_any_other_change_shows(at: int, c: str) -> None:
    """Changing one character anywhere but inside the fingerprint line changes the fingerprint."""
    changed = PROGRAM[:at] + c + PROGRAM[at + 1 :]
    blank = PROGRAM.index("(fingerprint: )")
    if changed != PROGRAM and not blank <= at < blank + len("(fingerprint: )"):
        assert fingerprint(changed) != fingerprint(PROGRAM)


def test_line_ends_do_not_matter() -> None:
    """A copy with the line ends of another computer still matches, stamped or not."""
    text = stamped(PROGRAM, fingerprint(PROGRAM))
    copy = text.replace("\n", "\r\n")
    assert fingerprint(copy) == fingerprint(PROGRAM)
    assert stamped_of(copy) == fingerprint(PROGRAM)


def test_a_second_fingerprint_line_counts() -> None:
    """Only the first such line is left out of the hash."""
    assert fingerprint(PROGRAM + "(fingerprint: 1)\n") != fingerprint(PROGRAM + "(fingerprint: 2)\n")


def test_without_a_line_nothing_is_stamped() -> None:
    """A controller without comments gets its program unchanged."""
    assert stamped("G21\nM2\n", "AAAA") == "G21\nM2\n"
    assert stamped_of("G21\nM2\n") is None
    assert stamped_of(PROGRAM) is None


def test_other_header_lines_can_be_filled() -> None:
    """Minutes are put in once they are known."""
    assert value_of(filled(PROGRAM, "minutes", "12.5"), "minutes") == "12.5"


@given(st.text(max_size=300), st.text(max_size=300))
def test_typed_names_cannot_break_out_of_a_comment(name: str, note: str) -> None:
    """Whatever people type, a header line is one comment of plain ASCII on one short line."""
    for line in header_lines([("piece", name), ("note", note)]):
        assert line.isascii()
        assert line.isprintable()
        assert line.startswith("(")
        assert line.endswith(")")
        assert line.count("(") == line.count(")") == 1
        assert len(line) <= 120


def test_plain_names_stay() -> None:
    """Accents are dropped, brackets replaced, spaces joined."""
    assert harmless("  Käte's\n(best)  box ") == "Kate's [best] box"


def test_the_proof_that_it_passed_does_not_change_a_programs_own_fingerprint() -> None:
    carrying = PROGRAM.replace("(fingerprint: )\n", "(fingerprint: )\n(proof: )\n")
    own = fingerprint(carrying)
    text = stamped(carrying, own, "1111-2222")
    assert proof_of(text) == "1111-2222"
    assert fingerprint(text) == own == stamped_of(text)
    assert proof_of(PROGRAM) is None
