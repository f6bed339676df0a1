"""The fingerprint of a program: it says which text was proven.

The hash is taken of the text with its fingerprint line blank, so that the program can carry it; line ends are
counted as one character, so that a copy made on another computer still matches.
Source  SHA-256: FIPS 180-4
"""

from __future__ import annotations

import hashlib

from .header import filled, value_of

KEY = "fingerprint"
GROUPS = 5  # of four hexadecimal digits: 80 bits, short enough to read aloud


def fingerprint(text: str) -> str:
    """Five groups of four digits, for example ``3F2A-91BC-0D17-E8A4-5521``; the same whatever is stamped."""
    blank = filled(text, KEY, "").replace("\r\n", "\n").replace("\r", "\n")
    digits = hashlib.sha256(blank.encode("utf-8", "surrogatepass")).hexdigest().upper()
    return "-".join(digits[4 * i : 4 * i + 4] for i in range(GROUPS))


def stamped(text: str, value: str) -> str:
    """The program with its fingerprint line filled.

    A program without that line (its controller takes no comments) comes back unchanged.
    """
    return filled(text, KEY, value)


def stamped_of(text: str) -> str | None:
    """The fingerprint that the program carries; None where it carries none."""
    return value_of(text, KEY) or None
