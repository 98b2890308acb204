"""One gauge on its way through a run: plain functions that take a state and give it back.

They can be called here or in another process; the state travels with them.

Work is counted. A run is a row of rounds, the same for every run: more seconds only add rounds at the end, so
that with the same seed a search of more time never ends dearer. What the end of a gauge finds beyond its
search depends on where that stood: the demo in millimetres counts 0.2 per cent more in 60 s than in 20.
Rounds make up epochs, each about as long as all before it; the box search goes through its whole course in
each.

Choices
-------
Work is for each core: a machine with more of them does more in the same seconds, and may find another plan.
What a gauge gets of a round follows from what all could gain two rounds before (`run.Course`): no core waits
for the last gauge of a round, and whose answer comes first decides nothing.
"""

from __future__ import annotations

import pickle
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sheetplan.model.job import Part
from sheetplan.model.plan import Group, above_least, against_cheapest
from sheetplan.model.settings import Settings
from sheetplan.planning.bounds.proof import boxes_are_exact, is_proven, quick_proof
from sheetplan.planning.bounds.relaxation import area_bound
from sheetplan.planning.box_problem import BoxProblem, make_problem
from sheetplan.planning.progress import Stop
from sheetplan.planning.search.boxes import advance, begin
from sheetplan.planning.search.first_plan import hasty_plan
from sheetplan.planning.search.shape_filling import (
    WORTH_A_TRIAL,
    WORTH_IDLE_TIME,
    ShapeFiller,
    filled_share,
)
from sheetplan.planning.search.shapes import ShapeState, first_shapes, shape_search, shaped_search, trial_pays
from sheetplan.planning.search.state import Search
from sheetplan.trade.sentences import counted

LOOKS_PER_SECOND = 80_000_000
"""Looks that a second of the time allowed buys on each core.

An office machine does about this much in a second, so that as a rule the work is done when the time is up
and the same seed gives the same plan; the clock only ends what would take too long.
"""

SEARCHING, FINISHING, PROVING, FILLING = 0.81, 0.1, 0.03, 0.06
"""Shares of a plan's seconds: the search with its first plans, the end of each gauge with its choices, proofs
of what it could cost at least, and orders that are cut if they fit.
"""

FIRST_EPOCHS = (0.74, 2.96)
"""Lengths of the first two epochs in seconds of search; each later one is as long as all before it."""

FIRST_ROUNDS, ROUND_SECONDS = (2, 4), 1.85
"""Rounds of each of the first epochs, and how long later ones are; after each, work is shared out anew.

Cores wait for the last gauge of a round, so that rounds are longer than a step that cannot be cut short.
"""

FULL_ENOUGH = 1.02
"""A round that ends beyond the seconds by no more than this factor is still begun."""

BEGINNING = 0.25
"""Share of the first epoch that goes into the first plans."""

LEAST_SHARE = 0.02
"""Every gauge that is not finished gets at least this share of a round."""

UNKNOWN_GAP = 0.05
"""What a gauge without a bound is taken to be able to gain."""

UNTRIED_GAP = 0.15
"""What a gauge whose shapes waste their boxes is taken to be able to gain before they are tried."""

SAME_SHARE = 1e-9
"""Shares of a round differ by less than this."""

BOX_SHARE = 0.1
"""Share of a slice that still goes into boxes where true shapes pay."""

RESTING_GAP = 1e-3
"""What a search at rest is taken to be able to gain all the same."""

HOPE = 0.3
"""Share of the way to its bound that a plan may come: most of a bound is bare area, which none reaches."""

IDLE_LOOKS = 80_000_000
"""So much work in vain halves what a gauge may be expected to gain: about a second."""

RESTING_LOOKS = 400_000_000
"""A search that has found nothing for so much work, and whose combinations promise nothing, is at rest."""

LATER_LOOKS = 160_000_000
"""After so much work in vain on boxes true shapes are tried where they waste little of their boxes."""

OTHER_CLOCK = 60.0
"""A wall clock that is past the end by more than these seconds is not ours, and is not believed."""


