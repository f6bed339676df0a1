"""What a program asks of the cutter: rates and widths by their definitions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.demonstration import demonstration_cutters
from witnessmark.program.read import read
from witnessmark.proof.loads import Taken, peak_removal_mm3_min, removed_by_minute_mm3, widths_mm

some = st.lists(st.tuples(st.floats(0.0, 500.0), st.floats(0.001, 40.0)), min_size=1, max_size=30)


def test_the_peak_is_that_of_the_fullest_second() -> None:
    """2 s at 100 mm3/s, a second in air, half a second at 300: the last whole second holds 150 + 0 (air) mm3."""
    removed, seconds = np.array([200.0, 0.0, 150.0]), np.array([2.0, 1.0, 0.5])
    assert peak_removal_mm3_min(removed, seconds) == pytest.approx(150.0 * 60)


def test_a_run_shorter_than_a_second_counts_whole() -> None:
    assert peak_removal_mm3_min(np.array([10.0]), np.array([0.5])) == pytest.approx(10.0 / 0.5 * 60)
    assert peak_removal_mm3_min(np.empty(0), np.empty(0)) == 0.0


@given(some)
def test_no_second_holds_more_than_the_peak(motions: list[tuple[float, float]]) -> None:
    """Against seconds begun every 7 ms; and the minutes add up to all that was removed."""
    removed, seconds = np.array(motions).T
    peak = peak_removal_mm3_min(removed, seconds)
    ends, volume = np.concatenate([[0.0], np.cumsum(seconds)]), np.concatenate([[0.0], np.cumsum(removed)])
    starts = np.arange(0.0, max(ends[-1] - 1.0, 0.0), 0.007)
    if len(starts):
        seen = (np.interp(starts + 1.0, ends, volume) - np.interp(starts, ends, volume)).max() * 60
        assert seen <= peak + 1e-6
    assert sum(removed_by_minute_mm3(removed, seconds)) == pytest.approx(removed.sum(), abs=1e-6)


def test_width_is_volume_over_way_and_depth_and_a_plunge_has_none() -> None:
    """Half a 6 mm cutter's width, 4 mm deep, over 50 mm: 600 mm3."""
    table = read("G21 G90 G94\nG0 X0 Y0 Z5\nG1 Z-4 F600\nG1 X50\nM2\n")
    flat = next(c for c in demonstration_cutters() if c.kind == "flat" and c.diameter_mm == 6.0)
    taken = Taken(np.array([4.0, 4.0]), np.array([113.1, 600.0]))
    way = np.linalg.norm(table.end_mm - table.start_mm, axis=1)
    assert widths_mm(table, taken, way, flat) == pytest.approx([0.0, 3.0])
