"""The lines a program opens with: comments of the form ``(key: value)``.

Comments may hold no parenthesis and no line end, and a line has at most 256 characters (NIST IR 6556, from
memory), so names typed by people are made harmless here.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata

_WIDTH = 100


def harmless(text: str) -> str:
    """Text that can stand in a comment: plain ASCII, no parentheses, no line ends.

    >>> harmless("Käte's (best) box")
    "Kate's [best] box"
    """
    plain = unicodedata.normalize("NFKD", text).translate(str.maketrans("()", "[]"))
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = plain.encode("ascii", "replace").decode("ascii")
    return " ".join("".join(c if c.isprintable() else " " for c in plain).split())


def header_lines(entries: list[tuple[str, str]]) -> list[str]:
    """One comment a line for each (key, value); long values run on in lines with the same key."""
    lines: list[str] = []
    for key, value in entries:
        for part in textwrap.wrap(harmless(value), _WIDTH) or [""]:
            lines.append(f"({key}: {part})")
    return lines


def _line_of(key: str) -> re.Pattern[str]:
    return re.compile(rf"^\({re.escape(key)}:[^()\r\n]*\)[ \t]*(?=\r?$)", re.MULTILINE)


def filled(text: str, key: str, value: str) -> str:
    """The program with the first line of ``key`` set to value; unchanged where it has no such line."""
    return _line_of(key).sub(lambda _: f"({key}: {harmless(value)})", text, count=1)


def value_of(text: str, key: str) -> str | None:
    """What the first line of ``key`` says; None where it has no such line."""
    match = _line_of(key).search(text)
    return match.group().strip()[len(key) + 2 : -1].strip() if match else None
