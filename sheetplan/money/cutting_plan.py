"""A plan by days: in which order layouts are cut, on which day, what is too late, and when metal must be
here.
"""

from __future__ import annotations

import datetime
import heapq
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from sheetplan.model import GroupPlan, Layout, Order, Plan, Remnant, SheetCount
from sheetplan.model.job import NO_DATE
from sheetplan.money.figures import PlanFigures

# In which order to cut the layouts of a plan: what can be cut now, and of that what is due first.
#
# Terms
# due
#     Of a layout: the earliest date of an order that has to be made and still wants one of its parts, when
#     the layouts before it in the order have been cut.
# on hand
#     Sheets of a layout that lie in the rack; sheets of one size go to the layouts that are due first.
#
# The order is worked out after the plan, whose tags stay. It does not depend on the day; with days, tickets
# and pages come in that of `timetable`.


@dataclass(frozen=True, slots=True)
class Turn:
    """One layout in its turn: for which day, and how many of its sheets are on hand."""

    group_plan: GroupPlan
    layout: Layout
    due: str
    """Year, month and day; empty where no order with a date waits for it."""
    on_hand: int = 0

    @property
    def can_start(self) -> bool:
        """Whether one of its sheets at least is on hand."""
        return self.on_hand > 0


def cutting_order(plan: Plan) -> tuple[Turn, ...]:
    """All layouts: those that can be cut now, then those that wait for metal, either by date."""
    turns = [turn for group_plan in plan.groups for turn in _by_date(group_plan, _wanted(plan, group_plan))]
    turns.sort(key=lambda turn: turn.due or NO_DATE)
    left = {count.sheet.name: count.from_rack - count.on_order for gp in plan.groups for count in gp.sheets}
    handed = [_with_metal(turn, left) for turn in turns]
    return tuple(sorted(handed, key=lambda turn: not turn.can_start))


def in_order(plan: Plan, tags: Iterable[str]) -> tuple[Turn, ...]:
    """The layouts of a plan in a given order of their tags."""
    turns = {turn.layout.tag: turn for turn in cutting_order(plan)}
    return tuple(turns[tag] for tag in tags)


Wanted = Mapping[str, deque[tuple[str, int]]]
"""By part: dates in their order, with pieces wanted for each."""


def _wanted(plan: Plan, group_plan: GroupPlan) -> Wanted:
    """What orders that have to be made want of a gauge's parts, by date."""
    by_part: dict[str, Counter[str]] = {}
    for need in group_plan.group.needs:
        if need.must:
            date = plan.job.orders[need.order].due or NO_DATE
            by_part.setdefault(need.part, Counter())[date] += need.pieces
    return {part: deque(sorted(dates.items())) for part, dates in by_part.items()}


def _by_date(group_plan: GroupPlan, wanted: Wanted) -> list[Turn]:
    """A gauge's layouts, the most pressing next each time; what it makes no later one is needed for."""
    waiting = list(group_plan.layouts)
    turns = []
    while waiting:
        dates = [_earliest(layout, wanted) for layout in waiting]
        place = dates.index(min(dates))
        layout = waiting.pop(place)
        _deliver(layout, wanted)
        turns.append(Turn(group_plan, layout, "" if dates[place] == NO_DATE else dates[place]))
    return turns


def _earliest(layout: Layout, wanted: Wanted) -> str:
    parts = {placement.part for placement in layout.placements}
    return min((wanted[part][0][0] for part in parts if wanted.get(part)), default=NO_DATE)


def _deliver(layout: Layout, wanted: Wanted) -> None:
    """Take what a layout makes off what is wanted, the earliest date first."""
    for part, pieces in Counter(placement.part for placement in layout.placements).items():
        made, dates = pieces * layout.repeats, wanted.get(part)
        while made and dates:
            date, asked = dates.popleft()
            if asked > made:
                dates.appendleft((date, asked - made))
            made -= min(made, asked)


def _with_metal(turn: Turn, left: dict[str, int]) -> Turn:
    """Hand the layout its sheets as far as they are on hand; a remnant always is."""
    sheet = turn.layout.sheet
    if isinstance(sheet, Remnant):
        return replace(turn, on_hand=turn.layout.repeats)
    taken = min(turn.layout.repeats, left.get(sheet.name, 0))
    left[sheet.name] = left.get(sheet.name, 0) - taken
    return replace(turn, on_hand=taken)


