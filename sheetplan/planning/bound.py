"""A proven least cost: no plan of these pieces on these supplies can be cheaper.

The relaxation says how many sheets of each supply are taken (whole numbers) and how the pieces
are shared among the supplies (fractions allowed). Whatever lies on the sheets of one supply has
to keep every inequality of `dual_feasible`; those that are broken are added until none is.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import highspy
import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel import Ints
from sheetplan.packing.kernel_sequence import blank_of, box_areas
from sheetplan.packing.linear import (
    INFINITY,
    add_column,
    add_row,
    column_values,
    new_model,
    objective,
    row_duals,
)
from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.dual_feasible import Floats, functions_of
from sheetplan.planning.progress import never

BROKEN = 1e-6
"""An inequality counts as broken by more than this share of a sheet."""

ROUNDS = 40
"""Most rounds of adding inequalities; in practice a dozen are enough."""

ROWS_PER_ROUND = 4
"""Inequalities added per supply and round, the most broken first."""

SQUARE_METRE = 1e18
"""In square nanometres; keeps the solver's numbers near 1."""

NODE_ROUNDS = 12
"""Rounds of adding inequalities at a node."""

SOLVE_LOOKS = 150_000
"""What solving the relaxation once counts as work."""

WHOLE = 1e-6
"""A number of sheets this near to a whole one is whole."""

CENTS = 100
"""Prices are counted in hundredths when a bound is rounded up to what a plan can cost."""

ODD_CENTS = 1e-6
"""A price further than this from whole hundredths is not rounded to them."""

SAFETY = 1e-7
"""Share taken off the bound for the tolerances of the solver."""


@dataclass(frozen=True, slots=True)
class Side:
    """One supply as the bound sees it: the types that it can hold and its functions along both sides.

    ``upright`` and ``across`` say which of the types may lie which way; ``along_x[0]`` has the
    functions of the types' lengths along x, ``along_x[1]`` those of their widths, and so on.
    """

    held: Ints
    upright: NDArray[np.bool_]
    across: NDArray[np.bool_]
    along_x: tuple[Floats, Floats]
    along_y: tuple[Floats, Floats]


def quick_bound(problem: BoxProblem, penalty: float) -> tuple[float, Floats]:
    """A steering cost that no plan of the must pieces can go below, and the prices of the pieces in it.

    Sheets are taken in fractions; ``penalty`` is what a square nanometre of pieces left out counts,
    as in the search.
    """
    relaxation = Relaxation(problem, penalty)
    bound = rounded_up(relaxation.tighten_fully(), cost_granule(problem.supplies.costs))
    return bound, np.maximum(row_duals(relaxation.model)[: len(problem.wanted)], 0.0)


def area_bound(problem: BoxProblem, areas: Floats) -> float:
    """The least cost of sheets whose free boxes have room for so much area a piece, whole sheets taken."""
    model = new_model()
    around = [box_around(blank_of(problem.supplies, s)) for s in range(len(problem.choices))]
    for s, (cost, limit) in enumerate(zip(problem.supplies.costs, problem.supplies.limits, strict=True)):
        add_column(model, float(cost), float(limit), (), ())
        model.changeColIntegrality(s, highspy.HighsVarType.kInteger)
    metal = [float(length) * float(width) / SQUARE_METRE for length, width in around]
    needed = float((problem.wanted * areas).sum()) / SQUARE_METRE * (1.0 - SAFETY)
    add_row(model, needed, INFINITY, range(len(metal)), metal)
    model.run()
    if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return 0.0
    bound = float(model.getInfo().mip_dual_bound) * (1.0 - SAFETY)
    return rounded_up(bound, cost_granule(problem.supplies.costs))


