"""B-splines at many parameters at once, by de Boor's recurrence (C. de Boor, On calculating with
B-splines, Journal of Approximation Theory 6, 1972), with weights in homogeneous coordinates.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sheetplan.drawings.fitting import Array, Curve


def bspline_curve(
    controls: Sequence[tuple[float, float]], knots: Sequence[float], degree: int, weights: Sequence[float]
) -> Curve:
    """A plane B-spline as a curve with tangents; ``weights`` empty where all are one."""
    weight = np.asarray(weights, np.float64) if len(weights) else np.ones(len(controls))
    points = np.column_stack([np.asarray(controls, np.float64) * weight[:, None], weight])
    steps = np.asarray(knots, np.float64)
    spread = steps[degree + 1 : degree + len(points)] - steps[1 : len(points)]
    slopes = np.divide(
        degree * np.diff(points, axis=0), spread[:, None], out=np.zeros((len(points) - 1, 3)),
        where=spread[:, None] > 0.0,
    )  # fmt: skip

    def curve(t: Array) -> tuple[Array, Array]:
        at = np.clip(t, steps[degree], steps[len(points)])
        place = de_boor(points, steps, degree, at)
        slope = de_boor(slopes, steps[1:-1], degree - 1, at)
        where = place[:, :2] / place[:, 2:]
        return where, (slope[:, :2] - where * slope[:, 2:]) / place[:, 2:]

    return curve


def de_boor(points: Array, knots: Array, degree: int, at: Array) -> Array:
    """The spline at parameters: ``points`` (n, d), ``knots`` (n + degree + 1,), ``at`` (m,) gives (m, d)."""
    last = len(points) - 1
    span = np.clip(np.searchsorted(knots, at, side="right") - 1, degree, last)
    rows = [points[span - degree + j] for j in range(degree + 1)]
    for r in range(1, degree + 1):
        for j in range(degree, r - 1, -1):
            low, high = knots[span - degree + j], knots[span + 1 + j - r]
            width = high - low
            share = np.divide(at - low, width, out=np.zeros_like(at), where=width > 0.0)[:, None]
            rows[j] = rows[j - 1] + share * (rows[j] - rows[j - 1])
    found: Array = rows[degree]
    return found
