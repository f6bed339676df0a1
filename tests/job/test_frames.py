"""Frames and rigid moves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from witnessmark.job.frames import SIDES, Rigid, side_rotation, standing

AXES = {"x": np.array([1.0, 0, 0]), "y": np.array([0, 1.0, 0]), "z": np.array([0, 0, 1.0])}
mm = st.floats(-1000, 1000)


def outward(side: str) -> np.ndarray:
    return AXES[side[1]] * (1 if side[0] == "+" else -1)


@pytest.mark.parametrize("up", SIDES)
@pytest.mark.parametrize("quarter_turns", range(-1, 5))
def test_the_side_that_is_up_points_up(up: str, quarter_turns: int) -> None:
    """Each of the six sides, however turned, ends with its outward direction along +z, without mirroring."""
    rotation = side_rotation(up, quarter_turns)
    np.testing.assert_array_equal(rotation @ outward(up), AXES["z"])
    np.testing.assert_array_equal(rotation @ rotation.T, np.eye(3))
    assert np.linalg.det(rotation) == pytest.approx(1.0)


def test_turning_over_keeps_the_long_axis() -> None:
    """Foot up is reached by turning about x: ends stay where they were, front and back change places."""
    np.testing.assert_array_equal(side_rotation("-z") @ AXES["x"], AXES["x"])
    np.testing.assert_array_equal(side_rotation("-z") @ AXES["y"], -AXES["y"])


@pytest.mark.parametrize("up", SIDES)
@pytest.mark.parametrize("quarter_turns", range(4))
def test_the_blank_stands_on_zero(up: str, quarter_turns: int) -> None:
    """A standing blank's lowest corner is at z = 0, and x, y still pass through the piece's origin."""
    low, high = np.array([-20.0, -30.0, -4.0]), np.array([200.0, 150.0, 58.0])
    stand = standing(up, low, high, quarter_turns)
    corners = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
    moved = stand.apply(corners)
    side = "xyz".index(up[1])
    assert moved[:, 2].min() == pytest.approx(0.0)
    assert moved[:, 2].max() == pytest.approx(high[side] - low[side])
    np.testing.assert_allclose(stand.apply(np.zeros(3))[:2], 0.0)


@given(st.tuples(mm, mm, mm), st.floats(-7, 7), st.tuples(mm, mm, mm))
def test_a_move_and_its_inverse_cancel(
    shift: tuple[float, float, float], turn_rad: float, point: tuple[float, ...]
) -> None:
    """Going there and back leaves every point where it was."""
    move = Rigid.shift(*shift) @ Rigid.turn_about_z(turn_rad)
    np.testing.assert_allclose(move.inverse().apply(move.apply(np.array(point))), point, atol=1e-9)
    np.testing.assert_allclose((move.inverse() @ move).matrix34(), Rigid.identity().matrix34(), atol=1e-9)


@given(st.integers(0, 2**32 - 1))
def test_chained_moves_act_one_after_the_other(seed: int) -> None:
    """(a @ b) moves by b, then by a; rotations agree with scipy.spatial.transform."""
    chance = np.random.default_rng(seed)
    first, second = Rotation.random(2, rng=chance)
    a = Rigid(first.as_matrix(), chance.normal(size=3))
    b = Rigid(second.as_matrix(), chance.normal(size=3))
    points = chance.normal(size=(5, 3))
    np.testing.assert_allclose((a @ b).apply(points), a.apply(b.apply(points)), atol=1e-12)
    expected = first.apply(second.apply(points) + b.translation_mm) + a.translation_mm
    np.testing.assert_allclose((a @ b).apply(points), expected, atol=1e-12)


def test_points_of_any_shape_are_moved() -> None:
    """A mesh's (n, 3, 3) corners are moved as a whole, and the matrix says the same."""
    move = Rigid.shift(1, 2, 3) @ Rigid.turn_about_z(np.pi / 2)
    corners = np.arange(18.0).reshape(2, 3, 3)
    homogeneous = np.concatenate([corners, np.ones((2, 3, 1))], axis=-1)
    np.testing.assert_allclose(move.apply(corners), homogeneous @ move.matrix34().T, atol=1e-12)
    np.testing.assert_allclose(move.apply([1.0, 0, 0]), [1, 3, 3], atol=1e-12)
