"""The fingerprint of a program: it says which text was proven.

The hash is taken of the text with its fingerprint line blank, and the line that says which proof it passed, so that
the program can carry both; line ends are counted as one character, so that a copy made on another computer still
matches.
Source  SHA-256: FIPS 180-4
"""

from __future__ import annotations

import hashlib

from .header import filled, value_of

KEY = "fingerprint"
PROOF_KEY = "proof"
GROUPS = 5  # of four hexadecimal digits: 80 bits, short enough to read aloud


def fingerprint(text: str) -> str:
    """Five groups of four digits, for example ``3F2A-91BC-0D17-E8A4-5521``; the same whatever is stamped."""
    blank = filled(filled(text, KEY, ""), PROOF_KEY, "").replace("\r\n", "\n").replace("\r", "\n")
    digits = hashlib.sha256(blank.encode("utf-8", "surrogatepass")).hexdigest().upper()
    return "-".join(digits[4 * i : 4 * i + 4] for i in range(GROUPS))


def stamped(text: str, value: str, proof: str = "") -> str:
    """The program with its fingerprint line filled, and the one of the ``proof`` that it passed.

    A program without such lines (its controller takes no comments) comes back unchanged.
    """
    return filled(filled(text, KEY, value), PROOF_KEY, proof)


def proof_of(text: str) -> str | None:
    """The fingerprint of the proof that the program says it passed; None where it says none."""
    return value_of(text, PROOF_KEY) or None


def stamped_of(text: str) -> str | None:
    """The fingerprint that the program carries; None where it carries none."""
    return value_of(text, KEY) or None
