"""Sizes as people type them: plain numbers, or a number with its unit ("1/4 in", "1-1/2 in", "80 in/min", "1.1 kW").

Source  inch 25.4 mm, exact (international yard and pound agreement, 1959); horsepower 550 foot-pounds force a second,
        745.69987 W (NIST SP 811, from memory)
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
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
_PER_MINUTE = {"min": Fraction(1), "minute": Fraction(1), "s": Fraction(60), "sec": Fraction(60)}


@dataclass(frozen=True)
class _Kind:
    """A kind of size: what it is called, the unit of plain numbers, an example with a unit, and its units."""

    name: str
    plain: str
    example: str
    units: Mapping[str, Fraction]

    @property
    def article(self) -> str:
        return "an" if self.name[0] in "aeiou" else "a"


_LENGTH = _Kind("length", "mm", "1/4 in", _UNIT_MM)
_RATE = _Kind(
    "rate",
    "mm/min",
    "80 in/min",
    {f"{unit}/{time}": mm * each for unit, mm in _UNIT_MM.items() for time, each in _PER_MINUTE.items()},
)
_ACCELERATION = _Kind(
    "acceleration",
    "mm/s2",
    "0.3 m/s2",
    {f"{unit}/{square}": mm for unit, mm in _UNIT_MM.items() for square in ("s2", "s^2")},
)
_POWER = _Kind("power", "W", "1.1 kW", {"w": Fraction(1), "kw": Fraction(1000), "hp": Fraction("745.69987")})
_SPEED = _Kind("speed", "rpm", "18000 rpm", {"rpm": Fraction(1), "1/min": Fraction(1)})

_NUMBER = r"(?P<whole>\d+)(?:\s+|-)(?P<part>\d+/\d+)|(?P<only>\d+/\d+|\d+(?:\.\d*)?|\.\d+)"
_UNIT = r"(?:[a-z]+|\"|1)(?:/[a-z]+(?:\^?2)?)?|"
_TYPED = re.compile(rf"\s*(?P<sign>[+-]?)(?:{_NUMBER})\s*(?P<unit>{_UNIT})\s*", re.IGNORECASE | re.ASCII)
_LONGEST = 40  # characters; nobody types a longer length


def length_mm(value: object) -> float:
    """Read a length; numbers are mm. ValueError names what was typed.

    >>> length_mm("1/4 in"), length_mm("1 1/2 in"), length_mm("1-1/2 in"), length_mm("6.35 mm"), length_mm(3)
    (6.35, 38.1, 38.1, 6.35, 3.0)
    """
    return _read(value, _LENGTH)


def rate_mm_min(value: object) -> float:
    """Read a feed or a rapid; numbers are mm/min.

    >>> rate_mm_min("80 in/min"), rate_mm_min("2 m/min"), rate_mm_min("50 mm/s"), rate_mm_min(1800)
    (2032.0, 2000.0, 3000.0, 1800.0)
    """
    return _read(value, _RATE)


def acceleration_mm_s2(value: object) -> float:
    """Read an acceleration; numbers are mm/s2.

    >>> acceleration_mm_s2("0.3 m/s2"), acceleration_mm_s2("10 in/s^2")
    (300.0, 254.0)
    """
    return _read(value, _ACCELERATION)


def power_w(value: object) -> float:
    """Read a power; numbers are W.

    >>> power_w("1.1 kW"), round(power_w("1 hp"), 1), power_w(800)
    (1100.0, 745.7, 800.0)
    """
    return _read(value, _POWER)


def speed_rpm(value: object) -> float:
    """Read a speed of the spindle; numbers are rpm."""
    return _read(value, _SPEED)


def _read(value: object, kind: _Kind) -> float:
    try:
        size = float(value) if _is_number(value) else float(_typed(value, kind))  # type: ignore[arg-type]
    except (OverflowError, ZeroDivisionError):
        raise ValueError(f"{_short(value)} is not {kind.article} {kind.name} that can be made") from None
    if not math.isfinite(size):
        raise ValueError(f"{_short(value)} is not {kind.article} {kind.name}; it has no end or is not a number")
    return size


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _typed(value: object, kind: _Kind) -> Fraction:
    match = _TYPED.fullmatch(value) if isinstance(value, str) and len(value) <= _LONGEST else None
    unit = (match["unit"] or kind.plain).lower() if match else ""
    if match is None or unit not in kind.units:
        raise ValueError(
            f"{_short(value)} is not {kind.article} {kind.name}; write {kind.plain} as a number, "
            f"or a number with its unit: '{kind.example}'"
        )
    number = sum((Fraction(part) for part in (match["whole"], match["part"], match["only"]) if part), Fraction(0))
    return (-number if match["sign"] == "-" else number) * kind.units[unit]


def _short(value: object) -> str:
    """What was typed, cut short where it is long."""
    if isinstance(value, int) and abs(value) > 10**_LONGEST:
        return "a whole number of more than 40 figures"
    shown = repr(value[: 2 * _LONGEST] if isinstance(value, str) else value)
    return shown if len(shown) <= _LONGEST else shown[:_LONGEST] + "..."
