"""Lengths as people type them."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.units import MM_PER_INCH, length_mm


def test_an_inch_is_25_4_mm_exactly() -> None:
    """The inch is 2.54 cm exactly (NIST SP 811:2008, appendix B.8, 'inch (in)'; cited from memory)."""
    assert MM_PER_INCH == 25.4
    assert length_mm("1 in") == 25.4


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("1/4 in", 6.35),
        ("3/4in", 19.05),
        ("1 1/2 in", 38.1),
        ("1-1/2 in", 38.1),
        ("-1 1/2 in", -38.1),
        ('2"', 50.8),
        ("2 INCH", 50.8),
        ("3 inches", 76.2),
        (".5 in", 12.7),
        ("5. mm", 5.0),
        ("+4", 4.0),
        ("12.5 cm", 125.0),
        ("0.3 m", 300.0),
        ("  6.35 mm ", 6.35),
        (300, 300.0),
        (0.2, 0.2),
    ],
)
def test_what_people_type_is_read(typed: object, mm: float) -> None:
    """Fractions, mixed numbers, decimals and every unit a workshop rule carries come out in mm."""
    assert length_mm(typed) == mm


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "mm",
        "six",
        "6 mil",
        "1/0 in",
        "1.5 1/2 in",
        "1e3",
        "1,5",
        "--2",
        "1/2/3",
        "٣ mm",
        True,
        None,
        [3],
        math.nan,
        math.inf,
        -math.inf,
        10**400,
        "9" * 5000,
        "9" * 39 + " in in",
    ],
)
def test_what_is_no_length_is_refused_in_a_line(typed: object) -> None:
    """Words, doubtful numbers, division by nothing, flags and boundless numbers are ValueErrors of one short line."""
    with pytest.raises(ValueError, match="not a length") as caught:
        length_mm(typed)
    assert len(str(caught.value)) < 160


@given(st.integers(0, 400), st.integers(0, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_a_mixed_number_of_inches_equals_its_fraction(whole: int, over: int, under: int) -> None:
    """Every mark of an inch rule is read as the nearest float to the exact fraction times 25.4."""
    exact = float((whole + Fraction(over, under)) * Fraction(254, 10))
    assert length_mm(f"{whole} {over}/{under} in") == exact


@given(st.floats(-1e6, 1e6).filter(lambda x: abs(x) >= 1e-4 or x == 0))
def test_a_number_typed_as_text_is_the_number(mm: float) -> None:
    """Writing a decimal number with its unit changes nothing."""
    assert length_mm(f"{mm:.12f} mm") == float(f"{mm:.12f}")
    assert length_mm(mm) == mm
