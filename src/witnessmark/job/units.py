"""Lengths as people type them: plain mm, or a number with its unit ("1/4 in", "6.35 mm", "1 1/2 in")."""

from __future__ import annotations

import re
from fractions import Fraction

MM_PER_INCH = 25.4  # exact by definition (international yard and pound agreement, 1959)

_UNIT_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH, "inch": MM_PER_INCH, '"': MM_PER_INCH}
_TYPED = re.compile(r"^\s*(-?\d+(?:\.\d+)?(?:\s+\d+/\d+)?|-?\d+/\d+|-?\.\d+)\s*([a-z\"]*)\s*$", re.IGNORECASE)


def length_mm(value: object) -> float:
    """Read a length; numbers are mm. ValueError names what was typed.

    >>> length_mm("1/4 in"), length_mm("1 1/2 in"), length_mm("6.35 mm"), length_mm(3)
    (6.35, 38.1, 6.35, 3.0)
    """
    if isinstance(value, bool):
        raise ValueError(f"{value!r} is not a length")
    if isinstance(value, int | float):
        return float(value)
    match = _TYPED.match(value) if isinstance(value, str) else None
    if match is None or (match.group(2) or "mm").lower() not in _UNIT_MM:
        raise ValueError(f"{value!r} is not a length; write mm as a number, or a number with its unit: '1/4 in'")
    whole, unit = match.group(1), (match.group(2) or "mm").lower()
    sign = -1 if whole.startswith("-") else 1
    number = sum((Fraction(part) for part in whole.lstrip("-").split()), Fraction(0))
    return float(sign * number * Fraction(str(_UNIT_MM[unit])))