# On which day each sheet is cut by one machine: forward as metal comes, backward from the days due.
#
# Terms
# ready
#     The first day on which a sheet may be cut: its metal is there by then.
# turn
#     Where a sheet stands in the order of cutting; it decides between sheets that are due on the same day.
# a sheet longer than a day
#     It begins on a day of its own and goes on over the next ones; any other sheet is cut within one day.
#
# Forward is the rule of the earliest due date (Jackson 1955, "Scheduling a production line to minimize
# maximum tardiness") among the sheets that are ready; backward is the same rule seen from the other end. Of
# two sheets the one that is due first is never made to wait for one that would use up the rest of a day
# better.

Day = datetime.date
ONE = datetime.timedelta(days=1)

NO_DUE = datetime.date.max
"""The day of what no date waits for."""

MOST_DAYS = 2_000
"""Days of cutting that are worked out; more are no plan but a mistake in a feed."""

_HAIR = 1e-9
"""Minutes: what sums of floats may go beyond a day's."""


class TooManyDays(ValueError):
    """The work would take more than `MOST_DAYS` days."""


@dataclass(frozen=True, slots=True)
class Calendar:
    """When the machine cuts: minutes of each day on which it does, and days of the week, Monday 0."""

    minutes: float
    weekdays: tuple[int, ...]

    def on_or_after(self, day: Day) -> Day:
        """The first day of cutting from a day on."""
        while day.weekday() not in self.weekdays:
            day += ONE
        return day

    def on_or_before(self, day: Day) -> Day:
        """The last day of cutting up to a day."""
        while day.weekday() not in self.weekdays:
            day -= ONE
        return day


def next_cutting_day(day: Day, weekdays: tuple[int, ...]) -> Day:
    """The first day of cutting after a day.

    >>> next_cutting_day(datetime.date(2026, 11, 27), (0, 1, 2, 3, 4))
    datetime.date(2026, 11, 30)
    """
    return Calendar(0.0, weekdays).on_or_after(day + ONE)


@dataclass(frozen=True, slots=True)
class SheetToCut:
    """One sheet; ``minutes`` 0 where nobody knows them.

    ``to_come`` is metal that is not there yet: backward, it gets the latest day that there is.
    """

    turn: int
    minutes: float
    ready: Day
    due: Day = NO_DUE
    to_come: bool = False


@dataclass(frozen=True, slots=True)
class Work:
    """What of a sheet, by its place among those given, is cut on a day; ``ends``: it is done with that."""

    sheet: int
    day: Day
    minutes: float
    ends: bool = True


class _Days:
    """Days that are filled one after another; ``onward`` gives the next one, forward or backward."""

    def __init__(self, minutes: float, day: Day, onward: Callable[[Day], Day]) -> None:
        self.day, self.left = day, minutes
        self._minutes, self._onward = minutes, onward

    @property
    def is_fresh(self) -> bool:
        """Whether nothing is on the day yet."""
        return self.left >= self._minutes

    def turn_to(self, day: Day) -> None:
        """Leave this day for another one."""
        self.day, self.left = day, self._minutes

    def takes(self, minutes: float) -> bool:
        """Whether so much may be begun on this day."""
        return minutes <= self.left + _HAIR or self.is_fresh

    def put(self, sheet: int, minutes: float) -> Iterator[Work]:
        """Put a sheet on this day and, if it is longer than that, on those that follow."""
        while minutes > self.left + _HAIR:
            yield Work(sheet, self.day, self.left, ends=False)
            minutes -= self.left
            self.next()
        yield Work(sheet, self.day, minutes)
        self.left -= minutes

    def next(self) -> None:
        """Go on to the next day."""
        self.turn_to(self._onward(self.day))


