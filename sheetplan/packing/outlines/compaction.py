"""Pushing parts together by linear programming, off the lattice and to the micrometre.

The shortest layout that keeps all held directions is a linear programme. Its answer keeps every
gap, whatever the parts' starting positions were; from there other directions may serve better, so
the step is repeated until little more is won.

Source: Li and Milenkovic 1995 (EJOR 84); in strip packing Gomes and Oliveira 2006 (EJOR 171).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np
import shapely

from sheetplan.packing.linear import new_model
from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.directions import Convexes, Floats, convexes_of, held_directions, joined

SOLVER_SLACK_MM = 1e-5
"""What the solver may leave a row short by, with room to spare: a hundredth of `SAME_LENGTH_MM`."""

GAINED_ENOUGH = 2e-4
"""A step that shortens the layout by a smaller share is the last."""

MOST_STEPS = 12

ROW_WORK, PART_WORK = 20_000, 100_000
"""What a held direction and a part of a programme count as, in cells of maps read: measured on the bench."""

PULL = 1e-3
"""Weight of the mean of all x against the length: parts lean to the datum end where it costs nothing."""


@dataclass(frozen=True, slots=True)
class Pressed:
    """Positions of the parts' references in mm, shape (n, 2), and the length that they use."""

    at: Floats
    length: float


class Press:
    """Presses layouts of some poses together, clear of obstacles that stay.

    Parameters
    ----------
    convexes, boxes, gap
        The convex pieces and the box of each pose, and the gap between parts, mm.
    width
        The parts lie between y = 0 and this, and right of x = 0.
    obstacles
        Solids that parts keep clear of, and by how much.
    """

    def __init__(
        self,
        convexes: Convexes,
        boxes: Floats,
        gap: float,
        width: float,
        obstacles: Sequence[tuple[shapely.Polygon, float]] = (),
    ) -> None:
        poses = len(boxes)
        self._convexes = (
            joined(convexes, convexes_of([solid for solid, _ in obstacles])) if obstacles else convexes
        )
        self._boxes = boxes
        self._gap = gap
        self._width = width
        self._fixed = np.arange(poses, poses + len(obstacles))
        self._fixed_gaps = np.array([clearance for _, clearance in obstacles], np.float64)
        self._rows = np.empty((4096, 5))
        self.work = 0
        """Work done so far, in cells of maps read."""

    def press(self, pose: Ints, at: Floats, reach: float, good: float, enough: float = 0.0) -> Pressed | None:
        """Press a layout, which may overlap a little.

        Parameters
        ----------
        pose, at
            The pose of each part and where its reference lies, mm.
        reach
            How far a part may move in one step, along each axis.
        good
            A first step that ends longer than this is not followed by others.
        enough
            A step that ends no longer than this is the last.

        Returns
        -------
        Pressed or None
            A layout that keeps all gaps, or None where the parts cannot be moved apart within reach.
        """
        best: Pressed | None = None
        for _ in range(MOST_STEPS):
            found = self._step(pose, at, reach)
            if found is None or (best is not None and found.length > best.length):
                break
            gained = best is None or found.length < best.length * (1.0 - GAINED_ENOUGH)
            best, at = found, found.at
            if not gained or found.length > good or found.length <= enough:
                break
        return best

    def shortfall(self, pose: Ints, at: Floats) -> float:
        """By how much the worst pair misses its gap, mm; 0 where every gap is kept."""
        _, worst = self._held(pose, at, 0.0)
        return max(0.0, -worst)

    def _held(self, pose: Ints, at: Floats, reach: float) -> tuple[Floats, float]:
        """Rows of held directions, and the least of clearance minus gap."""
        solid = np.concatenate((pose, self._fixed)).astype(np.int64)
        where = np.concatenate((at, np.zeros((len(self._fixed), 2))))
        gaps = np.concatenate((np.full(len(pose), self._gap), self._fixed_gaps))
        told = (self._convexes, solid, where, gaps, len(pose), reach)
        count, worst = held_directions(*told, self._rows)
        if count > len(self._rows):
            self._rows = np.empty((2 * count, 5))
            count, worst = held_directions(*told, self._rows)
        return self._rows[:count], worst

    def _step(self, pose: Ints, at: Floats, reach: float) -> Pressed | None:
        rows, _ = self._held(pose, at, reach)
        self.work += ROW_WORK * len(rows) + PART_WORK * len(pose)
        model = self._programme(pose, at, reach, rows)
        solver = new_model()
        solver.passModel(model)
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        values = np.array(solver.getSolution().col_value)
        moved = values[:-1].reshape(-1, 2)
        if self.shortfall(pose, moved) > SOLVER_SLACK_MM:
            return None
        return Pressed(moved, float((moved[:, 0] + self._boxes[pose, 2]).max()))

    def _programme(self, pose: Ints, at: Floats, reach: float, rows: Floats) -> highspy.HighsLp:
        """Least length subject to the held directions; columns x0, y0, x1, y1, ... and the length."""
        parts, held = len(pose), len(rows)
        boxes = self._boxes[pose]
        low, high = at - reach, at + reach
        low = np.maximum(low, -boxes[:, :2])
        high[:, 1] = np.minimum(high[:, 1], self._width - boxes[:, 3])
        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = 2 * parts + 1, held + parts
        cost = np.zeros(2 * parts + 1)
        cost[0:-1:2] = PULL / parts
        cost[-1] = 1.0
        model.col_cost_ = cost
        model.col_lower_ = np.append(np.minimum(low, np.maximum(low, high)).ravel(), 0.0)
        model.col_upper_ = np.append(np.maximum(low, high).ravel(), highspy.kHighsInf)
        starts, columns, values, least = _matrix(parts, rows, boxes[:, 2])
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_, model.a_matrix_.index_, model.a_matrix_.value_ = starts, columns, values
        model.row_lower_ = least
        model.row_upper_ = np.full(held + parts, highspy.kHighsInf)
        return model


def _matrix(parts: int, rows: Floats, rights: Floats) -> tuple[Ints, Ints, Floats, Floats]:
    """Rows of the programme: held directions, then the length beyond every part.

    Fixed parts have no column: they stay at the zero position.
    """
    first, second = rows[:, 0].astype(np.int64), rows[:, 1].astype(np.int64)
    columns = np.column_stack((2 * first, 2 * first + 1, 2 * second, 2 * second + 1))
    values = np.column_stack((-rows[:, 2], -rows[:, 3], rows[:, 2], rows[:, 3]))
    moving = columns < 2 * parts
    numbers = np.arange(parts)
    ends = np.column_stack((np.full(parts, 2 * parts), 2 * numbers))
    counts = np.concatenate((moving.sum(axis=1), np.full(parts, 2)))
    return (
        np.concatenate(([0], np.cumsum(counts))).astype(np.int32),
        np.concatenate((columns[moving], ends.ravel())).astype(np.int32),
        np.concatenate((values[moving], np.tile((1.0, -1.0), parts))),
        np.concatenate((rows[:, 4], rights)),
    )
