"""Which shifts make two polygons touch: no-fit maps on a lattice.

For a standing polygon A and a moving polygon B, a shift t is forbidden when B moved by t meets A.
The forbidden shifts are the Minkowski sum of A and the mirrored B; here they are marked on the
points of a lattice. Their border comes from the parallelograms that every pair of edges sweeps;
what the border encloses comes from one corner of each polygon lying inside the other. Only
positions are rounded to the lattice, never shapes, and holes need no code of their own: a part
that fits into a hole finds free shifts there.

Source of the method's idea: the no-fit polygon as used by Albano and Sapuppo 1980 (IEEE Trans.
SMC 10) and, on a raster, by Mundim, Andretta and Queiroz 2017 (Expert Systems with Applications 81).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.growing import Edges

Bytes = NDArray[np.uint8]
Steps = NDArray[np.int32]


@compiled
def _count_span(steps: Steps, column: int, low: float, high: float, oy: int, step: float) -> None:
    """Count one more cover of the lattice points from ``low`` to ``high`` in a column."""
    rows = steps.shape[1] - 1
    first = max(0, math.ceil(low / step) - oy)
    last = min(rows - 1, math.floor(high / step) - oy)
    if first <= last:
        steps[column, first] += 1
        steps[column, last + 1] -= 1


@compiled
def _sweep_edges(
    steps: Steps, ox: int, oy: int, step: float, xs: NDArray[np.float64], ys: NDArray[np.float64]
) -> None:
    """Cover the closed parallelogram with corners ``xs``, ``ys`` (in order round it)."""
    first = max(0, math.ceil(xs.min() / step) - ox)
    last = min(steps.shape[0] - 1, math.floor(xs.max() / step) - ox)
    for column in range(first, last + 1):
        x = (column + ox) * step
        low, high = np.inf, -np.inf
        for k in range(4):
            ax, ay, bx, by = xs[k], ys[k], xs[(k + 1) % 4], ys[(k + 1) % 4]
            if not (min(ax, bx) <= x <= max(ax, bx)):
                continue
            if ax == bx:
                low, high = min(low, ay, by), max(high, ay, by)
            else:
                y = ay + (by - ay) * ((x - ax) / (bx - ax))
                low, high = min(low, y), max(high, y)
        if low <= high:
            _count_span(steps, column, low, high, oy, step)


@compiled
def _cover_inside(
    steps: Steps, ox: int, oy: int, step: float, rings: Edges, sign: float, tx: float, ty: float
) -> None:
    """Cover the points ``sign * P + t`` for all P inside the rings (even-odd)."""
    crossings = np.empty(rings.shape[0])
    for column in range(steps.shape[0]):
        x = (column + ox) * step
        count = 0
        for e in range(rings.shape[0]):
            ax, bx = sign * rings[e, 0] + tx, sign * rings[e, 2] + tx
            if (ax <= x) != (bx <= x):
                ay, by = sign * rings[e, 1] + ty, sign * rings[e, 3] + ty
                crossings[count] = ay + (by - ay) * ((x - ax) / (bx - ax))
                count += 1
        ordered = np.sort(crossings[:count])
        for k in range(0, count - 1, 2):
            _count_span(steps, column, ordered[k], ordered[k + 1], oy, step)


@compiled
def forbidden_shifts(
    standing: Edges, moving: Edges, ox: int, oy: int, columns: int, rows: int, step: float
) -> Bytes:
    """Mark the shifts of ``moving`` that make it meet ``standing``.

    Parameters
    ----------
    standing, moving
        Edges, shape (n, 4), mm. Each one connected polygon; several standing ones are marked one by one.
    ox, oy
        The first lattice shift of the window, in steps.
    columns, rows
        Size of the window.
    step
        Lattice step, mm.

    Returns
    -------
    Bytes
        Shape (columns, rows): 1 where shift ``((ox + i) * step, (oy + j) * step)`` is forbidden.
    """
    steps = np.zeros((columns, rows + 1), np.int32)
    xs, ys = np.empty(4), np.empty(4)
    for a in range(standing.shape[0]):
        for b in range(moving.shape[0]):
            for k in range(4):
                of_a, of_b = 2 * ((k == 1) | (k == 2)), 2 * (k >= 2)
                xs[k] = standing[a, of_a] - moving[b, of_b]
                ys[k] = standing[a, of_a + 1] - moving[b, of_b + 1]
            _sweep_edges(steps, ox, oy, step, xs, ys)
    _cover_inside(steps, ox, oy, step, standing, 1.0, -moving[0, 0], -moving[0, 1])
    _cover_inside(steps, ox, oy, step, moving, -1.0, standing[0, 0], standing[0, 1])
    marks = np.zeros((columns, rows), np.uint8)
    for i in range(columns):
        covers = 0
        for j in range(rows):
            covers += steps[i, j]
            if covers > 0:
                marks[i, j] = 1
    return marks


@compiled
def runs_of(marks: Bytes, ox: int, oy: int) -> NDArray[np.int16]:
    """The marked points of a map as vertical runs.

    Returns
    -------
    ndarray
        Shape (n, 3): column, first row, last row, in steps from the zero shift, columns ascending.
    """
    columns, rows = marks.shape
    most = 0
    for i in range(columns):
        for j in range(rows):
            if marks[i, j] and (j == 0 or not marks[i, j - 1]):
                most += 1
    runs = np.empty((most, 3), np.int16)
    count = 0
    for i in range(columns):
        for j in range(rows):
            if not marks[i, j]:
                continue
            if j == 0 or not marks[i, j - 1]:
                runs[count, 0], runs[count, 1] = ox + i, oy + j
                count += 1
            runs[count - 1, 2] = oy + j
    return runs
