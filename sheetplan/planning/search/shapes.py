"""True-shape layouts for a gauge: small moves on one plan, chosen by what they have gained lately.

Layouts of boxes stay in the pool, so that a plan may mix both. The moves, by their names in the literature:

construct
    Sheet after sheet by bottom-left construction; kits repeat, so a good sheet is cut as often as its pieces
    allow before the next is sought.
ruin and recreate
    A few sheets of the best plan, the emptier more likely, are taken out and their pieces laid anew
    (Schrimpf et al. 2000, Journal of Computational Physics 159).
column generation
    A linear master prices the pieces; layouts worth more than their sheet join the pool, most of them made
    from the master's own ones by ruin and recreate; its answer is rounded and repaired (Gilmore and Gomory
    1961, Operations Research 9). Plans of many sheets begin with it alone: there each layout counts often.
fixed bins
    All pieces, or those of a few sheets, on a cheaper combination of sheets by overlap removal
    (see `combinations`).

Which move is next follows the gains of each for its work (adaptive selection as in Ropke and Pisinger 2006,
Transportation Science 40); all work is counted, so a seed repeats.

Choices
-------
An attempt at a combination of sheets begins with a few quick constructions of all sheets at once, refilled in
part by ruin and recreate, which often do (`packing/outlines/filling.py`). Else each sheet is filled in turn,
pieces put in where they overlap and all moved apart (`packing/outlines/overlap_search.py`), then what is left
over changes places with smaller pieces. Layouts are priced from the master's own ones because most of those
are worth more than their sheet after a little ruin and recreate; constructions from nothing soon are not.
Tried and left: one search on overlap over all sheets at once, with pieces free to change sheets. It finds far
fewer plans in the same time.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from sheetplan.packing.linear import objective
from sheetplan.packing.maxrects import Floats, Ints
from sheetplan.packing.rng import Chance, below, normal, uniform
from sheetplan.planning.bounds.relaxation import area_bound
from sheetplan.planning.box_problem import useful_left
from sheetplan.planning.progress import Stop
from sheetplan.planning.search.column_generation import Master
from sheetplan.planning.search.combinations import MOST_SHEETS, Reach, Target, Targets
from sheetplan.planning.search.rounding import rounded
from sheetplan.planning.search.shape_filling import Effort, ShapeFiller
from sheetplan.planning.search.state import Column, Picks, Search

TRIAL_GAIN = 1.02
"""A trial sheet has to hold this much more than the box plan's sheets do on average."""

TRIAL_EFFORT = 4
SEQUENCE_EFFORTS = (1, 2, 4, 8)
PRICING_EFFORT = 6
PRICING_ROUNDS, IMPROVED_SHARE = 30, 0.95
"""Rounds of ruin and recreate on a layout of the master's answer, and how often one is tried."""

TIGHT_LOOKS = 8_000_000
"""Work on putting more pieces on a sheet than a construction lays: about a tenth of a second."""

TIGHT_SHARE = 0.5
"""How often sheets are filled tight when they are laid anew or priced."""

BIN_LOOKS = 300_000_000
"""Work of one attempt at a combination of sheets: enough for every sheet to be filled as tight as can be."""

BEYOND_LOOKS = 250_000_000
"""How far an attempt under way may go beyond the work allowed; it is taken off the next allowance."""

WORTH_GOING_ON, ANEW_SHARE = 0.012, 0.5
"""An attempt that left a smaller share of the pieces over may be gone on with, and how often it is."""

REVIVED_LOOKS = 200_000_000
"""After so much work in vain combinations without promise are tried anew, then after twice as much."""

FEWEST_OUT, MOST_OUT = 2, 4
"""Sheets whose pieces are laid on a cheaper combination at a time, where a plan has too many to take all."""

PRICES_IN_VAIN = 20
"""Column generations in vain with which a plan of many sheets begins, before other moves are tried."""

