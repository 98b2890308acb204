"""HiGHS as this house uses it: one thread, silent, the same answer every time."""

from __future__ import annotations

from collections.abc import Sequence

import highspy
import numpy as np
from numpy.typing import NDArray

INFINITY = float(highspy.kHighsInf)

Floats = NDArray[np.float64]


class Quiet(highspy.Highs):  # type: ignore[misc]
    """HiGHS without its banner, which its own constructor prints before any option can be set."""

    def enableCallbacks(self) -> None:
        """Silence the solver at the first call that its constructor makes."""
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()


def new_model() -> highspy.Highs:
    """An empty model."""
    model = Quiet()
    model.setOptionValue("threads", 1)
    model.setOptionValue("random_seed", 1)
    return model


def add_row(
    model: highspy.Highs, low: float, high: float, columns: Sequence[int], values: Sequence[float]
) -> None:
    """Add a row; ``columns`` and ``values`` name what is not zero in it."""
    model.addRow(low, high, len(columns), np.array(columns, np.int32), np.array(values, np.float64))


def add_column(
    model: highspy.Highs, cost: float, high: float, rows: Sequence[int], values: Sequence[float]
) -> None:
    """Add a column from 0 to ``high``."""
    model.addCol(cost, 0.0, high, len(rows), np.array(rows, np.int32), np.array(values, np.float64))


def column_values(model: highspy.Highs) -> Floats:
    """Values of the columns in the last answer."""
    return np.array(model.getSolution().col_value, np.float64)


def row_duals(model: highspy.Highs) -> Floats:
    """Dual prices of the rows in the last answer."""
    return np.array(model.getSolution().row_dual, np.float64)


def objective(model: highspy.Highs) -> float:
    """Value of the last answer."""
    return float(model.getInfo().objective_function_value)
