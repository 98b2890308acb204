"""A closer bound for small orders: sheets are taken as whole layouts, of which only the contents are relaxed.

Prices of the pieces are a bound by themselves as soon as no sheet can hold pieces worth more than
it costs; prices that are too high are scaled down until that is so (Farley, "A note on bounding a
class of linear programming problems, including cutting stock problems", Operations Research 38,
1990). What a sheet can hold at most is itself bounded: whole pieces that keep every inequality of
`dual_feasible`, which is more than can really be laid.
"""

from __future__ import annotations

from collections.abc import Callable

import highspy
import numpy as np

from sheetplan.packing.kernel import Ints
from sheetplan.packing.kernel_exact import FITS_NOT, UNKNOWN, fits_exactly
from sheetplan.packing.kernel_sequence import blank_of
from sheetplan.packing.linear import INFINITY, add_column, add_row, column_values, new_model, objective
from sheetplan.planning.bound import (
    SAFETY,
    Side,
    box_around,
    broken_rows,
    cost_granule,
    rounded_up,
    side_of,
)
from sheetplan.planning.column_generation import Master
from sheetplan.planning.dual_feasible import Floats
from sheetplan.planning.search import Search

Halt = Callable[[], bool]

MOST_NODES = 2_000
"""Nodes spent on one sheet's contents; what is proven by then is a bound on them all the same."""

MOST_CUTS = 40
"""Rounds of adding broken inequalities to one sheet's contents."""

MOST_BOXES = 7
"""Pieces on a sheet up to which it is found out whether they fit at all."""

EXACT_TRIALS = 2_000_000
"""Places tried to find out whether some pieces fit."""

SOLVE_LOOKS, NODE_LOOKS, TRIAL_LOOKS = 600_000, 60_000, 4
"""What counts as work: one look at contents, each node of it, and a place tried for a question left open."""

MOST_TYPES, MOST_PIECES = 100, 14
"""Most types, and pieces on a sheet on average, for which contents are worth looking at."""

CLOSE = 1e-4
"""The bound is as good as it gets once it is this near to the master's value."""

SMOOTH = 0.5
"""How far the prices are moved towards the master's in each round; the rest stays with the best so far."""


