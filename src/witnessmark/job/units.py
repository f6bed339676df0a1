"""Lengths as people type them: plain mm, or a number with its unit ("1/4 in", "6.35 mm", "1 1/2 in", "1-1/2 in")."""

from __future__ import annotations

import math
import re
from fractions import Fraction

MM_PER_INCH = 25.4  # exact by definition (international yard and pound agreement, 1959)

_UNIT_MM = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction("25.4"),
    "inch": Fraction("25.4"),
    "inches": Fraction("25.4"),
    '"': Fraction("25.4"),
}
_NUMBER = r"(?P<whole>\d+)(?:\s+|-)(?P<part>\d+/\d+)|(?P<only>\d+/\d+|\d+(?:\.\d*)?|\.\d+)"
_TYPED = re.compile(rf"\s*(?P<sign>[+-]?)(?:{_NUMBER})\s*(?P<unit>[a-z]*|\")\s*", re.IGNORECASE | re.ASCII)
_LONGEST = 40  # characters; nobody types a longer length


def length_mm(value: object) -> float:
    """Read a length; numbers are mm. ValueError names what was typed.

    >>> length_mm("1/4 in"), length_mm("1 1/2 in"), length_mm("1-1/2 in"), length_mm("6.35 mm"), length_mm(3)
    (6.35, 38.1, 38.1, 6.35, 3.0)
    """
    try:
        length = float(value) if _is_number(value) else float(_typed_mm(value))  # type: ignore[arg-type]
    except (OverflowError, ZeroDivisionError):
        raise ValueError(f"{_short(value)} is not a length that can be made") from None
    if not math.isfinite(length):
        raise ValueError(f"{_short(value)} is not a length; it has no end or is not a number")
    return length


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _typed_mm(value: object) -> Fraction:
    match = _TYPED.fullmatch(value) if isinstance(value, str) and len(value) <= _LONGEST else None
    unit = (match["unit"] or "mm").lower() if match else ""
    if match is None or unit not in _UNIT_MM:
        raise ValueError(
            f"{_short(value)} is not a length; write mm as a number, or a number with its unit: '1/4 in'"
        )
    number = sum((Fraction(part) for part in (match["whole"], match["part"], match["only"]) if part), Fraction(0))
    return (-number if match["sign"] == "-" else number) * _UNIT_MM[unit]


def _short(value: object) -> str:
    """What was typed, cut short where it is long."""
    if isinstance(value, int) and abs(value) > 10**_LONGEST:
        return "a whole number of more than 40 figures"
    shown = repr(value[: 2 * _LONGEST] if isinstance(value, str) else value)
    return shown if len(shown) <= _LONGEST else shown[:_LONGEST] + "..."
