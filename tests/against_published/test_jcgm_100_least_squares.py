"""Least squares and its covariance against JCGM 100 (GUM) H.3 and the Norris set of NIST's StRD.

H.3 data: JCGM 100:2008, Table H.6 (seen in two public files); results: H.3.3 and H.3.4 (computed, agree with the
published ones, which are from memory). Norris: NIST Statistical Reference Datasets, linear regression, lower
difficulty; certified values (seen), reproduced in exact arithmetic for the project.
"""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.locate.least_squares import fit

T = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
B = np.array([-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160])


def scaled_fit(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """Parameters, their covariance and the standard deviation of a straight line where only the scatter tells it."""
    design = np.column_stack([np.ones(len(x)), x])
    found = fit(design, y, np.eye(len(x)))
    s2 = float(found.residuals @ found.residuals) / (len(x) - 2)
    return found.parameters, s2 * found.covariance, np.sqrt(s2)


def test_gum_h3_calibration_of_a_thermometer() -> None:
    (y1, y2), covariance, s = scaled_fit(T - 20.0, B)
    assert y1 == pytest.approx(-0.1712, abs=5e-5)
    assert y2 == pytest.approx(0.00218, abs=5e-6)
    assert np.sqrt(covariance[0, 0]) == pytest.approx(0.0029, abs=5e-5)
    assert np.sqrt(covariance[1, 1]) == pytest.approx(0.00067, abs=5e-6)
    correlation = covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1])
    assert correlation == pytest.approx(-0.930, abs=5e-4)
    assert s == pytest.approx(0.0035, abs=5e-5)
    row = np.array([1.0, 10.0])  # the correction at 30 degrees
    assert row @ np.array([y1, y2]) == pytest.approx(-0.1494, abs=5e-5)
    assert np.sqrt(row @ covariance @ row) == pytest.approx(0.0041, abs=5e-5)


# y and x of each of the 36 pairs
NORRIS = """
0.1 0.2;338.8 337.4;118.1 118.2;888.0 884.6;9.2 10.1;228.1 226.5;668.5 666.3;998.5 996.3;449.1 448.6;778.9 777.0;
559.2 558.2;0.3 0.4;0.1 0.6;778.1 775.5;668.8 666.9;339.3 338.0;448.9 447.5;10.8 11.6;557.7 556.0;228.3 228.1;
998.0 995.8;888.8 887.6;119.6 120.2;0.3 0.3;0.6 0.3;557.6 556.8;339.3 339.1;888.0 887.2;998.5 999.0;778.9 779.0;
10.2 11.1;117.6 118.3;228.9 229.2;668.4 669.1;449.2 448.9;0.2 0.5
"""


def test_norris() -> None:
    y, x = np.array([[float(v) for v in pair.split()] for pair in NORRIS.split(";")]).T
    assert len(x) == 36
    parameters, covariance, s = scaled_fit(x, y)
    assert parameters == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
    assert np.sqrt(np.diag(covariance)) == pytest.approx([0.232818234301152, 0.429796848199937e-3], rel=1e-9)
    assert s == pytest.approx(0.884796396144373, rel=1e-9)
