"""A closer bound for small orders: sheets are taken as whole layouts, of which only the contents are relaxed.

Prices of the pieces are a bound by themselves as soon as no sheet can hold pieces worth more than
it costs; prices that are too high are scaled down until that is so (Farley, "A note on bounding a
class of linear programming problems, including cutting stock problems", Operations Research 38,
1990). What a sheet can hold at most is itself bounded: whole pieces that keep every inequality of
`inequalities`, which is more than can really be laid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from sheetplan.packing.exact_fit import FITS_NOT, UNKNOWN
from sheetplan.packing.linear import INFINITY, add_column, add_row, column_values, new_model, objective
from sheetplan.packing.maxrects import Ints
from sheetplan.planning.bounds.inequalities import ROUNDING_NM, Floats, Row, Side, side_of
from sheetplan.planning.bounds.model import TRIAL_LOOKS, BoundModel, boxes_model, fit_of
from sheetplan.planning.bounds.relaxation import SAFETY, Relaxation, granule_of, rounded_up
from sheetplan.planning.progress import Stop
from sheetplan.planning.search.column_generation import Master
from sheetplan.planning.search.state import Search

MOST_NODES = 2_000
"""Nodes spent on one sheet's contents; what is proven by then is a bound on them all the same."""

MOST_CUTS = 40
"""Rounds of adding broken inequalities to one sheet's contents."""

MOST_BOXES = 7
"""Pieces on a sheet up to which it is found out whether they fit at all."""

EXACT_TRIALS = 2_000_000
"""Places tried to find out whether some pieces fit."""

SOLVE_LOOKS, NODE_LOOKS = 600_000, 60_000
"""What counts as work: one look at contents, each node of it, and a place tried for a question left open."""

MOST_TYPES, MOST_PIECES = 100, 14
"""Most types, and pieces on a sheet on average, for which contents are worth looking at."""

CLOSE = 1e-4
"""The bound is as good as it gets once it is this near to the master's value."""

STEPS = (1.0, 0.5)
"""How far the prices are moved towards the master's, round by round; the rest stays with the best so far.

Wentges, "Weighted Dantzig-Wolfe decomposition for linear mixed-integer programming", International
Transactions in Operational Research 4, 1997.
"""


class Contents:
    """What one sheet of a metal may hold, as a growing model: whole pieces, inequalities kept.

    ``kept`` is the column of what goes back to the rack, as a share of the whole sheet; -1 where nothing
    is paid for it.
    """

    def __init__(self, known: BoundModel, metal: int, trials: int) -> None:
        self.known = known
        self.metal = known.metals[metal]
        self.side: Side = side_of(known, metal)
        wanted, areas = known.problem.wanted[self.side.held], known.areas[self.side.held]
        self.most_pieces = np.minimum(wanted, (self.metal.area / areas).astype(np.int64))
        self.known_sets: set[bytes] = set()
        self.looks = 0
        self.trials = trials
        self.model = new_model()
        self.model.setOptionValue("mip_max_nodes", MOST_NODES)
        for most in self.most_pieces:
            self._add_whole_column(float(most))
        self.kept = self._add_kept() if known.has_credits else -1
        for row in self.side.first_rows(pays=known.has_credits):
            self._add(row)

    def _add_whole_column(self, most: float) -> int:
        add_column(self.model, 0.0, most, (), ())
        number = int(self.model.getNumCol()) - 1
        self.model.changeColIntegrality(number, highspy.HighsVarType.kInteger)
        return number

    def _add_kept(self) -> int:
        """What goes back: nothing, or no less than the least useful rectangle."""
        add_column(self.model, 0.0, INFINITY, (), ())
        kept = int(self.model.getNumCol()) - 1
        is_kept = self._add_whole_column(1.0)
        least = float((self.known.problem.least_left - ROUNDING_NM).clip(0).prod(dtype=np.float64))
        add_row(self.model, -INFINITY, 0.0, [kept, is_kept], [1.0, -self.side.most_kept])
        add_row(self.model, 0.0, INFINITY, [kept, is_kept], [1.0, -least / self.metal.whole])
        return kept

    def _add(self, row: Row) -> None:
        counted = np.flatnonzero(row.values > 0.0)
        columns, values = counted.tolist(), row.values[counted].tolist()
        if self.kept >= 0 and row.kept > 0.0:
            columns, values = [*columns, self.kept], [*values, row.kept]
        add_row(self.model, -INFINITY, 1.0, columns, values)

    def most(self, prices: Floats, rate: float, halt: Stop) -> tuple[float, Ints]:
        """An amount that no sheet's pieces and remnant are worth more than, and the pieces that come to it.

        ``rate`` is what a square nanometre of remnant is worth.
        """
        held = self.side.held
        for place, t in enumerate(held):
            self.model.changeColCost(place, -float(prices[t]))
        if self.kept >= 0:
            self.model.changeColCost(self.kept, -rate * self.metal.whole)
        pieces = np.zeros(len(prices), np.int64)
        for _ in range(MOST_CUTS):
            self.model.run()
            self.looks += SOLVE_LOOKS + NODE_LOOKS * max(0, int(self.model.getInfo().mip_node_count))
            values = column_values(self.model)
            pieces[held] = np.rint(values[: len(held)]).astype(np.int64)
            if halt() or not self._cut(pieces[held], float(values[self.kept]) if self.kept >= 0 else 0.0):
                break
        return -float(self.model.getInfo().mip_dual_bound), pieces

    def _cut(self, pieces: Ints, kept: float) -> bool:
        """Rule out pieces that break an inequality or fit on no sheet; False where neither is known."""
        rows = self.side.broken_rows(pieces.astype(np.float64), 1.0, kept)
        for row in rows:
            self._add(row)
        if rows:
            return True
        if pieces.tobytes() in self.known_sets or not self._fits_not(pieces):
            self.known_sets.add(pieces.tobytes())
            return False
        self._forbid(self._smallest(pieces))
        return True

    def _fits_not(self, pieces: Ints) -> bool:
        """Whether pieces are proven to fit on no sheet; a few pieces only, more are not looked at."""
        if not 1 < pieces.sum() <= MOST_BOXES:
            return False
        answer = fit_of(self.known, self.metal, np.repeat(self.side.held, pieces), self.trials)
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


