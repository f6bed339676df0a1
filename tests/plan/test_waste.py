"""The waste of a blank: how much at each end, and what touch lands take of it, whichever side was up."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from witnessmark.job.frames import standing
from witnessmark.plan.candidates import BlankBox
from witnessmark.plan.waste import waste_note
from witnessmark.shapes.upright import upright

PIECE = upright(shapely.box(0, 0, 200, 100), 20.0)
BOX = BlankBox(np.array([-40.0, -15.0, 0.0]), np.array([220.0, 130.0, 20.0]))


def test_the_waste_at_each_end_is_told():
    words = waste_note(PIECE, BOX, 9.0, ())
    assert (
        words
        == "waste beyond the piece: 40 mm left, 20 mm right, 15 mm front, 30 mm back; a trench takes 9 mm of each"
    )


@pytest.mark.parametrize("up", ["+z", "-z"])
def test_what_a_land_takes_does_not_hang_on_the_side_that_is_up(up):
    stand = standing(up, BOX.lower_mm, BOX.upper_mm)
    corners = stand.apply(np.array([[-31.0, 40.0, 20.0], [-19.0, 70.0, 20.0]]))  # beyond the left end
    (x0, y0, _), (x1, y1, _) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    words = waste_note(PIECE, BOX, 9.0, [("land 1a", (x0, y0, x1, y1), stand)])
    assert "land 1a at x -25 y 55" in words
    assert words.endswith("take 26 mm left besides")  # 31 beyond, 4 of wood round it, 9 are trench anyway


def test_lands_within_the_pieces_own_rectangle_take_nothing():
    stand = standing("+z", BOX.lower_mm, BOX.upper_mm)
    words = waste_note(PIECE, BOX, 9.0, [("land 1a", (10.0, 10.0, 40.0, 22.0), stand)])
    assert "lie in what the outline and the trench leave anyway" in words
