"""Holes, pins, fence and stop: the stated covariance is what placing the work so again and again scatters by."""

from __future__ import annotations

import math

import numpy as np
import pytest

from witnessmark.locate.ways import FENCE_U_MM, STOP_U_MM, Way, by_holes, by_pins, by_stop

ONE, OTHER = (-50.0, 120.0), (250.0, 80.0)
DRAWS = 4000


def lying(off_one: np.ndarray, off_other: np.ndarray) -> np.ndarray:
    """dx, dy, turn of a body whose two places are pushed off by so much: the turn that fits, and the mean shift."""
    one, other = np.array(ONE), np.array(OTHER)
    between = other - one
    off = off_other - off_one
    turn = np.arctan2(between[1] + off[:, 1], between[0] + off[:, 0]) - math.atan2(between[1], between[0])
    middle = (one + other) / 2
    c, s = np.cos(turn), np.sin(turn)
    turned = np.column_stack([c * middle[0] - s * middle[1], s * middle[0] + c * middle[1]])
    return np.column_stack([middle + (off_one + off_other) / 2 - turned, turn])


def covers(way: Way, poses: np.ndarray) -> None:
    seen = np.cov((poses - np.array(way.pose)).T)
    scale = np.sqrt(np.diag(seen))
    np.testing.assert_allclose(way.covariance / np.outer(scale, scale), seen / np.outer(scale, scale), atol=0.08)


def test_two_bolts_in_holes() -> None:
    rng = np.random.default_rng(1)
    poses = lying(rng.normal(0.0, 0.1, (DRAWS, 2)), rng.normal(0.0, 0.1, (DRAWS, 2)))
    covers(by_holes(ONE, OTHER, 0.1), poses)


def test_two_pins_anywhere_in_their_play() -> None:
    rng = np.random.default_rng(2)
    poses = lying(rng.uniform(-0.03, 0.03, (DRAWS, 2)), rng.uniform(-0.03, 0.03, (DRAWS, 2)))
    covers(by_pins(ONE, OTHER, 0.06), poses)


@pytest.mark.parametrize("along", [0, 1])
def test_a_fence_and_a_stop(along: int) -> None:
    rng = np.random.default_rng(3)
    start, length = (20.0, -30.0), 400.0
    ends = rng.normal(0.0, FENCE_U_MM, (DRAWS, 2))  # how far both ends stand off the fence
    turn = (ends[:, 1] - ends[:, 0]) / length * (1.0 if along == 0 else -1.0)
    off = np.zeros((DRAWS, 2))
    off[:, along] = 2.0 + rng.normal(0.0, STOP_U_MM, DRAWS)
    off[:, 1 - along] = ends.mean(axis=1)
    middle = np.array(start)
    middle[along] += length / 2
    turned = middle + np.column_stack([-turn * middle[1], turn * middle[0]])
    covers(by_stop(start, length, along, 2.0), np.column_stack([middle + off - turned, turn]))


def test_two_pins_in_one_place_fix_no_turn() -> None:
    with pytest.raises(ValueError, match="fix no turn"):
        by_pins(ONE, ONE, 0.1)
