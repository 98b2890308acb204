"""A proven least cost: no plan of these pieces on these supplies can be cheaper.

The relaxation says how many sheets of each supply are taken (whole numbers) and how the pieces
are shared among the blanks (fractions allowed). Whatever lies on the sheets of one blank has to keep
every inequality of `inequalities`; those that are broken are added until none is. What goes back to the
rack is a rectangle that lies on the sheet beside the pieces: it keeps the same inequalities, and its
largest size by them is what a plan is paid for at most.

What holds of which layouts is said in `model`: bounds are for boxes unless a model of shapes is given.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import highspy
import numpy as np

from sheetplan.packing.linear import (
    INFINITY,
    add_column,
    add_row,
    column_values,
    new_model,
    objective,
    row_duals,
)
from sheetplan.planning.bounds.inequalities import Floats, Row, side_of
from sheetplan.planning.bounds.model import BoundModel, boxes_model, true_metals
from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.progress import never

ROUNDS = 40
"""Most rounds of adding inequalities; in practice a dozen are enough."""

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


def quick_bound(problem: BoxProblem, penalty: float) -> tuple[float, Floats]:
    """A steering cost that no box plan of the must pieces can go below, and the prices of the pieces in it.

    Sheets are taken in fractions; ``penalty`` is what a square nanometre of pieces left out counts,
    as in the search.
    """
    relaxation = Relaxation(problem, penalty)
    bound = max(0.0, rounded_up(relaxation.tighten_fully(), granule_of(problem)))
    return bound, np.maximum(row_duals(relaxation.model)[: len(problem.wanted)], 0.0)


def area_bound(problem: BoxProblem, areas: Floats) -> float:
    """The least cost of whole sheets whose metal has room for so much area a piece.

    ``areas`` (nm2) are either those of the pieces grown by half the gap or those of their boxes grown by
    the gap. They lie apart on the metal, and so do they and what goes back to the rack on the sheet.
    """
    metals = true_metals(problem)
    rates = problem.kept_rates
    model = new_model()
    for s, (cost, limit) in enumerate(zip(problem.supplies.costs, sheets_at_most(problem), strict=True)):
        add_column(model, float(cost), float(limit), (), ())
        model.changeColIntegrality(s, highspy.HighsVarType.kInteger)
    paid = np.flatnonzero(rates > 0.0).tolist()
    wholes = np.array([metal.whole for metal in metals]) / SQUARE_METRE
    for s in paid:
        add_column(model, -float(rates[s]) * SQUARE_METRE, INFINITY, (), ())
    first = len(problem.choices)
    room = [metal.area / SQUARE_METRE for metal in metals]
    needed = float((problem.wanted * areas).sum()) / SQUARE_METRE * (1.0 - SAFETY)
    add_row(model, needed, INFINITY, range(first), room)
    if paid:
        kept = range(first, first + len(paid))
        add_row(model, needed, INFINITY, [*range(first), *kept], [*wholes, *[-1.0] * len(paid)])
        for s, column in zip(paid, kept, strict=True):
            add_row(model, -INFINITY, 0.0, [s, column], [-float(wholes[s]), 1.0])
    model.run()
    if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return 0.0
    bound = float(model.getInfo().mip_dual_bound)
    return rounded_up(bound - SAFETY * abs(bound), granule_of(problem))


def sheets_at_most(problem: BoxProblem) -> Floats:
    """Sheets of each supply that a plan can use: no more than there are, nor than there are pieces."""
    return np.minimum(problem.supplies.limits, max(1, int(problem.wanted.sum()))).astype(np.float64)


class Relaxation:
    """The linear model while it grows.

    Columns: sheets of each supply, pieces of each type on each metal, pieces left out, and what goes
    back to the rack of each supply that pays for it, as a share of the sheet.
    """

    def __init__(self, problem: BoxProblem, penalty: float, known: BoundModel | None = None) -> None:
        self.problem = problem
        self.known = known or boxes_model(problem)
        self.sides = [side_of(self.known, m) for m in range(len(self.known.metals))]
        self.areas = self.known.areas
        self.model = new_model()
        self.shares: dict[tuple[int, int], int] = {}
        self.kept: dict[int, int] = {}
        self.rows: list[tuple[int, Row]] = []
        self.places: list[int] = []
        self.values: Floats = np.empty(0)
        self.looks = 0
        self._add_columns(penalty)
        self._add_rows()

    def _add_columns(self, penalty: float) -> None:
        supplies = self.problem.supplies
        count = len(supplies.costs)
        for cost, limit in zip(supplies.costs, sheets_at_most(self.problem), strict=True):
            add_column(self.model, float(cost), float(limit), (), ())
        for m, side in enumerate(self.sides):
            for t in side.held:
                self.shares[int(t), m] = count + len(self.shares)
                add_column(self.model, 0.0, float(self.problem.wanted[t]), (), ())
        for t, area in enumerate(self.areas):
            self.shares[t, -1] = count + len(self.shares)
            add_column(self.model, float(penalty * area), float(self.problem.wanted[t]), (), ())
        for s, rate in enumerate(self.problem.kept_rates):
            if rate > 0.0:
                whole = self.known.metals[self.known.of_supply[s]].whole
                self.kept[s] = count + len(self.shares) + len(self.kept)
                add_column(self.model, -float(rate) * whole, INFINITY, (), ())

    def _add_rows(self) -> None:
        of_type: list[list[int]] = [[] for _ in self.problem.wanted]
        for (t, _), column in self.shares.items():
            of_type[t].append(column)
        for wanted, columns in zip(self.problem.wanted, of_type, strict=True):
            add_row(self.model, float(wanted), float(wanted), columns, [1.0] * len(columns))
        for m, side in enumerate(self.sides):
            for row in side.first_rows(pays=bool(self.kept)):
                self._add_inequality(m, row)
        for s, column in self.kept.items():
            most = self.sides[self.known.of_supply[s]].most_kept
            add_row(self.model, -INFINITY, 0.0, [s, column], [-most, 1.0])

    def _add_inequality(self, m: int, row: Row) -> None:
        """What lies on one metal, what goes back of it counted, comes to at most its number of sheets."""
        self.rows.append((m, row))
        self.places.append(int(self.model.getNumRow()))
        counted = np.flatnonzero(row.values > 0.0)
        sheets = self.known.supplies_of(m)
        columns = [self.shares[int(t), m] for t in self.sides[m].held[counted]]
        kept = [self.kept[s] for s in sheets if s in self.kept] if row.kept > 0.0 else []
        values = [*[-1.0] * len(sheets), *row.values[counted], *[row.kept] * len(kept)]
        add_row(self.model, -INFINITY, 0.0, [*sheets, *columns, *kept], values)

    def tighten(self, rounds: int) -> float:
        """Solve, adding broken inequalities until none is left or the rounds are used up.

        Returns the least cost under the sheet counts now allowed, infinite where there is none; should the
        solver give up, minus infinity, which proves nothing.
        """
        for _ in range(rounds):
            self.model.run()
            self.looks += SOLVE_LOOKS
            status = self.model.getModelStatus()
            if status != highspy.HighsModelStatus.kOptimal:
                return np.inf if status == highspy.HighsModelStatus.kInfeasible else -np.inf
            self.values = column_values(self.model)
            if not self._tighten(self.values):
                break
        least = objective(self.model)
        return least - SAFETY * abs(least)

    def tighten_fully(self) -> float:
        """Add broken inequalities until hardly any is left."""
        return self.tighten(ROUNDS)

    def allow(self, low: Sequence[float], high: Sequence[float]) -> None:
        """Set between what numbers the sheets of each supply may lie."""
        for s, (least, most) in enumerate(zip(low, high, strict=True)):
            self.model.changeColBounds(s, float(least), float(most))

    def leave_nothing_out(self) -> None:
        """Have all pieces lie on the sheets, so that too few sheets leave no answer."""
        for t in range(len(self.areas)):
            self.model.changeColBounds(self.shares[t, -1], 0.0, 0.0)

    def prices(self) -> tuple[Floats, Floats]:
        """Prices of the pieces in the last answer, and what a sheet of each metal holds at most under them.

        With the multipliers of the inequalities taken as they come out, a piece is priced by what they
        count it at on the metal where that is least; so no sheet holds pieces worth more than the sum of
        the multipliers of its metal, whatever the solver's tolerances.
        """
        duals = np.maximum(0.0, -row_duals(self.model)[self.places])
        worths = np.zeros(len(self.sides))
        values = np.zeros((len(self.sides), len(self.areas)))
        for dual, (m, row) in zip(duals, self.rows, strict=True):
            worths[m] += dual
            values[m, self.sides[m].held] += dual * row.values
        for m, side in enumerate(self.sides):
            values[m, np.setdiff1d(np.arange(len(self.areas)), side.held)] = np.inf
        prices = values.min(axis=0, initial=np.inf)
        return np.where(np.isfinite(prices), prices, 0.0), worths

    def _tighten(self, values: Floats) -> bool:
        """Add the inequalities that an answer breaks most; False where it breaks none."""
        added = False
        for m, side in enumerate(self.sides):
            lying = np.array([values[self.shares[int(t), m]] for t in side.held], np.float64)
            sheets = self.known.supplies_of(m)
            kept = float(sum(values[self.kept[s]] for s in sheets if s in self.kept))
            for row in side.broken_rows(lying, float(values[sheets].sum()), kept):
                self._add_inequality(m, row)
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
    limits = tuple(sheets_at_most(relaxation.problem).tolist())
    heap = [Node(-np.inf if relaxation.kept else 0.0, 0, (0.0,) * len(limits), limits)]
    end = relaxation.looks + looks
    made = 0
    while heap and relaxation.looks < end and not halt() and _is_open(heap[0], known):
        for child in children(relaxation, heapq.heappop(heap)):
            made += 1
            heapq.heappush(heap, replace(child, number=made))
    return max(0.0, heap[0].cost) if heap else known


def _is_open(node: Node, known: float) -> bool:
    return not node.settled and node.cost < known * (1.0 - SAFETY)


def children(relaxation: Relaxation, node: Node) -> list[Node]:
    """What becomes of a node: nothing, itself settled, or two nodes that part its sheet counts."""
    relaxation.allow(node.low, node.high)
    granule = granule_of(relaxation.problem)
    least = relaxation.tighten(NODE_ROUNDS)
    cost = max(node.cost, rounded_up(least, granule))
    if cost == np.inf:
        return []
    if least == -np.inf:
        return [replace(node, settled=True)]
    sheets = relaxation.values[: len(node.low)]
    loose = np.abs(sheets - sheets.round())
    if loose.max() <= WHOLE:
        return [replace(node, cost=cost, settled=True)]
    s = int(np.argmax(loose))
    below, above = list(node.high), list(node.low)
    below[s], above[s] = math.floor(sheets[s]), math.ceil(sheets[s])
    return [replace(node, cost=cost, high=tuple(below)), replace(node, cost=cost, low=tuple(above))]


def granule_of(problem: BoxProblem) -> float:
    """What every plan's cost is a whole multiple of; 0 where that is not so, as where remnants are paid."""
    return 0.0 if (problem.kept_rates > 0.0).any() else cost_granule(problem.supplies.costs)


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