class Relaxation:
    """The model while it grows."""

    def __init__(self, problem: BoxProblem, penalty: float) -> None:
        self.problem = problem
        self.sides = [side_of(problem, s) for s in range(len(problem.choices))]
        self.areas = box_areas(problem.types)
        self.model = new_model()
        self.shares: dict[tuple[int, int], int] = {}
        self.values: Floats = np.empty(0)
        self.looks = 0
        self._add_columns(penalty)
        self._add_rows()

    def _add_columns(self, penalty: float) -> None:
        supplies = self.problem.supplies
        for cost, limit in zip(supplies.costs, supplies.limits, strict=True):
            add_column(self.model, float(cost), float(limit), (), ())
        for s, side in enumerate(self.sides):
            for t in side.held:
                self.shares[int(t), s] = len(supplies.costs) + len(self.shares)
                add_column(self.model, 0.0, float(self.problem.wanted[t]), (), ())
        for t, area in enumerate(self.areas):
            self.shares[t, -1] = len(supplies.costs) + len(self.shares)
            add_column(self.model, float(penalty * area), float(self.problem.wanted[t]), (), ())

    def _add_rows(self) -> None:
        for t, wanted in enumerate(self.problem.wanted):
            columns = [column for (u, _), column in self.shares.items() if u == t]
            add_row(self.model, float(wanted), float(wanted), columns, [1.0] * len(columns))
        for s, side in enumerate(self.sides):
            self._add_inequality(s, self.areas[side.held] / self.problem.supplies.areas[s])

    def _add_inequality(self, s: int, values: Floats) -> None:
        """The values of what lies on supply ``s`` come to at most its number of sheets."""
        counted = np.flatnonzero(values > 0.0)
        columns = [self.shares[int(t), s] for t in self.sides[s].held[counted]]
        add_row(self.model, -INFINITY, 0.0, [s, *columns], [-1.0, *values[counted]])

    def tighten(self, rounds: int) -> float:
        """Solve, adding broken inequalities until none is left or the rounds are used up.

        Returns the least cost under the sheet counts now allowed, infinite where there is none.
        """
        for _ in range(rounds):
            self.model.run()
            self.looks += SOLVE_LOOKS
            if self.model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                return np.inf
            self.values = column_values(self.model)
            if not self._tighten(self.values):
                break
        return objective(self.model) * (1.0 - SAFETY)

    def tighten_fully(self) -> float:
        """Add broken inequalities until hardly any is left."""
        return self.tighten(ROUNDS)

    def allow(self, low: Sequence[float], high: Sequence[float]) -> None:
        """Set between what numbers the sheets of each supply may lie."""
        for s, (least, most) in enumerate(zip(low, high, strict=True)):
            self.model.changeColBounds(s, float(least), float(most))

    def _tighten(self, values: Floats) -> bool:
        """Add the inequalities that an answer breaks most; False where it breaks none."""
        added = False
        for s, side in enumerate(self.sides):
            lying = np.array([values[self.shares[int(t), s]] for t in side.held], np.float64)
            if values[s] <= BROKEN and not lying.any():
                continue
            for row in broken_rows(side, lying, float(values[s])):
                self._add_inequality(s, row)
                added = True
        return added


@dataclass(frozen=True, slots=True, order=True)
class Node:
    """Sheet counts between limits: the least cost known for them, and whether that is met by whole counts."""

    cost: float
    number: int
    low: tuple[float, ...] = field(compare=False)
    high: tuple[float, ...] = field(compare=False)
    settled: bool = field(compare=False, default=False)


def whole_sheets(
    relaxation: Relaxation, known: float, looks: int, halt: Callable[[], bool] = never
) -> float:
    """A bound for whole sheets: branch on their counts, the cheapest node first.

    Ends when a node is settled, the allowance of looks is spent, it is halted, or the bound meets
    ``known``, the cost of a plan at hand; what has been proven by then holds.
    """
    supplies = relaxation.problem.supplies
    limits = tuple(float(limit) for limit in supplies.limits)
    heap = [Node(0.0, 0, (0.0,) * len(limits), limits)]
    end = relaxation.looks + looks
    made = 0
    while heap and relaxation.looks < end and not halt() and _is_open(heap[0], known):
        for child in children(relaxation, heapq.heappop(heap)):
            made += 1
            heapq.heappush(heap, replace(child, number=made))
    return heap[0].cost if heap else known