ROUNDED_SHARE = 0.2
"""How often the master's answer is rounded although it became no better."""

FRUITLESS_LOOKS = 1_000_000
"""Work that sheets without a cheaper combination are taken to cost, or nothing but they would be tried."""

CHOOSING_LOOKS = 15_000
"""Work of choosing sheets whose pieces are to be laid on cheaper ones."""

COLUMN_LOOKS = 2_500
"""Work for each known layout in a column generation, beside the pricing: the master is solved twice."""

MASTER_GAIN = 1e-4
"""The share by which the master's cost must fall for a column generation not to be in vain."""

MOST_SEED = 2**31

NOISE = 0.3
"""How much the values of pieces are disturbed from one plan to the next."""

FADE = 0.5
"""What is left of all records once the plan has become better: another plan, other chances."""

PRIOR_LOOKS = 50_000_000
"""Work for which a move is credited with its prior gain."""

MOST_REMEMBERED = 2_000
"""Sets of sheets whose targets are remembered."""


@dataclass(slots=True)
class Record:
    """What a move has gained lately, as a share of the cost, and the work that it took.

    ``prior`` is what it is thought to gain before it has been used.
    """

    prior: float
    gained: float = 0.0
    looks: float = 0.0

    @property
    def rate(self) -> float:
        """What it may be expected to gain for a look."""
        return (self.gained + self.prior) / (self.looks + PRIOR_LOOKS)


@dataclass(slots=True)
class ShapeState:
    """What a search with true shapes remembers between slices of its work."""

    records: dict[str, Record] = field(default_factory=lambda: {name: Record(PRIORS[name]) for name in MOVES})
    reach: Reach = field(default_factory=Reach)
    """How full attempts at combinations have packed their sheets."""
    targets: Targets | None = None
    of_sheets: dict[tuple[int, ...], Targets] = field(default_factory=dict)
    end: int = 0
    """The filler's looks at which the slice of work under way ends."""
    debt: int = 0
    """Looks by which the last slice went beyond its end, to be taken off the next."""
    looks: int = 0
    """Work so far."""
    idle_looks: int = 0
    """Work since the plan last became better."""
    hopeless: bool = False
    """Whether no combination of sheets promises anything."""
    revive_at: int = REVIVED_LOOKS
    """The work in vain after which they are tried anew."""
    vain_prices: int = 0
    """Column generations in a row that lowered neither the master's cost nor the plan's."""
    master_cost: float = math.inf
    """The master's least cost so far."""

    def learn(self, cost: float) -> None:
        """Take note of the master's least cost."""
        self.vain_prices = 0 if cost < self.master_cost * (1.0 - MASTER_GAIN) else self.vain_prices + 1
        self.master_cost = min(cost, self.master_cost)

    def revive(self) -> None:
        """Let combinations that have lost all promise be tried again: attempts differ, and there is time."""
        self.revive_at, self.hopeless = 2 * max(self.idle_looks, REVIVED_LOOKS), False
        for target in self.targets.known.values() if self.targets else ():
            target.tries //= 2

    def is_better(self) -> None:
        """Take note that the plan has become better: another plan, other chances."""
        self.idle_looks, self.hopeless, self.revive_at = 0, False, REVIVED_LOOKS
        for one in self.records.values():
            one.gained, one.looks = FADE * one.gained, FADE * one.looks

    @property
    def has_rested(self) -> bool:
        """Whether all that promised anything has been tried once since the plan last became better."""
        return self.hopeless or self.revive_at > REVIVED_LOOKS

    @property
    def prices_first(self) -> bool:
        """Whether a plan of many sheets goes on with column generation alone."""
        return self.vain_prices < PRICES_IN_VAIN


