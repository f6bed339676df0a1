"""The number format of RS-274 text, shared by the writer and the reader: nothing else is.

Units   none: a number is whatever its letter says
Method  a number is a count of the least decimal, so that what is written is exactly what was meant
Source  NIST IR 6556, numbers (from memory): optional sign, digits, at most one point, no exponent
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")


def counts(values: NDArray[np.float64], step: float) -> NDArray[np.int64]:
    """Values as whole counts of ``step``, nearest; ValueError unless all are finite and below 1e15 counts.

    >>> counts(np.array([1.0004, -0.0002]), 0.001).tolist()
    [1000, 0]
    """
    whole = np.rint(np.asarray(values, dtype=np.float64) / step)
    if not np.all(np.abs(whole) < 1e15):
        raise ValueError("a number is not finite, or too large to write")
    return whole.astype(np.int64)


@lru_cache(maxsize=1 << 17)  # the same places come again and again in a program
def shown_count(count: int, decimals: int) -> str:
    """A count of 10**-decimals as text: no exponent, no trailing zeros or point, never -0.

    >>> shown_count(-12340, 3), shown_count(5, 3), shown_count(0, 3), shown_count(7000, 3)
    ('-12.34', '0.005', '0', '7')
    """
    digits = str(abs(count)).rjust(decimals + 1, "0")
    whole, part = (digits[:-decimals], digits[-decimals:].rstrip("0")) if decimals else (digits, "")
    return ("-" if count < 0 else "") + whole + ("." + part if part else "")


def shown(value: float, decimals: int) -> str:
    """A value as text, to the nearest 10**-decimals; ValueError when it is not finite.

    >>> shown(2.50004, 3), shown(-0.0001, 3), shown(600, 1)
    ('2.5', '0', '600')
    """
    if not math.isfinite(value):
        raise ValueError("only a finite number can be written")
    return shown_count(round(value * 10**decimals), decimals)


def number_at(text: str, at: int) -> tuple[float, int] | None:
    """The number that starts at ``at`` and the index after it; None when there is none.

    >>> number_at("x-.5y+7.", 1), number_at("x-.5y+7.", 5), number_at("e5", 0)
    ((-0.5, 4), (7.0, 8), None)
    """
    match = NUMBER.match(text, at)
    return (float(match.group()), match.end()) if match else None
