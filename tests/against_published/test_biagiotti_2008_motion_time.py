"""Motion time against the trapezoidal velocity profile.

Authority: L. Biagiotti and C. Melchiorri, "Trajectory Planning for Automatic Machines and Robots", Springer, 2008,
trapezoidal velocity (from memory). From rest to rest over s with s >= v^2/a: T = s/v + v/a. The figures s 100 mm,
v 50 mm/s, a 500 mm/s2 come to 2.1 s; with jerk limited to 5000 mm/s3 the same move takes 2.2 s (both worked out for
this test, not printed in the book).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from witnessmark.program.speeds import motion_seconds, trapezoid_s

S_MM, V_MM_S, A_MM_S2, J_MM_S3 = 100.0, 50.0, 500.0, 5000.0


def test_the_trapezoid_takes_2_1_seconds() -> None:
    """T = s/v + v/a = 2.1 s."""
    assert trapezoid_s(S_MM, V_MM_S, A_MM_S2, 0.0, 0.0) == pytest.approx(2.1, abs=1e-12)
    chain = motion_seconds(np.array([S_MM]), np.array([V_MM_S]), np.array([A_MM_S2]), np.zeros(2))
    assert chain[0] == pytest.approx(2.1, abs=1e-12)


def test_leaving_out_the_jerk_costs_a_tenth_of_a_second() -> None:
    """T = s/v + v/a + a/j = 2.2 s: what the time model leaves out is a/j for each such move."""
    jerk_limited_s = S_MM / V_MM_S + V_MM_S / A_MM_S2 + A_MM_S2 / J_MM_S3
    assert jerk_limited_s == pytest.approx(2.2)
    assert jerk_limited_s - trapezoid_s(S_MM, V_MM_S, A_MM_S2, 0.0, 0.0) == pytest.approx(A_MM_S2 / J_MM_S3)


@pytest.mark.parametrize(("v0", "v1"), [(0.0, 0.0), (20.0, 0.0), (10.0, 45.0), (50.0, 50.0)])
@pytest.mark.parametrize("length", [3.0, 100.0])
def test_against_integration(v0: float, v1: float, length: float) -> None:
    """The way run under the profile's speed, integrated by scipy, is the move's length."""
    took = trapezoid_s(length, V_MM_S, A_MM_S2, v0, v1)

    def speed(t: float, _: np.ndarray) -> list[float]:
        return [min(V_MM_S, v0 + A_MM_S2 * t, v1 + A_MM_S2 * (took - t))]

    way = solve_ivp(speed, (0.0, took), [0.0], max_step=took / 2000, rtol=1e-9).y[0, -1]
    assert way == pytest.approx(length, rel=1e-4)
