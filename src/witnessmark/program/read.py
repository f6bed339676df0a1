"""RS-274 text to the motions it makes: an interpreter that knows nothing of the writer.

Source  NIST IR 6556 (2000), The NIST RS274NGC Interpreter - Version 3; each module names the part it follows.
Whatever cannot be read or carried out is a remark of harm "error" with its line; nothing is passed over.
"""

from __future__ import annotations

import numpy as np

from witnessmark.job.errors import refuse

from .codes import sort_words
from .execute import execute
from .grammar import Line, parse_line
from .motion import COMMENT, EXPRESSION, MotionTable
from .plain import run_plain
from .record import Record
from .state import Given, State
from .trace import finish_contour
from .wrong import Wrong

LARGEST_TEXT = 200_000_000  # characters
MOST_HEADER_ENTRIES = 200
LONGEST_HEADER_VALUE = 4000


def read(text: str, given: Given | None = None, *, fast: bool = True) -> MotionTable:
    """Read a program; Refusal only where the text is too large to be one.

    The table is in the program frame (that of G54), mm. Before every axis has been given once the place of the
    tip is not known: motions are recorded from the first known place on, unless ``given.start_mm`` says where the
    tip stands. ``fast=False`` takes the general way for every line, for comparison.
    """
    if len(text) > LARGEST_TEXT:
        raise refuse(
            "program",
            f"it has {len(text)} characters; {LARGEST_TEXT} are allowed",
            "split the program",
            "check that this is a program at all",
        )
    reader = _Reader(text, given or Given())
    reader.run(fast)
    return reader.rec.table()


class _Reader:
    def __init__(self, text: str, given: Given) -> None:
        self.st = State(given)
        self.rec = Record()
        # one byte a character: what is not Latin-1 becomes "?" here, and only comments may hold it
        plain = text.replace("\r\n", "\n").replace("\r", "\n")
        self.text = plain.encode("latin-1", "replace")
        self.bytes = np.frombuffer(self.text, dtype=np.uint8)
        self.at = 0
        self.line = 1
        self.begun = False
        self.percent = False

    def run(self, fast: bool) -> None:
        while self.at < len(self.text) and not self.st.ended:
            if fast and self.fast_state():
                self.run_plain_lines()
                if self.at >= len(self.text):
                    break
            self.one_line()
        self.finish()

    def fast_state(self) -> bool:
        st = self.st
        simple = st.everywhere_known and st.absolute and st.per_minute and st.plane == 17 and st.units_said
        return simple and not st.side and st.motion in (0, 10, 20, 30)

    def run_plain_lines(self) -> None:
        """Carry out plain lines of G0 to G3 until one needs the general way."""
        st, rec = self.st, self.rec
        position = np.array(st.position)
        while True:
            first, c = rec.count, rec.columns
            self.at, self.line, motion, st.feed_mm_min, rec.count, full = run_plain(
                self.bytes,
                self.at,
                self.line,
                position,
                np.array(st.offset),
                st.scale,
                st.motion // 10,
                st.feed_mm_min,
                c["kind"],
                c["start_mm"],
                c["end_mm"],
                c["centre_mm"],
                c["feed_mm_min"],
                c["line"],
                rec.count,
            )
            rows = slice(first, rec.count)
            c["plane"][rows], c["spindle_rpm"][rows], c["cutter"][rows] = 17, st.spindle_rpm, st.cutter
            st.motion = motion * 10
            if not full:
                break
            rec.grow(2 * rec.room)
        st.position = position.tolist()

    def one_line(self) -> None:
        """The general way: one line, whatever it holds."""
        end = self.text.find(b"\n", self.at)
        end = len(self.text) if end < 0 else end
        text, number = self.text[self.at : end], self.line
        self.at, self.line = end + 1, number + 1
        if self.mark(text, number):
            return
        try:
            self.carry_out(parse_line(text.decode("latin-1"), self.st.parameters), number)
        except Wrong as wrong:
            self.rec.remark(number, str(wrong))

    def mark(self, text: bytes, number: int) -> bool:
        """A line of % alone opens the program if it stands first, and ends it otherwise."""
        if text.strip() != b"%":
            self.begun = self.begun or bool(text.strip())
            return False
        if self.begun:
            self.st.ended = True
            if not self.percent:
                self.rec.remark(number, "a line of % ends the program here", "note")
        self.begun = self.percent = True
        return True

    def carry_out(self, line: Line, number: int) -> None:
        st, rec = self.st, self.rec
        for note in line.notes:
            rec.remark(number, note, "note")
        if line.slashed:
            if st.given.block_delete:
                return
            rec.remark(number, "/ begins this line: it is carried out, as with block delete off", "note")
        if line.comments:
            rec.use(COMMENT, number)
        if line.worked_out:
            rec.use(EXPRESSION, number)
        if rec.count == 0:
            self.keep_header(line.comments)
        if line.words:
            execute(sort_words(line.words), st, rec, number)
        for index, value in line.settings:
            if index >= 5161:
                raise Wrong(f"parameter #{index} is the machine's own; setting it is not carried out here")
            st.parameters[index] = value

    def keep_header(self, comments: list[str]) -> None:
        """Comments of the form key: value before the first motion; lines of one key run on."""
        for comment in comments:
            key, colon, value = comment.partition(":")
            if colon and key.strip():
                self.keep_entry(key.strip().lower(), value.strip())

    def keep_entry(self, key: str, value: str) -> None:
        header = self.rec.header
        before = header.get(key, "")
        if (before or len(header) < MOST_HEADER_ENTRIES) and len(before) < LONGEST_HEADER_VALUE:
            header[key] = f"{before} {value}" if before else value

    def finish(self) -> None:
        rec = self.rec
        finish_contour(self.st, rec)
        if not self.st.ended:
            what = "the program ends without M2, M30 or a closing %"
            rec.remark(max(1, self.line - 1), what, "note")
        elif self.text[self.at :].strip(b" \t\n%"):
            rec.remark(self.line, "what follows the end of the program is not read", "note")