def forward(sheets: Sequence[SheetToCut], calendar: Calendar, today: Day) -> tuple[Work, ...]:
    """Every sheet on its day, from today on, in the order in which they are cut.

    Of the sheets that are ready the one that is due first comes next. What does not fit into the rest of a
    day waits for the next one, and what is due later waits behind it. Raises ``TooManyDays``.
    """
    _refuse_endless(sheets, calendar)
    coming = sorted(range(len(sheets)), key=lambda place: (sheets[place].ready, place), reverse=True)
    ready: list[tuple[Day, int, int]] = []
    days = _Days(calendar.minutes, calendar.on_or_after(today), lambda day: calendar.on_or_after(day + ONE))
    done: list[Work] = []
    while coming or ready:
        while coming and sheets[coming[-1]].ready <= days.day:
            place = coming.pop()
            heapq.heappush(ready, (sheets[place].due, sheets[place].turn, place))
        if not ready:
            days.turn_to(calendar.on_or_after(sheets[coming[-1]].ready))
            continue
        place = ready[0][-1]
        if not days.takes(sheets[place].minutes):
            days.next()
            continue
        heapq.heappop(ready)
        done += days.put(place, sheets[place].minutes)
    return tuple(done)


def latest_days(sheets: Sequence[SheetToCut], calendar: Calendar) -> dict[int, Day]:
    """By place, the latest day on which each sheet may be begun so that all that have a date are in time.

    From the last day due backwards; metal that is to come gets the latest days, what is there goes before it.
    What no date waits for is left out. The days may lie in the past: then not all can be in time. Raises
    ``TooManyDays``.
    """
    _refuse_endless(sheets, calendar)
    coming = sorted(
        (place for place, sheet in enumerate(sheets) if sheet.due != NO_DUE),
        key=lambda place: (sheets[place].due, place),
    )
    if not coming:
        return {}
    open_: list[tuple[bool, int, int, int]] = []
    last = calendar.on_or_before(sheets[coming[-1]].due)
    days = _Days(calendar.minutes, last, lambda day: calendar.on_or_before(day - ONE))
    found: dict[int, Day] = {}
    while coming or open_:
        while coming and sheets[coming[-1]].due >= days.day:
            place = coming.pop()
            sheet = sheets[place]
            heapq.heappush(open_, (not sheet.to_come, -sheet.due.toordinal(), -sheet.turn, place))
        if not open_:
            days.turn_to(calendar.on_or_before(sheets[coming[-1]].due))
            continue
        place = open_[0][-1]
        if not days.takes(sheets[place].minutes):
            days.next()
            continue
        heapq.heappop(open_)
        found |= {work.sheet: work.day for work in days.put(place, sheets[place].minutes)}
    return found


def _refuse_endless(sheets: Sequence[SheetToCut], calendar: Calendar) -> None:
    if sum(sheet.minutes for sheet in sheets) > MOST_DAYS * calendar.minutes:
        raise TooManyDays(f"cutting takes more than {MOST_DAYS:,} days")


# A plan by days: which layout is cut on which day, what comes too late, and which metal must be here when.
#
# Terms
# first due
#     Of what is cut on a day: the earliest date of an order that must be made and still wants one of its
#     pieces then. Pieces go to what must be made first, by date, as on the tickets.
# metal's day
#     When sheets that are not in the rack come: those on order so many days after they were ordered as their
#     size's lead days say, those to buy as many days after the plan. Where nobody knows, they are taken to be
#     there at once. Sheets of one size go to the layouts that are due first, those in the rack before others.
#
# Nothing here changes a plan: it is worked out after it.

MINUTES = 60.0
NO_TIME = datetime.timedelta()

EARLIEST = datetime.date(1970, 1, 1)
"""An order that was due before is taken to have been due then; it is overdue either way."""

Ordered = Mapping[str, Sequence[tuple[str, int]]]
"""By sheet name, what is on order and not here: the day on which it was ordered, and how many."""


class Source(StrEnum):
    """Where the metal of a sheet comes from."""

    ON_HAND = "on hand"
    TO_COME = "to come"
    TO_BUY = "to buy"


@dataclass(frozen=True, slots=True)
class Metal:
    """The metal of a sheet; ``day`` is when it comes, None where it is here or nobody knows the day."""

    source: Source
    day: Day | None = None


@dataclass(frozen=True, slots=True)
class DayRow:
    """What of one layout is cut on one day.

    ``times`` counts sheets that are begun on the day; 0 where one goes on from the day before. ``minutes``
    is None where the gauge has no feed. ``late`` are days from the first due to the day.
    """

    day: Day
    group_plan: GroupPlan
    layout: Layout
    times: int
    minutes: float | None
    metal: tuple[tuple[Metal, int], ...]
    due: str
    order: str
    late: int
    goes_on: bool = False


