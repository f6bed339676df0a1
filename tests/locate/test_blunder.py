"""A reading that is wrong is named where that can be told, and never another one instead."""

from __future__ import annotations

import math

import numpy as np
import pytest
from layouts import EDGES, SHIFT, THREE, TWO_LANDS, faces, read, rows_for, where

from witnessmark.locate.blunder import agreement, redundancy_of
from witnessmark.locate.pose import located
from witnessmark.locate.readings import Rows

SETS = 120


def typed_wrong(rows: Rows, centres: np.ndarray, reading: int, how: str, rng: np.random.Generator) -> np.ndarray:
    """The readings with one of them typed with the sign of its deviation turned, in inches, or of another face."""
    wrong = centres.copy()
    axis = int(np.argmax(np.abs(rows.normals[reading, :2])))
    planned = where(rows, (0.0, 0.0, 0.0))[reading, axis]
    if how == "sign":
        wrong[reading, axis] = 2 * planned - wrong[reading, axis]
    elif how == "inch":
        wrong[reading, axis] /= 25.4
    else:
        alike = [k for k in range(len(rows)) if k != reading and np.argmax(np.abs(rows.normals[k, :2])) == axis]
        wrong[reading, axis] = centres[alike[rng.integers(len(alike))], axis]
    return wrong


@pytest.mark.parametrize("how", ["sign", "inch", "face"])
@pytest.mark.parametrize("layout", ["two lands", "edges"])
def test_a_reading_typed_wrong_is_named(layout: str, how: str) -> None:
    """In 95 of 100 cases whose error is above the detectable size; in none is another one named."""
    rows = rows_for({"two lands": TWO_LANDS, "edges": EDGES}[layout])
    redundancy, detectable = redundancy_of(rows)
    assert redundancy.min() >= 0.4
    named = other = cases = 0
    for seed in range(SETS):
        rng = np.random.default_rng(seed)
        pose = (rng.normal(0, 0.6), rng.normal(0, 0.6), math.radians(0.3) * rng.standard_normal())
        right = read(rows, pose, rng, 1)[0]
        reading = int(rng.integers(len(rows)))
        wrong = typed_wrong(rows, right, reading, how, rng)
        if np.abs((wrong - right)[reading] @ rows.normals[reading]) <= detectable[reading]:
            continue
        cases += 1
        found = agreement(rows, wrong, SHIFT)
        named += found.wrong == reading
        other += found.wrong is not None and found.wrong != reading
    assert cases > 0.3 * SETS
    assert named >= 0.95 * cases
    assert other <= 0.005 * cases


def test_readings_that_are_right_seldom_are_called_wrong() -> None:
    rows = rows_for(TWO_LANDS)
    sets = read(rows, (0.3, -0.2, 0.001), np.random.default_rng(3), 300)
    judged = [agreement(rows, one, SHIFT) for one in sets]
    assert sum(not one.agrees for one in judged) <= 0.03 * len(judged)


def test_with_three_faces_nothing_can_be_told() -> None:
    rows = rows_for(THREE)
    wrong = where(rows, (0.0, 0.0, 0.0))
    wrong[1, 1] += 3.0
    found = agreement(rows, wrong, SHIFT)
    assert found.agrees  # three readings always agree
    assert np.isinf(found.detectable_mm).all()
    assert found.redundancy == pytest.approx(0.0, abs=1e-9)


def test_two_opposite_faces_alone_along_an_axis_cannot_be_told_apart() -> None:
    """Left and right face, and four others: the step between the two shows, and either may be the wrong one."""
    rows = rows_for(
        faces(
            (-100, -80, 0, -1), (100, -80, 0, -1), (-100, 80, 0, 1), (100, 80, 0, 1), (-160, 0, -1, 0), (160, 0, 1, 0)
        )
    )
    wrong = where(rows, (0.0, 0.0, 0.0))
    wrong[4, 0] -= 1.0
    found = agreement(rows, wrong, SHIFT)
    assert not found.agrees
    assert found.wrong is None
    assert found.suspects == (4, 5)
    assert "cannot be told" in found.words(rows.names)
    assert "face 4" in found.words(rows.names)


def test_two_wrong_readings_are_told_as_more_than_one() -> None:
    rows = rows_for(EDGES)
    wrong = where(rows, (0.2, 0.1, 0.0))
    wrong[0, 1] += 2.0
    wrong[5, 0] -= 1.4
    found = agreement(rows, wrong, SHIFT)
    assert not found.agrees
    assert found.wrong is None
    assert "more than one" in found.words(rows.names) or "cannot be told" in found.words(rows.names)


def test_redundancy_adds_up_to_what_is_to_spare() -> None:
    """The sum of all redundancy numbers is the number of readings less that of parameters (Baarda, from memory)."""
    for layout in (TWO_LANDS, EDGES, THREE):
        rows = rows_for(layout)
        assert redundancy_of(rows)[0].sum() == pytest.approx(len(rows) - 3)


def test_weak_geometry_shows_in_the_condition() -> None:
    """Faces all but parallel fix one direction badly: a ratio that grows with it."""
    strong = rows_for(TWO_LANDS)
    weak = rows_for(faces((-100, 0, 0, -1), (100, 0, 0, -1), (0, 0, 0.05, -math.sqrt(1 - 0.05**2))))
    assert located(strong, where(strong, (0, 0, 0)), SHIFT).condition_ratio < 2
    assert located(weak, where(weak, (0, 0, 0)), SHIFT).condition_ratio > 20