def _is_open(node: Node, known: float) -> bool:
    return not node.settled and node.cost < known * (1.0 - SAFETY)


def children(relaxation: Relaxation, node: Node) -> list[Node]:
    """What becomes of a node: nothing, itself settled, or two nodes that part its sheet counts."""
    relaxation.allow(node.low, node.high)
    granule = cost_granule(relaxation.problem.supplies.costs)
    cost = max(node.cost, rounded_up(relaxation.tighten(NODE_ROUNDS), granule))
    if cost == np.inf:
        return []
    sheets = relaxation.values[: len(node.low)]
    loose = np.abs(sheets - sheets.round())
    if loose.max() <= WHOLE:
        return [replace(node, cost=cost, settled=True)]
    s = int(np.argmax(loose))
    below, above = list(node.high), list(node.low)
    below[s], above[s] = math.floor(sheets[s]), math.ceil(sheets[s])
    return [replace(node, cost=cost, high=tuple(below)), replace(node, cost=cost, low=tuple(above))]


def cost_granule(costs: Floats) -> float:
    """The amount that every sum of these costs is a whole multiple of; 0 where there is none to speak of."""
    cents = np.round(costs * CENTS)
    if not len(costs) or np.abs(costs * CENTS - cents).max() > ODD_CENTS or not cents.any():
        return 0.0
    return math.gcd(*(int(c) for c in cents)) / CENTS


def rounded_up(cost: float, granule: float) -> float:
    """The least sum of costs that is not below ``cost``."""
    if not granule or not math.isfinite(cost):
        return cost
    return math.ceil(cost / granule - ODD_CENTS) * granule


def side_of(problem: BoxProblem, s: int) -> Side:
    """How the bound sees one supply: the box round its free metal."""
    length, width = box_around(blank_of(problem.supplies, s))
    lengths, widths, turnable = problem.types
    upright = (lengths <= length) & (widths <= width)
    across = turnable & (widths <= length) & (lengths <= width)
    held = np.flatnonzero(upright | across)
    pooled = np.concatenate((lengths[held], widths[held]))
    along_x, along_y = functions_of(pooled, length), functions_of(pooled, width)
    half = len(held)
    return Side(
        held,
        upright[held],
        across[held],
        (along_x[:, :half], along_x[:, half:]),
        (along_y[:, :half], along_y[:, half:]),
    )


def box_around(free: Ints) -> tuple[int, int]:
    """Length and width of the box round free rectangles."""
    far = (free[:, :2] + free[:, 2:]).max(axis=0) - free[:, :2].min(axis=0)
    return int(far[0]), int(far[1])


def values_of(side: Side, first: Ints, second: Ints) -> Floats:
    """Values of the held types under pairs of functions, shape (pairs, types): the better way of lying."""
    upright = side.along_x[0][first] * side.along_y[1][second]
    across = side.along_x[1][first] * side.along_y[0][second]
    upright = np.where(side.upright, upright, np.inf)
    across = np.where(side.across, across, np.inf)
    return np.minimum(upright, across)


def broken_rows(side: Side, lying: Floats, sheets: float) -> list[Floats]:
    """The most broken inequalities for pieces lying on so many sheets."""
    here = np.flatnonzero(lying > 0.0)
    if not len(here):
        return []
    functions = len(side.along_x[0]), len(side.along_y[0])
    totals = np.zeros(functions)
    for t in here:
        upright = np.outer(side.along_x[0][:, t], side.along_y[1][:, t]) if side.upright[t] else np.inf
        across = np.outer(side.along_x[1][:, t], side.along_y[0][:, t]) if side.across[t] else np.inf
        totals += lying[t] * np.minimum(upright, across)
    worst = np.argsort(-totals, axis=None, kind="stable")[:ROWS_PER_ROUND]
    worst = worst[totals.flat[worst] > sheets + BROKEN * max(1.0, sheets)]
    first, second = np.unravel_index(worst, functions)
    return list(values_of(side, first, second))
