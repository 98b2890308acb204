"""On which day each sheet is cut by one machine: forward as metal comes, backward from the days due."""

from __future__ import annotations

import datetime
import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

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
