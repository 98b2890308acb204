"""Combinations of sheets that cannot hold an order, and the cheapest that cannot be ruled out.

A *combination* says how many sheets of each supply are taken. Between the bound of a relaxation and a plan
lie few of them. Each is tried in order of what it costs at least, cheap arguments first: its area, the
linear one of `relaxation` with the sheets fixed, and whole pieces on every sheet for itself, where sets
of pieces that fit on no sheet are found one after the other by exhaustive search and ruled out on every
sheet alike (combinatorial Benders cuts: Côté, Haouari and Iori, "Combinatorial Benders decomposition for
the two-dimensional bin packing problem", INFORMS Journal on Computing 33, 2021). No plan is cheaper than
the first combination that stays.

A combination that is impossible makes every smaller one impossible too, so one test of a large one saves
many; and whoever takes more sheets than a combination pays more, so nothing beyond it need be tried.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator

import highspy
import numpy as np

from sheetplan.packing.exact_fit import FITS_NOT, UNKNOWN
from sheetplan.packing.linear import INFINITY, add_column, add_row, column_values, new_model
from sheetplan.packing.maxrects import Ints
from sheetplan.planning.bounds.conflicts import with_conflicts
from sheetplan.planning.bounds.inequalities import Floats, Row
from sheetplan.planning.bounds.model import TRIAL_LOOKS, BoundModel, fit_of, shapes_model
from sheetplan.planning.bounds.relaxation import (
    SAFETY,
    SOLVE_LOOKS,
    Relaxation,
    granule_of,
    rounded_up,
    sheets_at_most,
)
from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.progress import Stop, never
from sheetplan.planning.solution import missing_penalty

TRIALS, MOST_BOXES = 300_000, 14
"""Places tried to find out whether some pieces fit on one sheet, and pieces up to which it is asked."""

MOST_SHEETS, MOST_PIECES = 12, 60
"""Sheets and pieces up to which whole pieces on every sheet for itself are looked at."""

NODES, NODE_LOOKS = 3_000, 60_000
"""Nodes spent on one question of whole pieces, and what each counts as work."""

QUESTIONS = 60
"""Times that whole pieces are asked for with more sets of pieces ruled out."""

MOST_STEPS = 200_000
"""Steps of the walk through combinations, whole or undecided."""

ROUNDS = 12
"""Rounds of adding inequalities to a relaxation with the sheets fixed."""


class Combinations:
    """What is known of the combinations of one gauge; it learns from each that is asked about."""

    def __init__(self, known: BoundModel) -> None:
        self.known = known
        self.problem = known.problem
        self.relaxation = Relaxation(self.problem, missing_penalty(self.problem), known)
        self.relaxation.leave_nothing_out()
        self.impossible: list[Ints] = []
        self.no_goods = [(m, np.bincount([t, u], minlength=len(known.ways))) for m, t, u in known.pairs]
        self.rows: list[tuple[int, Row]] = []
        self._fitting: set[tuple[int, bytes]] = set()
        self._looks = 0
        metals = [known.metals[m] for m in known.of_supply]
        self._areas = np.array([metal.area for metal in metals])
        self._wholes = np.array([metal.whole for metal in metals])
        self._needed = float((self.problem.wanted * known.areas).sum())
        costs, rates = self.problem.supplies.costs, self.problem.kept_rates
        # What goes back is what pieces leave of the sheets, so they are charged at the least of the rates.
        self._net = costs - rates * self._wholes
        self._given = float(rates.min(initial=np.inf)) * self._needed if len(rates) else 0.0
        self._ends = np.stack((costs, costs - rates * self._wholes), axis=1)
        self._measures = [(self._needed, self._areas), self._priced()]
        self.order, self.ahead = self._walk()
        self._cheapest = [
            [_least_rate(self._net[later], sizes[later]) for _, sizes in self._measures]
            for depth in range(len(self.order))
            if (later := self.order[depth:])
        ]

    @property
    def can_be_listed(self) -> bool:
        """Whether a sheet more never pays for itself, so that there is an end to what is cheap."""
        return bool((self._net >= 0.0).all())

    @property
    def looks(self) -> int:
        """Work spent so far."""
        return self.relaxation.looks + self._looks

    def cost_of(self, counts: Ints) -> float:
        """What plans on a combination cost at least by area alone."""
        costs = float((self.problem.supplies.costs * counts).sum())
        rates = self.problem.kept_rates
        if not (rates > 0.0).any():
            return costs
        return costs - self._credit(counts)

    def _credit(self, counts: Ints) -> float:
        """The most that can be paid for what goes back: what pieces leave, at the best rates first."""
        rates = self.problem.kept_rates
        left = float((self._wholes * counts).sum()) - self._needed
        paid = 0.0
        for s in np.argsort(-rates, kind="stable"):
            side = self.relaxation.sides[self.known.of_supply[s]]
            here = min(max(0.0, left), float(counts[s]) * side.most_kept * float(self._wholes[s]))
            paid += here * float(rates[s])
            left -= here
        return paid

    def least_cost(self, counts: Ints) -> float:
        """What plans on exactly these sheets cost at least; infinite where they are shown impossible."""
        if self.lacks_metal(counts):
            return np.inf
        by_metal = np.bincount(self.known.of_supply, counts, len(self.known.metals)).astype(np.int64)
        if any((by_metal <= other).all() for other in self.impossible):
            return np.inf
        self.relaxation.allow(counts.tolist(), counts.tolist())
        cost = rounded_up(self.relaxation.tighten(ROUNDS), granule_of(self.problem))
        if cost == np.inf or self.whole_pieces_are_impossible(counts):
            self.impossible.append(by_metal)
            return np.inf
        return max(cost, self.cost_of(counts))

    def lacks_metal(self, counts: Ints) -> bool:
        """Whether the pieces have more area than the metal, or are worth more than sheets can hold."""
        return any(
            float((counts * sizes).sum()) < needed * (1.0 - SAFETY) for needed, sizes in self._measures
        )

    def _walk(self) -> tuple[list[int], list[int | None]]:
        """The order in which supplies are decided, dear metal first, and which one each has to wait for."""
        order = np.argsort(-self._net / np.maximum(self._areas, 1.0), kind="stable").tolist()
        ahead: list[int | None] = [None] * len(order)
        for s in order:
            cheaper = [other for other in order if other != s and self._is_cheaper(other, s)]
            if cheaper:
                ahead[s] = max(cheaper, key=lambda other: (float(self._ends[other].sum()), other))
        first = [s for s in order if ahead[s] is None]
        while len(first) < len(order):
            first += [s for s in order if s not in first and ahead[s] in first]
        return first, ahead

    def _is_cheaper(self, s: int, other: int) -> bool:
        """Whether a sheet of one supply costs less than an equal sheet of another, whatever goes back."""
        if self.known.of_supply[s] != self.known.of_supply[other]:
            return False
        mine, theirs = self._ends[s], self._ends[other]
        return bool((mine <= theirs).all()) and (bool((mine < theirs).any()) or s < other)

    def _priced(self) -> tuple[float, Floats]:
        """What all pieces are worth under the prices of the relaxation, and what a sheet holds at most."""
        self.relaxation.tighten_fully()
        prices, worths = self.relaxation.prices()
        return float((self.problem.wanted * prices).sum()), worths[list(self.known.of_supply)]

    def at_least(self, counts: Ints, depth: int) -> float:
        """What plans cost at least on these sheets and on any of the supplies that are decided later."""
        if depth == len(counts):
            return np.inf if self.lacks_metal(counts) else self.cost_of(counts)
        spent = float((counts * self._net).sum()) + self._given
        lacks = [max(0.0, needed - float((counts * sizes).sum())) for needed, sizes in self._measures]
        return spent + max(lack * rate for lack, rate in zip(lacks, self._cheapest[depth], strict=True))

    def whole_pieces_are_impossible(self, counts: Ints) -> bool:
        """Whether no way of sharing whole pieces among these sheets keeps all that is known of one sheet."""
        sheets, pieces = int(counts.sum()), int(self.problem.wanted.sum())
        if not 0 < sheets <= MOST_SHEETS or pieces > MOST_PIECES:
            return False
        sharing = _Sharing(self, counts)
        for _ in range(QUESTIONS):
            answer = sharing.solved()
            self._looks += SOLVE_LOOKS + NODE_LOOKS * sharing.nodes
            if answer is None:
                return sharing.is_impossible
            if not sharing.learn(answer):
                return False
        return False

    def fits_not(self, metal: int, pieces: Ints) -> bool:
        """Whether a set of pieces, counted by type, is known to fit on no sheet of a metal."""
        if any(m == metal and (pieces >= other).all() for m, other in self.no_goods):
            return True
        key = metal, pieces.tobytes()
        if not 1 < pieces.sum() <= MOST_BOXES or key in self._fitting:
            return False
        held = np.repeat(np.arange(len(pieces)), pieces)
        answer = fit_of(self.known, self.known.metals[metal], held, TRIALS)
        self._looks += TRIALS * TRIAL_LOOKS if answer == UNKNOWN else SOLVE_LOOKS // 4
        if answer == FITS_NOT:
            return True
        self._fitting.add(key)
        return False

    def smallest(self, metal: int, pieces: Ints) -> Ints:
        """Fewer of some pieces that still fit on no sheet, as far as that can be shown."""
        left = pieces.copy()
        for t in np.flatnonzero(pieces):
            while left[t]:
                left[t] -= 1
                if not self.fits_not(metal, left):
                    left[t] += 1
                    break
        return left


def _least_rate(costs: Floats, sizes: Floats) -> float:
    """What a unit of metal costs at least on any of some supplies."""
    return float((costs / np.maximum(sizes, 1e-300)).min())


class _Sharing:
    """Whole pieces on the sheets of one combination, one by one: a model that only has to be feasible.

    Column ``sheet * types + type`` is how many of a type lie on a sheet.
    """

    def __init__(self, known: Combinations, counts: Ints) -> None:
        self.known = known
        self.types = len(known.problem.wanted)
        self.metals = [known.known.of_supply[s] for s in np.repeat(np.arange(len(counts)), counts)]
        self.model = new_model()
        self.model.setOptionValue("mip_max_nodes", NODES)
        self.nodes = 0
        self.is_impossible = False
        wanted = known.problem.wanted
        for metal in self.metals:
            held = set(known.relaxation.sides[metal].held.tolist())
            for t in range(self.types):
                self._add_whole_column(float(wanted[t]) if t in held else 0.0)
        for t in range(self.types):
            columns = range(t, self.types * len(self.metals), self.types)
            add_row(self.model, float(wanted[t]), float(wanted[t]), columns, [1.0] * len(self.metals))
        for sheet, metal in enumerate(self.metals):
            learned = [row for m, row in known.rows if m == metal]
            for row in (*known.relaxation.sides[metal].first_rows(pays=False), *learned):
                self._add(sheet, row)
        self._same_sheets_in_order()
        for metal, pieces in known.no_goods:
            self._forbid(metal, pieces)

    def _same_sheets_in_order(self) -> None:
        """Of two equal sheets the first holds no fewer pieces of the largest type: each sharing once."""
        largest = int(np.argmax(self.known.known.areas * (self.known.problem.wanted > 0)))
        for sheet in range(1, len(self.metals)):
            if self.metals[sheet] == self.metals[sheet - 1]:
                before, here = ((s * self.types) + largest for s in (sheet - 1, sheet))
                add_row(self.model, 0.0, INFINITY, [before, here], [1.0, -1.0])

    def _add_whole_column(self, most: float) -> int:
        add_column(self.model, 0.0, most, (), ())
        number = int(self.model.getNumCol()) - 1
        self.model.changeColIntegrality(number, highspy.HighsVarType.kInteger)
        return number

    def _add(self, sheet: int, row: Row) -> None:
        side = self.known.relaxation.sides[self.metals[sheet]]
        counted = np.flatnonzero(row.values > 0.0)
        columns = (sheet * self.types + side.held[counted]).tolist()
        add_row(self.model, -INFINITY, 1.0 + SAFETY, columns, row.values[counted].tolist())

    def solved(self) -> Ints | None:
        """A sharing that keeps what is known, shape (sheets, types); None where none is found."""
        self.model.run()
        self.nodes = max(0, int(self.model.getInfo().mip_node_count))
        status = self.model.getModelStatus()
        self.is_impossible = status == highspy.HighsModelStatus.kInfeasible
        if status != highspy.HighsModelStatus.kOptimal:
            return None
        values = column_values(self.model)[: self.types * len(self.metals)]
        return np.rint(values).astype(np.int64).reshape(len(self.metals), self.types)

    def learn(self, sharing: Ints) -> bool:
        """Rule out what cannot lie on its sheet; False where nothing is known against a sharing."""
        learned = False
        for sheet, metal in enumerate(self.metals):
            pieces = sharing[sheet]
            side = self.known.relaxation.sides[metal]
            rows = side.broken_rows(pieces[side.held].astype(np.float64), 1.0, 0.0)
            for row in rows:
                self.known.rows.append((metal, row))
                for other, its_metal in enumerate(self.metals):
                    if its_metal == metal:
                        self._add(other, row)
            if not rows and self.known.fits_not(metal, pieces):
                small = self.known.smallest(metal, pieces)
                self.known.no_goods.append((metal, small))
                self._forbid(metal, small)
                rows = [Row(np.empty(0))]
            learned = learned or bool(rows)
        return learned

    def _forbid(self, metal: int, pieces: Ints) -> None:
        """Rule out so many or more of each of these types together on every sheet of a metal."""
        counted = np.flatnonzero(pieces)
        for sheet, its_metal in enumerate(self.metals):
            if its_metal != metal:
                continue
            flags = []
            for t in counted:
                flag = self._add_whole_column(1.0)
                flags.append(flag)
                reach = float(self.known.problem.wanted[t] - pieces[t] + 1)
                column = sheet * self.types + int(t)
                add_row(self.model, -INFINITY, float(pieces[t] - 1), [column, flag], [1.0, -reach])
            add_row(self.model, -INFINITY, float(len(counted) - 1), flags, [1.0] * len(flags))


def cheapest_possible(
    problem: BoxProblem, known_cost: float, looks: int, *, proven: float = 0.0,
    learned: Combinations | None = None, halt: Stop = never,
) -> tuple[float, int]:  # fmt: skip
    """What every plan costs at least by the combinations that stay, and the work that it took.

    Parameters
    ----------
    problem
        The gauge.
    known_cost
        Steering cost of a plan at hand; nothing dearer is looked at.
    looks
        An allowance of work; what is proven when it is spent is given back.
    proven
        A bound that holds already.
    learned
        What earlier questions about the same gauge came to.
    halt
        Asked between combinations; True ends the walk.
    """
    learned = learned or Combinations(with_conflicts(shapes_model(problem)))
    begun = learned.looks
    if not learned.can_be_listed:
        return proven, 0
    # Where nothing is paid back, a combination that costs less than is proven is impossible.
    pays = learned.known.has_credits
    best, reached = known_cost, 0.0
    for step, (cost, counts) in enumerate(in_order_of_cost(learned, known_cost)):
        reached = cost
        if reached >= best * (1.0 - SAFETY) or step > MOST_STEPS or learned.looks - begun >= looks or halt():
            break
        if counts is not None and (cost >= proven * (1.0 - SAFETY) or pays):
            best = min(best, max(proven, learned.least_cost(counts)))
    else:
        reached = best
    return min(known_cost, max(proven, min(best, reached))), learned.looks - begun


def in_order_of_cost(learned: Combinations, below: float) -> Iterator[tuple[float, Ints | None]]:
    """Combinations with metal enough in order of what they cost at least, up to a cost.

    A best-first walk (A*): supplies are decided one after the other, and what is still without metal is
    counted at the cheapest rate of the supplies to come, by area and by the prices of the relaxation. What
    is undecided yet comes as None with its cost. A supply is taken only once another of equal metal that is
    cheaper, whatever goes back, is used up.
    """
    order, ahead = learned.order, learned.ahead
    limits = sheets_at_most(learned.problem).astype(np.int64)
    start = np.zeros(len(limits), np.int64)
    heap = [(learned.at_least(start, 0), 0, 0, start)]
    number = 0
    while heap:
        cost, _, depth, counts = heapq.heappop(heap)
        if cost >= below:
            return
        if depth == len(order):
            yield cost, counts
            continue
        yield cost, None
        s = order[depth]
        spent = ahead[s] is None or counts[ahead[s]] == limits[ahead[s]]
        # The same number of this supply with the next decided, and one more of this supply.
        steps = [(depth + 1, counts)]
        if counts[s] < limits[s] and spent:
            more = counts.copy()
            more[s] += 1
            steps.append((depth, more))
        for deeper, there in steps:
            least = learned.at_least(there, deeper)
            if least < below:
                number += 1
                heapq.heappush(heap, (least, number, deeper, there))
