"""One line of RS-274 text to its words, parameter settings and comments.

Source  NIST IR 6556, format of a line (from memory): optional block delete, optional line number, then words,
        settings and comments in any order; spaces count for nothing outside comments, nor does case; at most
        256 characters; settings take effect after the whole line has been read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from .expression import parameter_index, value_at
from .wrong import Wrong

LONGEST_LINE = 256
LETTERS = "abcdfghijklmpqrstxyz"

_OUTSIDE = re.compile(r"[^(;]*")
_LINE_NUMBER = re.compile(r"n([0-9]{1,5})(?![0-9.])")


@dataclass
class Line:
    """What a line holds: words (letter, value) in order, settings (parameter, value), comments;
    ``worked_out``: it holds parameters or expressions."""

    words: list[tuple[str, float]] = field(default_factory=list)
    settings: list[tuple[int, float]] = field(default_factory=list)
    comments: list[str] = field(default_factory=list)
    slashed: bool = False
    notes: list[str] = field(default_factory=list)
    worked_out: bool = False


def parse_line(text: str, parameters: Mapping[int, float]) -> Line:
    """Read one line (without its line end); Wrong says what cannot be read."""
    if len(text) > LONGEST_LINE:
        raise Wrong(f"the line has {len(text)} characters; {LONGEST_LINE} are allowed")
    line = Line()
    code = _without_comments(text, line)
    line.worked_out = "#" in code or "[" in code
    at = 0
    if code.startswith("/"):
        line.slashed, at = True, 1
    number = _LINE_NUMBER.match(code, at)
    if number is not None:
        at = number.end()
    while at < len(code):
        at = _item(code, at, parameters, line)
    return line


def _without_comments(text: str, line: Line) -> str:
    """The line's code, lower case and without spaces; comments go to the line."""
    parts, at = [], 0
    while at < len(text):
        outside = _OUTSIDE.match(text, at)
        assert outside is not None  # the pattern matches the empty string
        parts.append(outside.group())
        at = outside.end()
        if text.startswith(";", at):
            line.comments.append(text[at + 1 :].strip())
            line.notes.append("text after ';' is taken as a comment; NIST IR 6556 knows only (comments)")
            break
        if at < len(text):
            at = _comment(text, at, line)
    code = "".join(parts)
    if not code.isascii():
        raise Wrong("there is a character outside plain ASCII")
    return "".join(code.split()).lower()


def _comment(text: str, at: int, line: Line) -> int:
    close = text.find(")", at)
    if close < 0:
        raise Wrong("a comment is opened by ( and not closed on its line")
    inside = text[at + 1 : close]
    if "(" in inside:
        raise Wrong("a comment may hold no second (")
    line.comments.append(inside.strip())
    return close + 1


def _item(code: str, at: int, parameters: Mapping[int, float], line: Line) -> int:
    letter = code[at]
    if letter == "#":
        index, at = value_at(code, at + 1, parameters, 1)
        if not code.startswith("=", at):
            raise Wrong("a parameter stands alone: a setting reads #3=15")
        value, at = value_at(code, at + 1, parameters)
        line.settings.append((parameter_index(index), value))
        return at
    if letter == "n":
        raise Wrong("a line number stands first on its line and runs from 0 to 99999")
    if letter not in LETTERS:
        raise Wrong(f"'{letter.upper()}' begins no word of RS-274")
    value, at = value_at(code, at + 1, parameters)
    line.words.append((letter, value))
    return at
