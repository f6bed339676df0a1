"""The solver HiGHS behind two small doors: a linear program that grows, and an integer program.

Method    the linear program keeps its basis, so that a few more columns cost a few more pivots and no fresh start
Source    HiGHS: Huangfu and Hall, Parallelizing the dual revised simplex method, Mathematical Programming Computation
          10 (2018) 119-142 (from memory)
Refuses   nothing: what cannot be solved comes back as None
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def _solver() -> highspy.Highs:
    solver = highspy.Highs()
    solver.setOptionValue("log_to_console", False)
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    return solver


def _i32(numbers: Sequence[int] | Ints) -> NDArray[np.int32]:
    return np.asarray(numbers, dtype=np.int32)


class Growing:
    """Minimise over columns >= 0 between row bounds; columns and rows come one after another."""

    def __init__(self, low: Sequence[float] | Floats, high: Sequence[float] | Floats) -> None:
        self._solver = _solver()
        for least, most in zip(low, high):
            self._solver.addRow(float(least), float(most), 0, _i32([]), np.zeros(0))
        self.columns = 0
        self.rows = len(low)

    def add(self, cost: float, rows: Sequence[int], values: Sequence[float]) -> None:
        """A column."""
        self._solver.addCol(cost, 0.0, highspy.kHighsInf, len(rows), _i32(rows), np.asarray(values, dtype=np.float64))
        self.columns += 1

    def add_row(self, low: float, high: float, columns: Sequence[int] | Ints, values: Sequence[float]) -> None:
        own = np.asarray(values, dtype=np.float64)
        self._solver.addRow(low, high, len(columns), _i32(columns), own)
        self.rows += 1

    def bound(self, low: Floats, high: Floats) -> None:
        """Other bounds of all rows."""
        every = _i32(np.arange(self.rows))
        self._solver.changeRowsBounds(self.rows, every, low, high)

    def solve(self) -> tuple[float, Floats, Floats]:
        """(cost, value of each column, dual of each row)."""
        self._solver.run()
        found = self._solver.getSolution()
        return (
            float(self._solver.getInfo().objective_function_value),
            np.array(found.col_value),
            np.array(found.row_dual),
        )


def integers(
    cost: Floats,
    matrix: csc_array,
    low: Floats,
    high: Floats,
    seconds: float,
    gap_ratio: float,
    enough: float = -math.inf,
) -> tuple[Floats, bool] | None:
    """Whole numbers >= 0, one for each column, of the least cost found within the time, and whether none costs less
    (by more than the gap); None: nothing was found. It ends as soon as the cost is no more than ``enough``."""
    rows, columns = matrix.shape
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = columns, rows
    model.col_cost_ = cost
    model.col_lower_, model.col_upper_ = np.zeros(columns), np.full(columns, highspy.kHighsInf)
    model.row_lower_, model.row_upper_ = low, high
    model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    model.a_matrix_.num_col_, model.a_matrix_.num_row_ = columns, rows
    model.a_matrix_.start_, model.a_matrix_.index_ = _i32(matrix.indptr), _i32(matrix.indices)
    model.a_matrix_.value_ = matrix.data.astype(np.float64)
    model.integrality_ = [highspy.HighsVarType.kInteger] * columns
    solver = _solver()
    solver.setOptionValue("time_limit", float(seconds))
    solver.setOptionValue("mip_rel_gap", gap_ratio)
    solver.setOptionValue("objective_target", enough)
    solver.passModel(model)
    solver.run()
    if solver.getInfo().primal_solution_status != int(highspy.SolutionStatus.kSolutionStatusFeasible):
        return None
    proven = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return np.round(np.array(solver.getSolution().col_value)), proven