class Contents:
    """What one sheet of a supply may hold, as a growing model: whole pieces, inequalities kept."""

    def __init__(self, search: Search, s: int, trials: int) -> None:
        problem = search.problem
        self.types, self.areas = problem.types, search.areas
        self.side: Side = side_of(problem, s)
        self.length, self.width = box_around(blank_of(problem.supplies, s))
        self.cost = float(problem.supplies.costs[s])
        areas = search.areas[self.side.held] / problem.supplies.areas[s]
        self.most_pieces = np.minimum(problem.wanted[self.side.held], (1.0 / areas).astype(np.int64))
        self.known: set[bytes] = set()
        self.looks = 0
        self.trials = trials
        self.model = new_model()
        self.model.setOptionValue("mip_max_nodes", MOST_NODES)
        for most in self.most_pieces:
            self._add_whole_column(float(most))
        add_row(self.model, -INFINITY, 1.0, range(len(areas)), areas.tolist())

    def _add_whole_column(self, most: float) -> int:
        add_column(self.model, 0.0, most, (), ())
        number = int(self.model.getNumCol()) - 1
        self.model.changeColIntegrality(number, highspy.HighsVarType.kInteger)
        return number

    def most(self, prices: Floats, halt: Halt) -> tuple[float, Ints]:
        """An amount that no sheet's pieces are worth more than, and the pieces that come to it."""
        held = self.side.held
        for place, t in enumerate(held):
            self.model.changeColCost(place, -float(prices[t]))
        pieces = np.zeros(len(prices), np.int64)
        for _ in range(MOST_CUTS):
            self.model.run()
            self.looks += SOLVE_LOOKS + NODE_LOOKS * max(0, int(self.model.getInfo().mip_node_count))
            pieces[held] = np.rint(column_values(self.model)[: len(held)]).astype(np.int64)
            if halt() or not self._cut(pieces[held]):
                break
        return -float(self.model.getInfo().mip_dual_bound), pieces

    def _cut(self, pieces: Ints) -> bool:
        """Rule out pieces that break an inequality or fit on no sheet; False where neither is known."""
        rows = broken_rows(self.side, pieces.astype(np.float64), 1.0)
        for row in rows:
            counted = np.flatnonzero(row > 0.0)
            add_row(self.model, -INFINITY, 1.0, counted.tolist(), row[counted].tolist())
        if rows:
            return True
        if pieces.tobytes() in self.known or not self._fits_not(pieces):
            self.known.add(pieces.tobytes())
            return False
        self._forbid(self._smallest(pieces))
        return True

    def _fits_not(self, pieces: Ints) -> bool:
        """Whether pieces are proven to fit on no sheet; a few pieces only, more are not looked at."""
        if not 1 < pieces.sum() <= MOST_BOXES:
            return False
        boxes = np.repeat(self.side.held, pieces)
        boxes = boxes[np.argsort(-self.areas[boxes], kind="stable")]
        lengths, widths, turnable = self.types
        answer = fits_exactly(
            lengths[boxes], widths[boxes], turnable[boxes], self.length, self.width, self.trials
        )
        self.looks += self.trials * TRIAL_LOOKS if answer == UNKNOWN else SOLVE_LOOKS // 4
        return answer == FITS_NOT

    def _smallest(self, pieces: Ints) -> Ints:
        """Fewer of the pieces that still fit on no sheet, as long as that can be proven."""
        left = pieces.copy()
        for place in np.flatnonzero(pieces):
            while left[place]:
                left[place] -= 1
                if not self._fits_not(left):
                    left[place] += 1
                    break
        return left

    def _forbid(self, pieces: Ints) -> None:
        """Rule out so many or more of each of these types together."""
        counted = np.flatnonzero(pieces)
        flags = []
        for place in counted:
            least, most = int(pieces[place]), int(self.most_pieces[place])
            flag = self._add_whole_column(1.0)
            flags.append(flag)
            reach = float(most - least + 1)
            add_row(self.model, -INFINITY, float(least - 1), [int(place), flag], [1.0, -reach])
        add_row(self.model, -INFINITY, float(len(counted) - 1), flags, [1.0] * len(flags))


def pattern_bound(search: Search, looks: int, halt: Halt, trials: int = EXACT_TRIALS) -> float:
    """A bound on the steering cost, at least the search's own, within an allowance of looks.

    It needs a search that has its columns, and counts its work there. Orders that leave pieces out,
    and supplies that could run out, keep the bound that they have. ``trials`` is how many places are
    tried to find out whether some pieces fit.
    """
    problem = search.problem
    if search.score.missing > 0.0 or (problem.supplies.limits < problem.wanted.sum()).any():
        return search.bound
    contents = [Contents(search, s, trials) for s in range(len(problem.choices))]
    master = Master(search)
    granule = cost_granule(problem.supplies.costs)
    proven, held = 0.0, np.zeros(len(search.areas))
    number = 0
    while sum(sheet.looks for sheet in contents) < looks:
        prices, _ = master.solve()
        if halt() or proven >= objective(master.model) * (1.0 - CLOSE):
            break
        tried = prices if number % 2 == 0 else SMOOTH * prices + (1.0 - SMOOTH) * held
        found = [sheet.most(tried, halt) for sheet in contents]
        scale = max(1.0, *(worth / sheet.cost for sheet, (worth, _) in zip(contents, found, strict=True)))
        here = float((problem.wanted * tried).sum()) / scale * (1.0 - SAFETY)
        if here > proven:
            proven, held = here, tried / scale
        for s, (_, pieces) in enumerate(found):
            master.admit(s, pieces)
        number += 1
        if rounded_up(proven, granule) >= search.score.cost * (1.0 - SAFETY):
            break
    search.spend(sum(sheet.looks for sheet in contents))
    return max(search.bound, rounded_up(proven, granule))


def is_small(search: Search) -> bool:
    """Whether an order is small enough for this bound to be worth its work."""
    sheets = max(1, sum(search.picks.values()))
    pieces = int(search.problem.wanted.sum())
    return len(search.areas) <= MOST_TYPES and pieces <= MOST_PIECES * sheets
