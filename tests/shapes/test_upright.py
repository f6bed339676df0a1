"""Solids raised over outlines."""

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.errors import Refusal
from witnessmark.shapes.upright import upright


@given(st.floats(20, 300), st.floats(20, 300), st.floats(1, 80))
def test_volume_is_area_times_thickness(x_mm: float, y_mm: float, thick_mm: float) -> None:
    """An outline with a hole raised to a thickness encloses area times thickness, and its section is the outline."""
    outline = shapely.box(0, 0, x_mm, y_mm).difference(shapely.Point(x_mm / 2, y_mm / 2).buffer(5))
    solid = upright(outline, thick_mm)
    assert solid.volume_mm3 == pytest.approx(outline.area * thick_mm, rel=1e-5)
    assert solid.section(thick_mm / 2).symmetric_difference(outline).area < 1e-3 * outline.area


def test_nothing_to_raise_is_refused() -> None:
    """An empty outline is refused."""
    with pytest.raises(Refusal, match="encloses nothing"):
        upright(shapely.Polygon(), 5.0)