@dataclass(frozen=True, slots=True)
class Round:
    """A round of so many looks on each core, from one share of its epoch to another."""

    looks: int
    start: float
    end: float


def looks_for(seconds: float) -> int:
    """Work that a time allowed buys on one core."""
    return max(1, int(seconds * LOOKS_PER_SECOND))


def rounds_for(seconds: float) -> Iterator[Round]:
    """The rounds of a search of so many seconds: the first ones of a row that has no end.

    >>> [len(list(rounds_for(t))) for t in (0.0, 0.74, 3.7, 7.4, 14.8)]
    [1, 2, 6, 8, 12]
    """
    spent, epoch = 0.0, 0
    while True:
        length = FIRST_EPOCHS[epoch] if epoch < len(FIRST_EPOCHS) else spent
        count = FIRST_ROUNDS[epoch] if epoch < len(FIRST_EPOCHS) else round(length / ROUND_SECONDS)
        each = length / count
        for number in range(count):
            begun = spent + number * each
            if begun > 0.0 and begun + each > seconds * FULL_ENOUGH:
                return
            yield Round(looks_for(each), number / count, (number + 1) / count)
        spent += length
        epoch += 1


def shares(gains: Sequence[float], most: float = 1.0) -> tuple[float, ...]:
    """How a round is divided: by what each gauge can gain, with a least share for each that can gain at all.

    ``most`` is what one gauge can use: it is worked on by one core at a time. The rest goes to the others.

    >>> shares([30.0, 10.0, 0.0])
    (0.75, 0.25, 0.0)
    >>> shares([30.0, 10.0, 0.0], most=0.5)
    (0.5, 0.5, 0.0)
    """
    total = sum(gains)
    if total <= 0.0:
        return tuple(0.0 for _ in gains)
    floored = [max(LEAST_SHARE, gain / total) if gain > 0.0 else 0.0 for gain in gains]
    found = [share / sum(floored) for share in floored]
    for _ in gains:
        over = sum(max(0.0, share - most) for share in found)
        below = sum(share for share in found if share < most)
        if over <= SAME_SHARE or below <= 0.0:
            break
        found = [most if share >= most else min(most, share * (1.0 + over / below)) for share in found]
    return tuple(min(most, share) for share in found)


