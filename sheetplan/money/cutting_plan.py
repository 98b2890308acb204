"""A plan by days: which layout is cut on which day, what comes too late, and which metal must be here."""

from __future__ import annotations

import datetime
from collections import Counter, deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from sheetplan.model import GroupPlan, Layout, Order, Plan, Remnant, SheetCount
from sheetplan.model.job import NO_DATE
from sheetplan.money.cutting_days import (
    NO_DUE,
    Calendar,
    Day,
    SheetToCut,
    TooManyDays,
    Work,
    forward,
    latest_days,
)
from sheetplan.money.cutting_order import Turn, cutting_order
from sheetplan.money.figures import PlanFigures

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
