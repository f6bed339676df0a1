"""How far a hole lies from a seat that another placement cuts: against the covariance worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from witnessmark.job.frames import Rigid, standing
from witnessmark.job.placement import Placement, Touch
from witnessmark.locate.apart import apart_mm2
from witnessmark.locate.typed import planned_readings, rows_read

FACES = (((-150.0, 0.0), (0.0, 1.0)), ((150.0, 0.0), (0.0, 1.0)), ((-160.0, 40.0), (-1.0, 0.0)))
FIRST = Placement(
    "1", "+z", Rigid.identity(), (300.0, 200.0), 18.0, (-200.0, -100.0, 0.0, 100.0), ("flat",)
)  # fmt: skip
TOUCHES = tuple(
    Touch(f"t{k}", "face", (*at, 10.0), (*normal, 0.0), "cut in placement 1") for k, (at, normal) in enumerate(FACES)
)
SECOND = replace(FIRST, name="2", region_mm=(0.0, -100.0, 200.0, 100.0), touches=TOUCHES)


def by_hand(point: tuple[float, float]) -> np.ndarray:
    """The pose of the second placement by weighted least squares, and how that moves the point: (2, 2)."""
    rows = rows_read(planned_readings(SECOND, TOUCHES, 2.0))[0]
    design = np.array([[nx, ny, x * ny - y * nx] for (x, y), (nx, ny) in FACES])
    pose = np.linalg.inv(design.T @ np.linalg.inv(rows.covariance_mm2) @ design)
    moves = np.array([[1.0, 0.0, -point[1]], [0.0, 1.0, point[0]]])
    return moves @ pose @ moves.T


@pytest.mark.parametrize("point", [(40.0, 30.0), (180.0, -60.0), (0.0, 0.0)])
def test_a_hole_is_as_far_off_as_its_placement_is_found(point: tuple[float, float]) -> None:
    """The first placement lies as planned; how the second is found moves the hole."""
    found = apart_mm2((FIRST, SECOND), "+z", np.array([*point, 0.0]))
    expected = by_hand(point)
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    np.testing.assert_allclose(found[:2, :2] / scale, expected / scale, atol=0.03)
    assert found[2, 2] == pytest.approx(0.0, abs=1e-12)


def test_far_from_the_touches_it_is_the_farther_off() -> None:
    near, far = (np.trace(apart_mm2((FIRST, SECOND), "+z", np.array([x, 0.0, 0.0]))) for x in (10.0, 190.0))
    assert far > 1.3 * near


def test_alone_on_its_side_or_out_of_reach_it_is_not_off_at_all() -> None:
    turned = replace(
        SECOND, up="-z", stand=standing("-z", np.array([-200.0, -100.0, 0.0]), np.array([200.0, 100.0, 20.0]))
    )
    for places, up, x in (((FIRST,), "+z", -50.0), ((FIRST, turned), "+z", -50.0), ((FIRST, SECOND), "+z", 900.0)):
        assert not apart_mm2(places, up, np.array([x, 0.0, 0.0])).any()