def shaped_search(search: Search, filler: ShapeFiller) -> Search:
    """A search for true shapes beside one for boxes, with its plan to begin with.

    The bound for boxes does not hold here; what holds is that the pieces need their area.
    """
    shaped = Search(search.problem, search.seed)
    shaped.offer(shaped.adopt(search, search.picks))
    shaped.bound = area_bound(search.problem, filler.areas)
    shaped.bound_is_final = True
    for column in filler.of_discs():
        shaped.add(column)
    return shaped


def trial_pays(search: Search, filler: ShapeFiller) -> bool:
    """Whether a quick true-shape sheet of the cheapest size holds more than a sheet of the box plan."""
    supplies, wanted = search.problem.supplies, search.problem.wanted
    s = int(np.argmin(supplies.costs / supplies.areas))
    column = filler.column(s, wanted, filler.areas, search.seed, Effort(TRIAL_EFFORT))
    if column is None:
        return False
    rate = float((column.counts * filler.areas).sum()) / max(float(supplies.costs[s]), 1e-300)
    average = float((wanted * filler.areas).sum()) / max(search.score.cost, 1e-300)
    whole_order = bool((column.counts >= wanted).all())
    return rate > TRIAL_GAIN * average or whole_order


def first_shapes(search: Search, filler: ShapeFiller, halt: Stop) -> None:
    """A first plan of true shapes on each size of sheet, the cheapest per area first."""
    supplies = search.problem.supplies
    sizes = [s for s in np.argsort(supplies.costs / supplies.areas, kind="stable") if supplies.limits[s]]
    for number, s in enumerate(s for s in sizes if not _is_bought_twin(search, int(s))):
        if number and halt():
            return
        search.offer(plan_by_sequence(search, filler, int(s)))


def shape_search(
    search: Search, filler: ShapeFiller, state: ShapeState, looks: int, halt: Stop, beyond: int = BEYOND_LOOKS
) -> None:
    """Look for a cheaper plan with true shapes within an allowance of looks.

    An attempt under way may go so many looks ``beyond`` it; they are taken off the next allowance.
    """
    end = filler.looks + looks - state.debt
    state.end = end + beyond
    while filler.looks < end and not search.done and not halt():
        name = _next_move(search, state)
        before, begun, record = search.score, filler.looks, state.records[name]
        MOVES[name](search, filler, state, halt)
        spent = max(1, filler.looks - begun)
        record.looks += spent
        state.looks += spent
        state.idle_looks += spent
        if search.score.beats(before):
            gained = (before.cost - search.score.cost) / max(search.score.cost, 1e-300)
            record.gained += max(0.0, gained) if before.missing == search.score.missing else 1.0
            state.is_better()
    state.debt = max(0, filler.looks - end) if not search.done else 0


def _next_move(search: Search, state: ShapeState) -> str:
    """The move that promises most for its work; plans of many sheets begin by pricing their pieces."""
    if state.prices_first and sum(search.picks.values()) > MOST_SHEETS:
        return COLUMN_GENERATION
    if state.hopeless and state.idle_looks >= state.revive_at:
        state.revive()
    open_ = [name for name in MOVES if name != FIXED_BINS or not state.hopeless]
    return max(open_, key=lambda name: state.records[name].rate)


def _construct(search: Search, filler: ShapeFiller, state: ShapeState, halt: Stop) -> None:
    search.offer(plan_by_sequence(search, filler))


def _recreate(search: Search, filler: ShapeFiller, state: ShapeState, halt: Stop) -> None:
    chance = search.chance()
    tight = TIGHT_LOOKS if uniform(chance) < TIGHT_SHARE else 0
    search.offer(_refilled(search, filler, chance, tight, halt))