@dataclass(frozen=True, slots=True)
class GaugeWork:
    """A gauge, its boxes, and the searches on them.

    ``search`` knows boxes only (None where there is nothing to search). ``shaped`` knows true
    shapes as well; it and its ``filler`` are there where true shapes are worth the work.
    """

    group: Group
    problem: BoxProblem
    search: Search | None
    shaped: Search | None = None
    filler: ShapeFiller | None = None
    state: ShapeState | None = None
    untried: bool = False
    """Whether true shapes may pay and have not been tried yet."""
    later: bool = False
    """Whether they might pay all the same, and are tried once boxes have nothing left to gain."""
    idle: int = 0
    """Work since the plan last became better, in looks."""
    asked: float = 0.0
    """Seconds that the whole run was asked to take."""
    proven: float | None = None
    """What every plan costs at least, once that has been asked for (see `bounds.proof`)."""

    @property
    def best(self) -> Search | None:
        """The search with the better plan."""
        if self.shaped and self.search and self.shaped.score.beats(self.search.score):
            return self.shaped
        return self.search

    @property
    def bound(self) -> float:
        """What every plan is known to cost at least, in the searches' own cost; 0 where nothing is proven."""
        search, proven = self.best, self.proven or 0.0
        if search is not None and (search is self.shaped or boxes_are_exact(self.problem)):
            return max(search.bound, proven)
        return proven

    def with_proof(self) -> GaugeWork:
        """The gauge with a bound on every plan; worked out once, and not before there is a first plan."""
        return self if self.proven is not None else replace(self, proven=quick_proof(self.problem))

    @property
    def has_shapes(self) -> bool:
        """Whether true shapes lie in the best plan."""
        search = self.best
        made = [search.columns[number].made for number in search.picks] if search else []
        return any(cut is not None and cut.is_shaped for cut in made)

    @property
    def gain(self) -> float:
        """What the gauge may be expected to gain, in money (or in area where there are no prices).

        The way to what is proven, the less of it the longer nothing has been found.
        """
        search = self.shaped or self.search
        if search is None:
            return 0.0
        if self.untried:
            return max(search.score.cost, 1e-30) * UNTRIED_GAP
        if search.done:
            is_over = not self.later or is_proven(search, self.proven or 0.0)
            return 0.0 if is_over else max(search.score.cost, 1e-30) * UNKNOWN_GAP
        score = search.score
        bound = max(search.bound, self.proven or 0.0)
        if score.missing > 0.0 or bound <= 0.0:
            return max(score.cost, 1e-30) * UNKNOWN_GAP
        if is_proven(search, bound):
            return 0.0
        if self.is_at_rest:
            return score.cost * RESTING_GAP
        return HOPE * (score.cost - bound) / (1.0 + self.idle / IDLE_LOOKS)

    @property
    def label(self) -> str:
        """What the gauge is called."""
        return self.group.label

    @property
    def is_finished(self) -> bool:
        """Whether nothing better is to be had, or expected."""
        return self.gain == 0.0 or (self.best is not None and is_proven(self.best, self.bound))

    @property
    def line(self) -> str:
        """One line on how the gauge stands."""
        search = self.best
        if search is None:
            return f"{self.label}: nothing to cut."
        sheets = sum(search.picks.values())
        text = f"{self.label}: {counted(sheets, 'sheet')} in {counted(len(search.picks), 'layout')}"
        if search is self.shaped and self.has_shapes:
            text += " by outline"
        above = None if search.score.missing else above_least(search.score.cost, self.bound)
        if above is None:
            return f"{text}."
        return f"{text}, {against_cheapest(above)}{'' if above == 0.0 else ' the cheapest possible'}."

    @property
    def is_at_rest(self) -> bool:
        """Whether the search with true shapes has come to rest: nothing that it knows promises anything."""
        state = self.state
        return state is not None and state.has_rested and state.idle_looks > RESTING_LOOKS

    @property
    def seconds_to_rest(self) -> float | None:
        """A rough least of the seconds of a whole run in which it would come to rest; None where unknown."""
        state = self.state
        if state is None or not state.looks:
            return None
        least = state.looks - state.idle_looks + RESTING_LOOKS
        return self.asked * max(1.0, least / state.looks)


def _has_work(problem: BoxProblem) -> bool:
    return bool(problem.wanted.any()) and bool(problem.choices)


def _not_begun(group: Group, parts: Mapping[str, Part], settings: Settings) -> GaugeWork:
    problem = make_problem(group, parts, settings)
    filled = filled_share(problem, group.rule.gap) if _has_work(problem) else 1.0
    untried = filled < WORTH_A_TRIAL
    later = not untried and filled < WORTH_IDLE_TIME
    return GaugeWork(group, problem, None, untried=untried, later=later, asked=settings.seconds)


def begin_gauge(
    group: Group, parts: Mapping[str, Part], settings: Settings, seed: int, looks: int, halt: Stop
) -> GaugeWork:
    """A gauge with a first complete plan, of true shapes where they may pay and there is time for them."""
    work = _not_begun(group, parts, settings)
    if not _has_work(work.problem):
        return work
    search = begin(work.problem, seed, looks, halt)
    work = replace(work, search=search)
    if work.untried and not halt():
        work = _tried(work, search)
        if work.shaped and work.filler:
            first_shapes(work.shaped, work.filler, halt)
    return work


def begin_late(group: Group, parts: Mapping[str, Part], settings: Settings, seed: int) -> GaugeWork:
    """A gauge whose turn comes when the run is stopped: a complete plan, a bound, nothing that takes time.

    A month has dozens of gauges, and whoever stops a run early waits for all of them that were not begun. The
    bound is that of the bare area.
    """
    work = _not_begun(group, parts, settings)
    if not _has_work(work.problem):
        return work
    search = Search(work.problem, seed)
    search.offer(search.take_in(hasty_plan(work.problem).cuts))
    search.bound = area_bound(work.problem, search.areas)
    return replace(work, search=search)


