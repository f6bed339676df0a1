"""fit: holes and lids in words, and a strip of holes to a passing proof."""

from __future__ import annotations

import pytest

from witnessmark.job.demonstration import demonstration_cutters, demonstration_machine
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job
from witnessmark.verbs.fit import fit, ladder, ladder_mm, lid_gap, liked, wood_named, year_of
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.prove import prove
from witnessmark.verbs.workshop import open_workshop
from witnessmark.wood.fit import Seat

YEAR = year_of((20.0, 35.0), (20.0, 65.0), 8.0)


def test_a_hole_in_words():
    said = fit(Seat(6.0, 0.01, 0.01, wood_named("cherry, black"), 30.0), YEAR).words
    assert said[0].startswith("press: cut the hole 5.9")
    loose = fit(Seat(6.0, 0.02, 0.06, wood_named("cherry, black"), 8.0), YEAR).words
    assert loose[0].startswith("glue with clearance") or loose[0].startswith("sleeve")


def test_a_lid_moves_across_its_grain_and_hardly_along_it():
    across = lid_gap(120.0, wood_named("cherry, black"), YEAR, 0.2, along=False).gap
    along = lid_gap(120.0, wood_named("cherry, black"), YEAR, 0.2, along=True).gap
    assert across.now_mm > 1.0 > 0.25 > along.now_mm
    assert across.tightest_mm == pytest.approx(0.2)


def test_what_cannot_be_is_refused_with_a_remedy(tmp_path):
    with pytest.raises(Refusal, match='did you mean "cherry, black"'):
        wood_named("black cherry")
    with pytest.raises(Refusal, match="write degrees C x percent"):
        year_of((20.0, 135.0), (20.0, 65.0), 8.0)
    with pytest.raises(Refusal, match="none of the flat cutters goes into"):
        ladder(tmp_path / "s", 3.0, 6.0, demonstration_machine(), demonstration_cutters(), "cherry, black")
    with pytest.raises(Refusal, match="no hole of the strip"):
        liked(6.0, 12, "press")
    assert not (tmp_path / "s").exists()


def test_the_holes_of_a_strip_step_by_a_twentieth():
    assert ladder_mm(6.0) == pytest.approx([5.8, 5.85, 5.9, 5.95, 6.0, 6.05, 6.1, 6.15, 6.2])
    assert "draw it 5.95 mm" in liked(6.0, 4, "press")


@pytest.mark.slow
def test_a_strip_of_holes_is_proven(tmp_path):
    """Every hole comes out as wide as it is drawn: its section has the area of its circle, and the proof passes."""
    folder = ladder(tmp_path / "strip", 6.0, 6.0, demonstration_machine(), demonstration_cutters(), "cherry, black")
    solid = open_workshop(folder).solids["strip"]
    holes = sorted(ring.area if hasattr(ring, "area") else 0 for ring in _holes(solid.section(8.0)))
    assert [round(2 * (area / 3.14159265) ** 0.5, 2) for area in holes] == pytest.approx(
        list(ladder_mm(6.0)), abs=0.006
    )
    assert load_job(folder).cutters[0].name == "flat 3"
    plan(folder)
    program(folder)
    assert prove(folder).passed


def _holes(area):
    import shapely

    return [shapely.Polygon(ring) for part in shapely.get_parts(area) for ring in part.interiors]