@dataclass(frozen=True, slots=True)
class Worth:
    """What a sheet of one supply holds at most under some prices: ``full``, and ``bare`` for free pieces.

    Between the two, worth is convex in the share of the prices, as the greatest of amounts that are each
    linear in it; so it is at most what lies on the line from one to the other.
    """

    cost: float
    limit: float
    full: float
    bare: float
    ends: bool

    def share(self) -> float:
        """The share of the prices at which a sheet holds no more than it costs."""
        if self.full <= self.cost:
            return 1.0
        return max(0.0, (self.cost - self.bare) / (self.full - self.bare))

    def loss(self, share: float) -> float:
        """What all sheets of a supply that runs out can be worth more than they cost, at most."""
        worth = self.bare + share * (self.full - self.bare)
        return self.limit * max(0.0, worth - self.cost) if self.ends else 0.0


def proven_by(worths: Sequence[Worth], value: float) -> tuple[float, float]:
    """The bound that prices prove and the share of them that proves it; ``value`` is that of all pieces.

    Farley's scaling for supplies without end. A supply that runs out may be worth more than it costs
    (the Lagrangian dual of its limit); which share is best is found among those where one such supply
    just pays, since the bound is concave and piecewise linear in it.
    """
    highest = min((worth.share() for worth in worths if not worth.ends), default=1.0)
    shares = {highest, *(share for worth in worths if worth.ends and (share := worth.share()) < highest)}
    return max((share * value - sum(worth.loss(share) for worth in worths), share) for share in shares)


def pattern_bound(
    search: Search, looks: int, halt: Stop, trials: int = EXACT_TRIALS, known: BoundModel | None = None
) -> float:
    """A bound on the steering cost within an allowance of looks; for boxes, at least the search's own.

    It needs a search that has its columns, and counts its work there. Orders that leave pieces out
    keep the bound that they have. ``trials`` is how many places are tried to find out whether some
    pieces fit; ``known`` is what the bound is to hold for, boxes where it is not given.
    """
    problem = search.problem
    own = search.bound if known is None else 0.0
    if search.score.missing > 0.0:
        return own
    known = known or boxes_model(problem)
    contents = [Contents(known, m, trials) for m in range(len(known.metals))]
    master = Master(search)
    granule = granule_of(problem)
    relaxation = Relaxation(problem, search.penalty, known)
    relaxation.leave_nothing_out()
    relaxation.tighten_fully()
    # The prices of the relaxation prove its own value at once; the master's are far off at first.
    proven, held = 0.0, relaxation.prices()[0]
    tried, number = held, 0
    while relaxation.looks + sum(sheet.looks for sheet in contents) < looks and not halt():
        worths = _worths(known, contents, tried, master, halt)
        here, share = proven_by(worths, float((problem.wanted * tried).sum()))
        here -= SAFETY * abs(here)
        if here > proven:
            proven, held = here, tried * share
        prices, _ = master.solve()
        if proven >= objective(master.model) * (1.0 - CLOSE):
            break
        step = STEPS[number % len(STEPS)]
        tried = step * prices + (1.0 - step) * held
        number += 1
        if rounded_up(proven, granule) >= search.score.cost * (1.0 - SAFETY):
            break
    search.spend(relaxation.looks + sum(sheet.looks for sheet in contents))
    return max(own, rounded_up(proven, granule))


def _worths(
    known: BoundModel, contents: Sequence[Contents], prices: Floats, master: Master, halt: Stop
) -> list[Worth]:
    """What the sheets of every supply are worth at most; the contents found so enter the master."""
    problem = known.problem
    pieces = int(problem.wanted.sum())
    found: dict[tuple[int, float], tuple[float, Ints]] = {}
    worths = []
    for s, metal in enumerate(known.of_supply):
        rate = float(problem.kept_rates[s])
        if (metal, rate) not in found:
            found[metal, rate] = contents[metal].most(prices, rate, halt)
        full, inside = found[metal, rate]
        bare = rate * known.metals[metal].whole * contents[metal].side.most_kept
        limit = float(problem.supplies.limits[s])
        worths.append(Worth(float(problem.supplies.costs[s]), limit, full, bare, limit < pieces))
        master.admit(s, inside)
    return worths


def is_small(search: Search) -> bool:
    """Whether an order is small enough for this bound to be worth its work."""
    sheets = max(1, sum(search.picks.values()))
    pieces = int(search.problem.wanted.sum())
    return len(search.areas) <= MOST_TYPES and pieces <= MOST_PIECES * sheets
