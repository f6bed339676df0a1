"""Where the two sides may meet."""

import manifold3d
import numpy as np
import pytest

from witnessmark.plan.meeting import meeting_range
from witnessmark.shapes.solid import Solid


def frustum(foot_mm: float, rim_mm: float, height_mm: float = 40.0) -> Solid:
    return Solid(manifold3d.Manifold.cylinder(height_mm, foot_mm, rim_mm, 128))


def test_upright_walls_may_meet_anywhere() -> None:
    """A straight cylinder is seen whole from both sides."""
    meeting = meeting_range(frustum(50.0, 50.0))
    assert (meeting.lowest_mm, meeting.highest_mm) == (0.0, 40.0)


def test_outward_flare_belongs_to_the_foot_side() -> None:
    """A cone that widens upward is hidden from the rim, so the foot side must cut it all."""
    meeting = meeting_range(frustum(40.0, 55.0))
    assert meeting.highest_mm == 40.0
    assert meeting.lowest_mm == pytest.approx(40.0, abs=1.0)
    assert meeting.possible


def test_waist_belongs_to_both_and_belly_to_neither() -> None:
    """A double cone: widest in the middle, the sides meet there; narrowest in the middle, no height will do."""
    wide = Solid(
        manifold3d.Manifold.cylinder(20, 40, 60, 96)
        + manifold3d.Manifold.cylinder(20, 60, 40, 96).translate((0, 0, 20))
    )
    meeting = meeting_range(wide)
    assert meeting.possible
    assert meeting.lowest_mm == pytest.approx(20.0, abs=1.0)
    waist = Solid(
        manifold3d.Manifold.cylinder(20, 60, 40, 96)
        + manifold3d.Manifold.cylinder(20, 40, 60, 96).translate((0, 0, 20))
    )
    assert not meeting_range(waist).possible


def test_cavity_does_not_count_as_an_undercut() -> None:
    """A box open at the top is seen whole from below although its cavity is not."""
    box = manifold3d.Manifold.cube((80, 60, 30), True) - manifold3d.Manifold.cube((60, 40, 30), True).translate(
        (0, 0, 5)
    )
    meeting = meeting_range(Solid(box))
    assert np.isclose(meeting.lowest_mm, -15.0)
    assert np.isclose(meeting.highest_mm, 15.0)


def test_a_thin_overhang_counts_by_its_width_not_its_area() -> None:
    """A short wall that leans out 0.2 mm hides little area, but more than may be left; 0.04 mm may be left."""
    for lean_mm, seen in ((0.2, False), (0.04, True)):
        low, high = [(0, 0), (8, 0), (8, 30), (0, 30)], [(0, 0), (8 + lean_mm, 0), (8 + lean_mm, 30), (0, 30)]
        leaning = manifold3d.Manifold.hull_points([(*p, 0.0) for p in low] + [(*p, 10.0) for p in high])
        meeting = meeting_range(Solid(leaning))
        assert (meeting.lowest_mm < 1.0) == seen
        assert meeting.highest_mm == 10.0
