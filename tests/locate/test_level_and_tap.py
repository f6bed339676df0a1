"""Heights to tilt and shim, and the pushes that bring the work back: against the rigid motion itself."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.frames import Rigid
from witnessmark.job.placement import Placement, Touch
from witnessmark.locate.level import CORNERS, levelled
from witnessmark.locate.tap import taps

BLANK = (0.0, 0.0, 400.0, 200.0)
SPOTS = [(20.0, 20.0), (380.0, 20.0), (380.0, 180.0), (20.0, 180.0)]
HEIGHT = 40.0


def place(spots: list[tuple[float, float]] = SPOTS) -> Placement:
    lands = tuple(
        Touch(f"land {k}", "land", (x, y, HEIGHT), (0.0, 0.0, 1.0), "cut before") for k, (x, y) in enumerate(spots)
    )
    stand = Rigid(np.eye(3), np.zeros(3))
    return Placement("2", "+z", stand, (30.0, 50.0), 18.0, BLANK, ("end 6",), levels=lands)


def heights(about_x: float, about_y: float, up: float, spots: list[tuple[float, float]] = SPOTS) -> dict[int, float]:
    """What would be read: z changes by y for a turn about x, and against x for one about y."""
    return {k: HEIGHT + up + about_x * y - about_y * x for k, (x, y) in enumerate(spots, 1)}


tilt = st.floats(-0.005, 0.005)


@given(tilt, tilt, st.floats(-1.0, 1.0))
def test_the_tilt_is_found_and_the_shims_make_it_level(about_x: float, about_y: float, up: float) -> None:
    found = levelled(place(), heights(about_x, about_y, up), BLANK, HEIGHT, 0.1)
    assert found.tilt_rad == pytest.approx((about_x, about_y), abs=1e-9)
    assert found.up_mm == pytest.approx(up + about_x * 100 - about_y * 200, abs=1e-6)
    corners = [(0.0, 0.0), (400.0, 0.0), (400.0, 200.0), (0.0, 200.0)]
    lifted = [about_x * y - about_y * x + mm for (x, y), mm in zip(corners, found.shims_mm)]
    assert max(lifted) - min(lifted) < 1e-6
    assert min(found.shims_mm) == pytest.approx(0.0, abs=1e-9)  # nothing under the highest
    assert not found.bowed
    assert found.bowed_mm < 1e-6


def test_the_low_corner_is_named() -> None:
    found = levelled(place(), heights(0.0005, 0.0, 0.0), BLANK, HEIGHT, 0.04)  # the front lies 0.1 mm lower
    assert not found.holds
    assert found.off_mm == pytest.approx(0.05)  # up and down from the middle
    said = found.words()
    assert "0.10 mm under the front left corner" in said
    assert "0.10 mm under the front right corner" in said
    assert "back" not in said.split("put")[1].split("and read")[0]
    assert levelled(place(), heights(0.0005, 0.0, 0.0), BLANK, HEIGHT, 0.1).holds


def test_a_twisted_blank_is_no_tilt() -> None:
    read = heights(0.0, 0.0, 0.0)
    read[1] += 0.5
    read[3] += 0.5
    found = levelled(place(), read, BLANK, HEIGHT, 0.1)
    assert found.bowed
    assert "twisted" in found.words()


def test_too_few_heights_or_heights_on_one_line_are_refused() -> None:
    line = [(20.0, 20.0), (200.0, 20.0), (380.0, 20.0)]
    with pytest.raises(ValueError, match="three lands"):
        levelled(place(), {1: 40.0, 2: 40.0}, BLANK, HEIGHT, 0.1)
    with pytest.raises(ValueError, match="one line"):
        levelled(place(line), heights(0.0, 0.0, 0.0, line), BLANK, HEIGHT, 0.1)


def test_the_stated_uncertainty_of_the_level_is_what_readings_scatter_by() -> None:
    rng = np.random.default_rng(5)
    off = []
    for _ in range(800):
        read = {k: v + rng.normal(0.0, math.hypot(0.02, 0.01)) for k, v in heights(0.0, 0.0, 0.0).items()}
        found = levelled(place(), read, BLANK, HEIGHT, 0.1)
        off.append(-found.tilt_rad[1] * -200.0 + found.tilt_rad[0] * -100.0)  # at the front left corner
    assert np.std(off) == pytest.approx(found.u_mm, rel=0.08)


@given(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0), st.floats(-0.02, 0.02))
def test_the_pushes_bring_the_ends_back(dx: float, dy: float, turn: float) -> None:
    pushes = {tap.where: tap for tap in taps(place(), BLANK, (dx, dy, turn))}
    c, s = math.cos(turn), math.sin(turn)
    for name, x in (("the left end", 0.0), ("the right end", 400.0)):
        lies = np.array([c * x - s * 100.0 + dx, s * x + c * 100.0 + dy])
        tap = pushes.get(name)
        by = 0.0 if tap is None else tap.by_mm * (1.0 if tap.way == "to the back" else -1.0)
        assert lies[1] + by == pytest.approx(100.0, abs=0.006)
    along = pushes.get("all of it")
    by = 0.0 if along is None else along.by_mm * (1.0 if along.way == "to the right" else -1.0)
    assert c * 200.0 - s * 100.0 + dx + by == pytest.approx(200.0, abs=0.006)


def test_what_lies_as_planned_is_not_pushed() -> None:
    assert taps(place(), BLANK, (0.0, 0.0, 0.0)) == ()
    assert len(CORNERS) == 4
