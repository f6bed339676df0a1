"""Sizes as people type them: lengths, feeds, accelerations, speeds, power."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.units import MM_PER_INCH, acceleration_mm_s2, length_mm, power_w, rate_mm_min, speed_rpm


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


@pytest.mark.parametrize(
    ("read", "typed", "value"),
    [
        (rate_mm_min, "80 in/min", 2032.0),
        (rate_mm_min, "1/2 in/s", 762.0),
        (rate_mm_min, "2 m/min", 2000.0),
        (rate_mm_min, "50 mm/s", 3000.0),
        (rate_mm_min, 1800, 1800.0),
        (acceleration_mm_s2, "0.3 m/s2", 300.0),
        (acceleration_mm_s2, "10 in/s^2", 254.0),
        (power_w, "1.1 kW", 1100.0),
        (power_w, "500 W", 500.0),
        (speed_rpm, "18000 rpm", 18000.0),
    ],
)
def test_feeds_and_the_like_carry_their_units_too(read: object, typed: object, value: float) -> None:
    assert callable(read)
    assert read(typed) == pytest.approx(value)


def test_a_horsepower_is_550_foot_pounds_a_second() -> None:
    """NIST SP 811, appendix B.8 (from memory): 745.69987 W; worked out from the inch and the pound-force."""
    assert power_w("1 hp") == pytest.approx(550 * 12 * 0.0254 * 0.45359237 * 9.80665, rel=1e-7)


@pytest.mark.parametrize(
    ("read", "typed", "says"),
    [
        (rate_mm_min, "80 in", "'80 in/min'"),
        (rate_mm_min, "80 mm/s2", "not a rate"),
        (acceleration_mm_s2, "3 m/s", "not an acceleration"),
        (power_w, "3 rpm", "not a power"),
        (speed_rpm, "3 mm", "not a speed"),
        (length_mm, "3 mm/min", "not a length"),
    ],
)
def test_the_wrong_kind_of_size_is_told(read: object, typed: str, says: str) -> None:
    assert callable(read)
    with pytest.raises(ValueError, match=says):
        read(typed)


@given(st.decimals(0, 9999, places=3), st.sampled_from(["in/min", "mm/min", "m/min", "cm/s", "in/s"]))
def test_a_feed_is_its_length_in_its_time(number: object, unit: str) -> None:
    """A feed's number with its unit is the length with that unit, a minute or a second."""
    length, time = unit.split("/")
    assert rate_mm_min(f"{number} {unit}") == pytest.approx(
        length_mm(f"{number} {length}") * (60 if time == "s" else 1)
    )