def _generate(search: Search, filler: ShapeFiller, state: ShapeState, halt: Stop) -> None:
    """Let the master price the pieces, look for layouts worth more than their sheet, and round its answer."""
    master, chance = Master(search), search.chance()
    filler.looks += COLUMN_LOOKS * len(search.columns)
    pieces, supplies = master.solve()
    search.values = master.values()
    for s, cost in enumerate(search.problem.supplies.costs):
        if halt():
            break
        if not search.problem.supplies.limits[s] or _is_bought_twin(search, s):
            continue
        column = _priced(search, filler, chance, s, pieces, halt)
        if column is not None and float((column.counts * pieces).sum()) > float(cost - supplies[s]):
            search.add(column)
    search.duals, _ = master.solve()
    search.values = master.values()
    state.learn(objective(master.model))
    if not state.vain_prices or uniform(chance) < ROUNDED_SHARE:
        search.offer(_rounded_plan(search, filler, chance))


def _priced(
    search: Search, filler: ShapeFiller, chance: Chance, s: int, pieces: Floats, halt: Stop
) -> Column | None:
    """A layout of great value at the master's prices: of the master's own ones a better one, or a new one."""
    seed, wanted = below(chance, MOST_SEED), search.problem.wanted
    known = [column for number in search.values if (column := search.columns[number]).supply == s]
    known = [column for column in known if column.made is not None and column.made.placements]
    if known and uniform(chance) < IMPROVED_SHARE:
        start = known[below(chance, len(known))]
        return filler.improved(start, wanted, pieces, seed, PRICING_ROUNDS)
    values = _disturbed(pieces, chance) if uniform(chance) < TIGHT_SHARE else pieces
    tight = TIGHT_LOOKS if uniform(chance) < TIGHT_SHARE else 0
    return filler.column(s, wanted, values, seed, Effort(PRICING_EFFORT, tight, halt))


def _is_bought_twin(search: Search, s: int) -> bool:
    """Whether a supply is the same sheet to be bought as one on hand: it shares that one's layouts."""
    twin = search.twins[s]
    return twin >= 0 and not search.problem.choices[s].on_hand and bool(search.problem.supplies.limits[twin])


def plan_by_sequence(search: Search, filler: ShapeFiller, first: int | None = None) -> Picks:
    """Fill sheet after sheet, each layout as often as its pieces allow.

    ``first`` is the supply that is taken as long as it lasts; None draws one for every sheet,
    the cheap ones more likely.
    """
    chance = search.chance()
    values = _disturbed(filler.areas, chance) if first is None else filler.areas
    wanted, limits = search.problem.wanted.copy(), search.problem.supplies.limits.copy()
    return _Filling(search, filler, values, chance).plan(wanted, limits, first)


