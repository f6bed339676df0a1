"""A box in the outline of a real coastline, from Natural Earth's data to a passing proof.

Source  Natural Earth 1:10m (public domain), as TopoJSON in the npm package world-atlas 2.0.2, which `make test`
        installs into tests/data
"""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np
import pytest
import shapely

from witnessmark.job.files import load_job
from witnessmark.shapes.boxes.parallels import opened
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.prove import prove
from witnessmark.verbs.workshop import read_box

ROOT = Path(__file__).parents[2]
ATLAS = ROOT / "tests" / "data" / "node_modules" / "world-atlas" / "countries-10m.json"
EXAMPLE = runpy.run_path(str(ROOT / "examples" / "coastline_box.py"))


@pytest.fixture(autouse=True, scope="module")
def _coastlines() -> None:
    assert ATLAS.is_file(), "the coastlines are not installed: make test installs them (make .venv/.atlas-ready)"


def test_the_shore_is_drawn_as_large_as_it_is():
    """Iceland has 103,000 km2 with its islands; its main shore a little less, less its lakes.

    Source  Iceland's area: 103,000 km2 (from memory; the sphere's radius of 6371 km too)
    """
    shore = EXAMPLE["coastline"](ATLAS, "Iceland")
    assert len(shore) > 3000
    area_km2 = shapely.Polygon(EXAMPLE["equal_area"](shore)).buffer(0).area * 6371.0**2
    assert area_km2 == pytest.approx(103_000, rel=0.03)


def test_thousands_of_vertices_become_a_box_whose_lid_fits(tmp_path):
    answer = EXAMPLE["coastline_box"](ATLAS, tmp_path / "box")
    made = read_box(answer.file)
    female, male = made.regions.female, made.regions.male
    places = shapely.points(shapely.get_coordinates(shapely.segmentize(shapely.boundary(male), 0.5)))
    assert np.abs(shapely.distance(places, shapely.boundary(female)) - 0.3).max() < 0.01
    assert made.regions.compartments.area - opened(made.regions.compartments, 3.0).area < 1.0
    assert any("falls into 2 parts" in note for note in answer.notes)  # the fjords part the north-west from the rest


@pytest.mark.slow
def test_the_coastline_box_is_planned_and_proven(tmp_path):
    folder = tmp_path / "box"
    EXAMPLE["coastline_box"](ATLAS, folder, 150.0)  # smaller than the example, so that it takes less time
    plan(folder)
    program(folder)
    answer = prove(folder)
    assert answer.passed
    assert [piece.part for piece in load_job(folder).pieces] == ["body", "lid"]
    assert len(list((folder / "out" / "programs").glob("*.nc"))) >= 6