@dataclass(frozen=True, slots=True)
class OrderEnd:
    """An order line with a date that is not in time; ``finished`` None: not all of it is in the plan."""

    order: Order
    finished: Day | None
    late: int


@dataclass(frozen=True, slots=True)
class MetalNeed:
    """Sheets of one size that are to come or to be bought; ``sheets`` counts them, those for stock too.

    ``here_by`` is the latest day on whose morning the first of them may come so that every order is in time;
    None where no date waits for them. ``comes`` is the day on which all have come, None where that is not
    known, and ``late`` by how many days metal comes after it is needed, or that day itself is past.
    """

    group_plan: GroupPlan
    count: SheetCount
    source: Source
    sheets: int
    here_by: Day | None
    comes: Day | None
    late: int

    @property
    def order_by(self) -> Day | None:
        """The last day on which to order what is to buy."""
        lead = self.count.sheet.lead_days
        if self.source is not Source.TO_BUY or self.here_by is None or lead is None:
            return None
        return self.here_by - datetime.timedelta(days=lead)


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """The whole of it; ``too_long`` are layouts of which one sheet takes longer than a day."""

    rows: tuple[DayRow, ...]
    calendar: Calendar
    late: tuple[OrderEnd, ...]
    metal: tuple[MetalNeed, ...]
    too_long: tuple[str, ...]
    minutes: Mapping[Day, float] = field(default_factory=dict)
    """Minutes of cutting by day, every day on which something is cut."""
    finished: Mapping[int, Day] = field(default_factory=dict)
    """By place in ``Job.orders``, the day on which all of an order line is cut, of those made whole."""

    @property
    def days(self) -> tuple[Day, ...]:
        """The days of cutting from the first to the last, also those on which there is nothing to cut."""
        if not self.minutes:
            return ()
        day, last = min(self.minutes), max(self.minutes)
        span = (day + datetime.timedelta(days=ahead) for ahead in range((last - day).days + 1))
        return tuple(one for one in span if one.weekday() in self.calendar.weekdays)


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One sheet of a turn with its metal; ``minutes`` None without a feed."""

    turn: int
    group_plan: GroupPlan
    layout: Layout
    due: str
    minutes: float | None
    metal: Metal


def cutting_plan(
    plan: Plan, figures: PlanFigures, *, today: Day, ordered: Ordered | None = None
) -> CuttingPlan:
    """The days of a plan from today on. Raises ``TooManyDays``."""
    settings = plan.job.settings
    calendar = Calendar(settings.cutting_hours * MINUTES, settings.cutting_days)
    sheets = _sheets(plan, figures, today, ordered or {})
    asked = [_to_cut(sheet, _day(sheet.due), today) for sheet in sheets]
    work = forward(asked, calendar, today)
    served = _Served(plan)
    firsts = {one.sheet: served.cut(sheets[one.sheet], one.day) for one in work if one.ends}
    backward = [_to_cut(sheet, firsts[place][0], today) for place, sheet in enumerate(sheets)]
    minutes: dict[Day, float] = {}
    for one in work:
        minutes[one.day] = minutes.get(one.day, 0.0) + one.minutes
    long = {s.layout.tag for s in sheets if (s.minutes or 0.0) > calendar.minutes}
    return CuttingPlan(
        tuple(_rows(work, sheets, firsts)), calendar, tuple(served.late()),
        tuple(_metal(plan, sheets, latest_days(backward, calendar), today)), tuple(sorted(long)), minutes,
        served.finished(),
    )  # fmt: skip


def days_of(
    plan: Plan, figures: PlanFigures, *, today: Day, ordered: Ordered | None = None
) -> CuttingPlan | None:
    """The days of a plan from today on; None where there are more of them than anybody plans ahead."""
    try:
        return cutting_plan(plan, figures, today=today, ordered=ordered)
    except TooManyDays:
        return None


@dataclass(frozen=True, slots=True)
class CutOn:
    """When a layout is cut: its first day, its last, and by how many days at the most it is late."""

    first: Day
    last: Day
    late: int


Timetable = Mapping[str, CutOn | None]
"""Layouts by tag in the order of cutting, by their first day; None where the days are not known."""


def timetable(plan: Plan, found: CuttingPlan | None) -> Timetable:
    """When each layout of a plan is cut; on one day, what comes first in `cutting_order`."""
    days: dict[str, CutOn] = {}
    for row in found.rows if found else ():
        before = days.get(row.layout.tag, CutOn(row.day, row.day, 0))
        days[row.layout.tag] = CutOn(
            min(before.first, row.day), max(before.last, row.day), max(before.late, row.late)
        )
    turns = [turn.layout.tag for turn in cutting_order(plan)]
    turns.sort(key=lambda tag: days[tag].first if tag in days else NO_DUE)
    return {tag: days.get(tag) for tag in turns}


def order_days(found: CuttingPlan | None) -> Mapping[str, Day]:
    """By sheet name, the last day on which to order what is to buy, where the lead days are known."""
    needs = found.metal if found else ()
    return {one.count.sheet.name: one.order_by for one in needs if one.order_by is not None}


def _to_cut(sheet: _Sheet, due: Day, today: Day) -> SheetToCut:
    to_come = sheet.metal.source is not Source.ON_HAND
    return SheetToCut(sheet.turn, sheet.minutes or 0.0, _ready(sheet.metal, today), due, to_come)


def _ready(metal: Metal, today: Day) -> Day:
    """The first day of cutting with it; what is overdue may come today."""
    return max(today, metal.day or today)


def _day(due: str) -> Day:
    """A date of an order as a day; what is no date is none that waits."""
    try:
        return max(EARLIEST, datetime.date.fromisoformat(due))
    except ValueError:
        return NO_DUE


def _sheets(plan: Plan, figures: PlanFigures, today: Day, ordered: Ordered) -> list[_Sheet]:
    """Every sheet of the plan in the order of cutting, each with its metal."""
    hours = {tag: one.table_hours for group in figures.groups for tag, one in group.layouts.items()}
    waiting = {
        count.sheet.name: deque(_not_here(count, today, ordered.get(count.sheet.name, ())))
        for group_plan in plan.groups for count in group_plan.sheets
    }  # fmt: skip
    turns = list(enumerate(cutting_order(plan)))
    metals: dict[int, list[Metal]] = {}
    for place, turn in sorted(turns, key=lambda one: (one[1].due or NO_DATE, one[0])):
        metals[place] = list(_metals(turn, waiting))
    found = []
    for place, turn in turns:
        one = hours[turn.layout.tag]
        minutes = None if one is None else one * MINUTES
        found += [
            _Sheet(place, turn.group_plan, turn.layout, turn.due, minutes, metal) for metal in metals[place]
        ]
    return found


def _metals(turn: Turn, waiting: Mapping[str, deque[Metal]]) -> Iterator[Metal]:
    """The metal of each sheet of a layout: what is on hand first, then what comes first."""
    sheet, wanted = turn.layout.sheet, turn.layout.repeats
    yield from [Metal(Source.ON_HAND)] * turn.on_hand
    if not isinstance(sheet, Remnant):
        for _ in range(wanted - turn.on_hand):
            there = waiting.get(sheet.name)
            yield there.popleft() if there else Metal(Source.TO_BUY)


def _not_here(count: SheetCount, today: Day, ordered: Sequence[tuple[str, int]]) -> list[Metal]:
    """Sheets of a size that are on order or to be bought, by the day on which they come."""
    lead = None if count.sheet.lead_days is None else datetime.timedelta(days=count.sheet.lead_days)
    days = [_day(date) for date, sheets in ordered for _ in range(sheets)]
    # What was ordered without a step is not on record: it comes at the latest as if ordered today.
    days += [today] * (count.sheet.on_order - len(days))
    known = sorted(days)[-count.sheet.on_order :] if count.sheet.on_order else []
    coming = [Metal(Source.TO_COME, None if lead is None else day + lead) for day in known[: count.on_order]]
    bought = Metal(Source.TO_BUY, None if lead is None else today + lead)
    return coming + [bought] * (count.used - count.from_rack)


class _Served:
    """Which orders the pieces go to as sheets are cut, and when each order has all of its pieces."""

    def __init__(self, plan: Plan) -> None:
        self._orders = plan.job.orders
        self._left: Counter[int] = Counter()
        self._finished: dict[int, Day] = {}
        wanted: dict[str, Counter[int]] = {}
        for group_plan in plan.groups:
            for need in group_plan.group.needs:
                wanted.setdefault(need.part, Counter())[need.order] += need.pieces
                self._left[need.order] += need.pieces
        self._waiting = {part: deque(sorted(asked.items(), key=self._turn)) for part, asked in wanted.items()}

    def _turn(self, asked: tuple[int, int]) -> tuple[bool, str, int]:
        order = self._orders[asked[0]]
        return not order.must, order.due or NO_DATE, asked[0]

    def cut(self, sheet: _Sheet, day: Day) -> tuple[Day, Order | None]:
        """Give out the pieces of a sheet; the first date that waits for one of them, and its order."""
        first: tuple[Day, Order | None] = (NO_DUE, None)
        for part, pieces in Counter(placement.part for placement in sheet.layout.placements).items():
            waiting = self._waiting.get(part, deque())
            while pieces and waiting:
                index, asked = waiting.popleft()
                taken = min(asked, pieces)
                if asked > taken:
                    waiting.appendleft((index, asked - taken))
                pieces -= taken
                self._left[index] -= taken
                self._finished[index] = day
                order = self._orders[index]
                if order.must and _day(order.due) < first[0]:
                    first = _day(order.due), order
        return first

    def finished(self) -> dict[int, Day]:
        """When each order line that is made whole has all of its pieces."""
        return {index: day for index, day in self._finished.items() if not self._left[index]}

    def late(self) -> Iterator[OrderEnd]:
        """Order lines that are not in time, the first due first.

        Of those that are made if they fit, only such as the plan makes whole.
        """
        lines = [i for i in self._left if _day(self._orders[i].due) != NO_DUE]
        for index in sorted(lines, key=lambda i: (self._orders[i].due, i)):
            order, whole = self._orders[index], not self._left[index]
            if not whole and order.must:
                yield OrderEnd(order, None, 0)
            elif whole and index in self._finished:
                late = (self._finished[index] - _day(order.due)).days
                if late > 0:
                    yield OrderEnd(order, self._finished[index], late)


def _rows(
    work: Sequence[Work], sheets: Sequence[_Sheet], firsts: Mapping[int, tuple[Day, Order | None]]
) -> Iterator[DayRow]:
    """The work of each day, what is of one layout together."""
    together: dict[tuple[Day, int], list[Work]] = {}
    for one in work:
        together.setdefault((one.day, sheets[one.sheet].turn), []).append(one)
    begun: set[int] = set()
    for (day, _), some in together.items():
        new = [one.sheet for one in some if one.sheet not in begun]
        begun.update(new)
        sheet = sheets[some[0].sheet]
        due, order = min((firsts[one.sheet] for one in some), key=lambda first: first[0])
        metal = Counter(sheets[place].metal for place in new)
        yield DayRow(
            day, sheet.group_plan, sheet.layout, len(new),
            None if sheet.minutes is None else sum(one.minutes for one in some), tuple(metal.items()),
            order.due if order else "", order.name if order else "",
            max(0, (day - due).days) if order else 0, goes_on=len(new) < len(some),
        )  # fmt: skip


def _metal(
    plan: Plan, sheets: Sequence[_Sheet], latest: Mapping[int, Day], today: Day
) -> Iterator[MetalNeed]:
    """The sheets that are not here, by size and where they come from, the first needed first."""
    needs = []
    for group_plan in plan.groups:
        for count in group_plan.sheets:
            for source, number in ((Source.TO_COME, count.on_order), (Source.TO_BUY, count.to_buy)):
                waiting = [
                    (sheet, latest.get(place)) for place, sheet in enumerate(sheets)
                    if sheet.metal.source is source and sheet.layout.sheet == count.sheet
                ]  # fmt: skip
                if waiting:
                    needs.append(_need(group_plan, count, source, number, waiting, today))
    yield from sorted(needs, key=lambda need: need.here_by or NO_DUE)


def _need(
    group_plan: GroupPlan, count: SheetCount, source: Source, number: int,
    waiting: Sequence[tuple[_Sheet, Day | None]], today: Day,
) -> MetalNeed:  # fmt: skip
    """What waits for the sheets of one size, each with the day by which it has to be cut."""
    days = [sheet.metal.day for sheet, _ in waiting]
    comes = None if None in days else max(day for day in days if day)
    late = max((_ready(sheet.metal, today) - by for sheet, by in waiting if by), default=NO_TIME)
    by = min((by for _, by in waiting if by), default=None)
    return MetalNeed(group_plan, count, source, number, by, comes, max(0, late.days))