def advance_gauge(work: GaugeWork, start: float, end: float, looks: int, halt: Stop) -> GaugeWork:
    """The gauge after another slice of work."""
    if work.search is None:
        return work
    before = work.best.score if work.best else None
    after = _advanced(work.with_proof(), work.search, (start, end), looks, halt)
    better = before is None or after.best is None or after.best.score.beats(before)
    return replace(after, idle=0 if better else work.idle + looks)


def _advanced(
    work: GaugeWork, search: Search, span: tuple[float, float], looks: int, halt: Stop
) -> GaugeWork:
    if work.untried or (work.later and (search.done or work.idle > LATER_LOOKS)):
        work = _tried(work, search)
    if work.shaped is None or work.filler is None or work.state is None:
        advance(search, *span, looks, halt)
        return work
    advance(search, *span, int(looks * BOX_SHARE), halt)
    work.shaped.offer(work.shaped.adopt(search, search.picks))
    shape_search(work.shaped, work.filler, work.state, int(looks * (1.0 - BOX_SHARE)), halt)
    return work


def _tried(work: GaugeWork, search: Search) -> GaugeWork:
    """The gauge once it is known whether true shapes are worth the work."""
    filler = ShapeFiller(search.problem, work.group.rule.gap)
    # Where boxes find no metal for some pieces, true shapes may make them, whatever they cost.
    if search.score.missing == 0.0 and not trial_pays(search, filler):
        return replace(work, untried=False, later=False)
    shaped = shaped_search(search, filler)
    return replace(work, untried=False, later=False, shaped=shaped, filler=filler, state=ShapeState())


@dataclass(frozen=True, slots=True)
class TimesUp:
    """A halt that another process can hear: so many seconds at most, and a moment of the wall clock.

    Work that had to wait for its turn has less time, so that a run ends when it was said to.
    """

    seconds: float
    until: float

    @classmethod
    def after(cls, seconds: float) -> TimesUp:
        """So many seconds from now."""
        return cls(seconds, time.time() + seconds)

    def started(self) -> Stop:
        """The halt with its clock running."""
        deadline = time.monotonic() + self.seconds
        return lambda: time.monotonic() > deadline or self.until < time.time() < self.until + OTHER_CLOCK


@dataclass(frozen=True, slots=True)
class Sealed:
    """A gauge between two slices of work elsewhere: what a run asks of it, and the rest as it travels.

    The process that sealed it last still has it open, and goes on from there.
    """

    label: str
    gain: float
    is_finished: bool
    line: str
    packed: bytes


_open: dict[str, tuple[bytes, GaugeWork]] = {}
"""The last work of each gauge in this process, beside what it was sealed as."""


def sealed(work: GaugeWork) -> Sealed:
    """The gauge as it travels."""
    packed = pickle.dumps(work, pickle.HIGHEST_PROTOCOL)
    _open[work.label] = packed, work
    return Sealed(work.label, work.gain, work.is_finished, work.line, packed)


def opened(work: GaugeWork | Sealed) -> GaugeWork:
    """The gauge itself; what is done with it does not change what it was sealed as."""
    if isinstance(work, GaugeWork):
        return work
    packed, known = _open.pop(work.label, (b"", None))
    if known is not None and packed == work.packed:
        return known
    found: GaugeWork = pickle.loads(work.packed)
    return found


def begin_elsewhere(
    group: Group, parts: Mapping[str, Part], settings: Settings, seed: int, looks: int, limit: TimesUp
) -> Sealed:
    """`begin_gauge` with a time limit instead of a halt, for other processes."""
    return sealed(begin_gauge(group, parts, settings, seed, looks, limit.started()))


def advance_elsewhere(
    work: GaugeWork | Sealed, start: float, end: float, looks: int, limit: TimesUp
) -> Sealed:
    """`advance_gauge` with a time limit instead of a halt, for other processes."""
    return sealed(advance_gauge(opened(work), start, end, looks, limit.started()))