class _Filling:
    """Fills sheet after sheet with what is left of an order, ``tight`` looks each beside constructions."""

    def __init__(
        self, search: Search, filler: ShapeFiller, values: Floats, chance: Chance, tight: int = 0,
        halt: Stop = lambda: False,
    ) -> None:  # fmt: skip
        self.search, self.filler, self.values, self.chance = search, filler, values, chance
        self.effort = SEQUENCE_EFFORTS[below(chance, len(SEQUENCE_EFFORTS))]
        self.tight, self.halt = tight, halt

    def plan(self, rest: Ints, limits: Ints, first: int | None = None) -> dict[int, int]:
        """Picks that make what is left of an order on what is left of the stock; both are used up."""
        picks: dict[int, int] = {}
        while rest.any() and limits.any():
            number = self._finisher(rest, limits)
            if number < 0:
                s = self._next(limits, first)
                column = self._column(s, rest, self.effort)
                if column is None:
                    limits[s] = 0
                    continue
                number = self.search.add(column)
            counts, s = self.search.columns[number].counts, self.search.columns[number].supply
            held = counts > 0
            times = max(1, min(int((rest[held] // counts[held]).min()), int(limits[s])))
            picks[number] = picks.get(number, 0) + times
            rest -= times * counts
            limits[s] -= times
        return picks

    def _column(self, s: int, rest: Ints, effort: int) -> Column | None:
        seed = below(self.chance, MOST_SEED)
        return self.filler.column(s, rest, self.values, seed, Effort(effort, self.tight, self.halt))

    def _next(self, limits: Ints, first: int | None) -> int:
        """The supply to take: the given one and its twin as long as they last, else one drawn."""
        if first is not None:
            for s in (first, self.search.twins[first]):
                if s >= 0 and limits[s]:
                    return s
        return _drawn_supply(self.search, limits, self.chance)

    def _finisher(self, rest: Ints, limits: Ints) -> int:
        """A sheet that takes all that is left, the cheapest first; -1 where none does."""
        supplies = self.search.problem.supplies
        area = float((rest * self.filler.areas).sum())
        usable = [int(s) for s in np.flatnonzero((limits > 0) & (supplies.areas >= area))]
        for s in sorted(usable, key=lambda s: float(supplies.costs[s])):
            if _is_bought_twin(self.search, s) and limits[self.search.twins[s]]:
                continue
            column = self._column(s, rest, SEQUENCE_EFFORTS[-1])
            if column is not None and (column.counts == rest).all():
                return self.search.add(column)
        return -1


def _drawn_supply(search: Search, limits: Ints, chance: Chance) -> int:
    """A supply with sheets left, the cheap per area more likely."""
    supplies = search.problem.supplies
    usable = np.flatnonzero(limits)
    ranked = usable[np.argsort((supplies.costs / supplies.areas)[usable], kind="stable")]
    return int(ranked[min(len(ranked) - 1, int(abs(normal(chance)) * 1.2))])


def _rounded_plan(search: Search, filler: ShapeFiller, chance: Chance) -> Picks:
    """The master's answer rounded, the rest filled with true shapes."""
    picks, rest, limits = rounded(search, chance)
    values = np.maximum(search.duals, 0.0) + 1e-3 * search.duals.max() * filler.areas / filler.areas.max()
    _merge(picks, _Filling(search, filler, _disturbed(values, chance), chance).plan(rest, limits))
    return picks


def _refilled(search: Search, filler: ShapeFiller, chance: Chance, tight: int, halt: Stop) -> Picks:
    """The best plan with a few sheets, the emptier more likely, filled anew."""
    kept, rest, limits, _ = _taken_out(search, filler, chance, 1 + below(chance, 4))
    values = _disturbed(filler.areas, chance)
    _merge(kept, _Filling(search, filler, values, chance, tight, halt).plan(rest, limits))
    return kept


def _taken_out(
    search: Search, filler: ShapeFiller, chance: Chance, number: int
) -> tuple[dict[int, int], Ints, Ints, tuple[int, ...]]:
    """Some sheets of the best plan taken out, the emptier more likely.

    Returns what stays, the pieces then to be made, the sheets then to be had, and the columns taken out.
    """
    sheets = [number for number, repeats in search.picks.items() for _ in range(repeats)]
    use = [
        float((search.columns[n].counts * filler.areas).sum()) / max(search.costs[n], 1e-300) for n in sheets
    ]
    keys = np.array(use) * np.array([math.exp(0.3 * normal(chance)) for _ in use])
    out = set(np.argsort(keys, kind="stable")[: min(number, len(sheets))].tolist())
    kept: dict[int, int] = {}
    limits = search.problem.supplies.limits.copy()
    for place, column in enumerate(sheets):
        if place not in out:
            kept[column] = kept.get(column, 0) + 1
            limits[search.columns[column].supply] -= 1
    rest = np.maximum(search.problem.wanted - search.covered(kept), 0)
    return kept, rest, limits, tuple(sorted(sheets[place] for place in out))


def _pack_bins(search: Search, filler: ShapeFiller, state: ShapeState, halt: Stop) -> None:
    """Try the most promising cheaper combination of sheets, for the whole plan or for a few sheets of it."""
    problem = search.problem
    if search.score.missing > 0.0:
        state.hopeless = True
        return
    if sum(search.picks.values()) <= MOST_SHEETS:
        if state.targets is None:
            state.targets = Targets(problem.wanted)
        expected = state.reach.expected(_reached(search, filler, search.picks))
        listed = state.targets.listed(
            problem, problem.supplies.limits, filler.areas, search.score.cost, expected
        )
        state.hopeless = not listed
        if listed:
            search.offer(_packed(search, filler, state, listed[0], problem.wanted, halt) or {})
        return
    chance = search.chance()
    number = FEWEST_OUT + below(chance, MOST_OUT - FEWEST_OUT + 1)
    kept, rest, limits, out = _taken_out(search, filler, chance, number)
    cost = sum(search.costs[n] for n in out)
    known = state.of_sheets.get(out)
    if known is None:
        if len(state.of_sheets) >= MOST_REMEMBERED:
            state.of_sheets.clear()
        known = state.of_sheets[out] = Targets(rest)
    filler.looks += CHOOSING_LOOKS
    reached = _reached(search, filler, {n: out.count(n) for n in out})
    listed = known.listed(problem, limits, filler.areas, cost, state.reach.expected(reached))
    if not listed:
        state.records[FIXED_BINS].looks += FRUITLESS_LOOKS
    if listed:
        more = _packed(search, filler, state, listed[0], rest, halt)
        if more:
            _merge(kept, more)
            search.offer(kept)


def _packed(
    search: Search, filler: ShapeFiller, state: ShapeState, target: Target, wanted: Ints, halt: Stop
) -> Picks | None:
    """Picks of a target's sheets where all pieces could be laid on them."""
    chance = search.chance()
    # An attempt that left little over is gone on with as often as another one is begun.
    start = target.laid if target.left < WORTH_GOING_ON and uniform(chance) < ANEW_SHARE else ()
    looks = min(BIN_LOOKS, max(1, state.end - filler.looks))
    laid, left = filler.packed(target.sheets, wanted, below(chance, MOST_SEED), looks, halt, start)
    target.tries += 1
    if left > 0.0:  # what took all pieces might have been packed fuller
        state.reach.note(target.fill * (1.0 - left))
    if left < target.left:
        target.left, target.laid = left, laid
    if left > 0.0:
        return None
    return search.take_in(
        filler.cut(s, placements)
        for (s, _), placements in zip(target.sheets, laid, strict=True) if placements
    )  # fmt: skip


def _reached(search: Search, filler: ShapeFiller, picks: Picks) -> float:
    """How full the sheets of picks are, what goes back to the rack taken off."""
    problem = search.problem
    area = used = 0.0
    for number, repeats in picks.items():
        column = search.columns[number]
        area += repeats * float((column.counts * filler.areas).sum())
        metal = float(problem.supplies.areas[column.supply])
        if problem.kept_rates[column.supply] > 0.0:
            metal -= useful_left(problem, search.cut(number, 1))
        used += repeats * metal
    return area / max(used, 1e-300)


def _merge(picks: dict[int, int], more: Picks) -> None:
    for number, repeats in more.items():
        picks[number] = picks.get(number, 0) + repeats


def _disturbed(values: Floats, chance: Chance) -> Floats:
    """Values multiplied by chance, so that other pieces come first."""
    factors = np.array([math.exp(NOISE * normal(chance)) for _ in values], np.float64)
    return np.asarray(values * factors, np.float64)


FIXED_BINS, COLUMN_GENERATION = "fixed bins", "column generation"

Move = Callable[[Search, ShapeFiller, ShapeState, Stop], None]

MOVES: dict[str, Move] = {
    "construct": _construct,
    FIXED_BINS: _pack_bins,
    "ruin and recreate": _recreate,
    COLUMN_GENERATION: _generate,
}
"""The moves by name; of two that promise the same the earlier comes first."""

PRIORS: dict[str, float] = {
    "construct": 5e-4,
    FIXED_BINS: 4e-3,
    "ruin and recreate": 1e-3,
    COLUMN_GENERATION: 1e-3,
}
"""What each move is thought to gain, as a share of the cost, before it has been used."""
