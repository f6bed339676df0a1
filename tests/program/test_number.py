"""The number format that the writer and the reader share."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.program.number import counts, number_at, shown, shown_count

DECIMALS = st.integers(0, 6)


@given(st.integers(-(10**14), 10**14), DECIMALS)
def test_a_count_is_read_back_exactly(count: int, decimals: int) -> None:
    """What is written for a count is read back as the double nearest to that count's value."""
    text = shown_count(count, decimals)
    back = number_at(text, 0)
    assert back == (float(f"{count}e-{decimals}"), len(text))


@given(st.integers(-(10**14), 10**14), DECIMALS)
def test_nothing_superfluous_is_written(count: int, decimals: int) -> None:
    """No exponent, no plus, no trailing noughts or point, no leading noughts, never -0."""
    text = shown_count(count, decimals)
    assert re.fullmatch(r"-?(0|[1-9][0-9]*)(\.[0-9]*[1-9])?", text)
    assert text != "-0"


@given(st.floats(-1e6, 1e6), DECIMALS)
def test_a_value_is_off_by_half_a_step_at_most(value: float, decimals: int) -> None:
    """Rounding to the nearest decimal."""
    assert abs(float(shown(value, decimals)) - value) <= 0.5 * 10.0**-decimals + 1e-9


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_only_finite_numbers_are_written(value: float) -> None:
    """A place that is no number must not become text."""
    with pytest.raises(ValueError, match="finite"):
        shown(value, 3)
    with pytest.raises(ValueError, match="finite"):
        counts(np.array([value]), 0.001)


@given(st.text(alphabet="0123456789.+-e ", max_size=12))
def test_what_is_read_is_a_number(text: str) -> None:
    """The longest plain number at the start is read, and Python's own float agrees on it."""
    found = number_at(text, 0)
    if found is not None:
        assert found[0] == float(text[: found[1]])
        assert "e" not in text[: found[1]]
