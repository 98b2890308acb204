"""Days of one machine: filled in the order due as metal comes, and backward from the days due."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.money.cutting_days import (
    MOST_DAYS,
    NO_DUE,
    Calendar,
    Day,
    SheetToCut,
    TooManyDays,
    Work,
    forward,
    latest_days,
)

MONDAY = datetime.date(2026, 11, 30)
HOUR = Calendar(60.0, (0, 1, 2, 3, 4))
EVERY_DAY = Calendar(60.0, tuple(range(7)))
HAIR = 1e-6


def day(ahead: int) -> Day:
    return MONDAY + datetime.timedelta(days=ahead)


def sheet(
    turn: int, minutes: float, ready: int = 0, due: int | None = None, *, comes: bool = False
) -> SheetToCut:
    return SheetToCut(turn, minutes, day(ready), NO_DUE if due is None else day(due), comes)


def days_of(work: Sequence[Work]) -> dict[int, list[Day]]:
    found: dict[int, list[Day]] = {}
    for one in work:
        found.setdefault(one.sheet, []).append(one.day)
    return found


def test_what_is_due_first_comes_first_and_days_are_filled_one_after_another() -> None:
    """By hand: 40 and 20 minutes fill Monday, the third goes on Tuesday."""
    sheets = [sheet(0, 30, due=9), sheet(1, 40, due=1), sheet(2, 20, due=2)]
    work = forward(sheets, HOUR, MONDAY)
    assert [(one.sheet, one.day) for one in work] == [(1, day(0)), (2, day(0)), (0, day(1))]


def test_what_waits_for_metal_lets_others_go_before_it() -> None:
    sheets = [sheet(0, 30, ready=2, due=1), sheet(1, 30, due=8), sheet(2, 30)]
    work = forward(sheets, HOUR, MONDAY)
    assert [(one.sheet, one.day) for one in work] == [(1, day(0)), (2, day(0)), (0, day(2))]


def test_a_sheet_that_does_not_fit_into_the_rest_of_a_day_is_not_overtaken() -> None:
    work = forward([sheet(0, 40, due=1), sheet(1, 30, due=2), sheet(2, 20, due=3)], HOUR, MONDAY)
    assert [(one.sheet, one.day) for one in work] == [(0, day(0)), (1, day(1)), (2, day(1))]


def test_days_on_which_the_table_does_not_cut_are_passed_over() -> None:
    friday = day(4)
    work = forward([sheet(0, 50), sheet(1, 50), sheet(2, 50, ready=12)], HOUR, friday)
    assert [one.day for one in work] == [friday, day(7), day(14)]  # day 12 is a Saturday


def test_a_sheet_longer_than_a_day_begins_fresh_and_goes_on() -> None:
    work = forward([sheet(0, 10), sheet(1, 130), sheet(2, 40)], HOUR, MONDAY)
    said = [(one.sheet, one.day, one.minutes, one.ends) for one in work]
    assert said == [
        (0, day(0), 10, True), (1, day(1), 60, False), (1, day(2), 60, False), (1, day(3), 10, True),
        (2, day(3), 40, True),
    ]  # fmt: skip


def test_work_without_end_is_refused() -> None:
    endless = [sheet(0, 61.0 * MOST_DAYS, due=3)]
    with pytest.raises(TooManyDays):
        forward(endless, HOUR, MONDAY)
    with pytest.raises(TooManyDays):
        latest_days(endless, HOUR)


def test_the_latest_days_by_hand() -> None:
    """Due Thursday: two of 40 minutes, Thursday and Wednesday; one of 20 fits beside the later one."""
    found = latest_days([sheet(0, 40, due=3), sheet(1, 40, due=3), sheet(2, 20, due=3)], HOUR)
    assert found == {2: day(3), 1: day(3), 0: day(2)}
    assert latest_days([sheet(0, 40)], HOUR) == {}


def test_metal_to_come_gets_the_latest_day_and_what_is_there_goes_before_it() -> None:
    found = latest_days([sheet(0, 60, due=2, comes=True), sheet(1, 60, due=2), sheet(2, 60, due=2)], HOUR)
    assert found == {0: day(2), 2: day(1), 1: day(0)}


def test_the_latest_day_of_a_sheet_longer_than_a_day_is_the_one_on_which_it_begins() -> None:
    assert latest_days([sheet(0, 130, due=4)], HOUR) == {0: day(2)}


weeks = st.sets(st.integers(0, 6), min_size=1).map(lambda days: tuple(sorted(days)))
calendars = st.builds(Calendar, st.floats(20.0, 120.0), weeks)
some_sheets = st.lists(
    st.builds(
        sheet, st.integers(0, 5), st.floats(0.0, 150.0), st.integers(0, 12), st.none() | st.integers(-5, 25),
        comes=st.booleans(),
    ),
    max_size=14,
)  # fmt: skip


@given(some_sheets, calendars)
def test_every_sheet_is_cut_once_within_hours_and_after_its_metal(
    sheets: list[SheetToCut], calendar: Calendar
) -> None:
    work = forward(sheets, calendar, MONDAY)
    assert sorted(one.sheet for one in work if one.ends) == list(range(len(sheets)))
    done = Counter[int]()
    by_day = Counter[Day]()
    for one in work:
        done[one.sheet] += one.minutes  # type: ignore[assignment]
        by_day[one.day] += one.minutes  # type: ignore[assignment]
        assert one.day >= max(sheets[one.sheet].ready, MONDAY)
        assert one.day.weekday() in calendar.weekdays
    assert all(minutes <= calendar.minutes + HAIR for minutes in by_day.values())
    assert all(done[place] == pytest.approx(one.minutes) for place, one in enumerate(sheets))
    for place, days in days_of(work).items():
        if sheets[place].minutes <= calendar.minutes:
            assert len(days) == 1


@given(some_sheets, calendars)
def test_what_is_due_first_is_never_passed_over_once_its_metal_is_there(
    sheets: list[SheetToCut], calendar: Calendar
) -> None:
    begun = {}
    for turn, one in enumerate(forward(sheets, calendar, MONDAY)):
        begun.setdefault(one.sheet, (turn, one.day))
    for here, one in enumerate(sheets):
        for there, other in enumerate(sheets):
            if (one.due, one.turn) < (other.due, other.turn) and begun[here][0] > begun[there][0]:
                assert one.ready > begun[there][1]


@given(some_sheets, calendars)
def test_backward_no_day_holds_more_than_its_hours_and_nothing_is_late(
    sheets: list[SheetToCut], calendar: Calendar
) -> None:
    found = latest_days(sheets, calendar)
    assert set(found) == {place for place, one in enumerate(sheets) if one.due != NO_DUE}
    by_day = Counter[Day]()
    for place, on in found.items():
        assert on <= sheets[place].due
        assert on.weekday() in calendar.weekdays
        by_day[on] += sheets[place].minutes if sheets[place].minutes <= calendar.minutes else 0.0  # type: ignore[assignment]
    assert all(minutes <= calendar.minutes + HAIR for minutes in by_day.values())


ALIKE = 20.0
"""Minutes of each sheet of the small cases: three a day."""

small = st.lists(
    st.builds(sheet, st.integers(0, 3), st.just(ALIKE), st.integers(0, 3), st.integers(0, 4)),
    min_size=1, max_size=6,
)  # fmt: skip


def every_way(sheets: Sequence[SheetToCut], days: int) -> Iterator[tuple[int, ...]]:
    """Every way to put sheets on days, three on a day, none before its metal."""
    for way in product(range(days), repeat=len(sheets)):
        if max(Counter(way).values()) <= 60.0 / ALIKE and all(
            day(on) >= one.ready for on, one in zip(way, sheets, strict=True)
        ):
            yield way


def lateness(sheets: Sequence[SheetToCut], way: Sequence[int]) -> int:
    return max((day(on) - one.due).days for on, one in zip(way, sheets, strict=True))


@given(small)
def test_of_sheets_alike_no_other_way_is_less_late(sheets: list[SheetToCut]) -> None:
    """Against every way there is: of sheets of one length the earliest due first is the best."""
    work = forward(sheets, EVERY_DAY, MONDAY)
    on = {one.sheet: (one.day - MONDAY).days for one in work}
    ours = lateness(sheets, [on[place] for place in range(len(sheets))])
    assert ours == min(lateness(sheets, way) for way in every_way(sheets, 5))


@given(small)
def test_the_day_by_which_metal_must_be_here_is_the_latest_that_there_is(sheets: list[SheetToCut]) -> None:
    """One sheet is to come: against every way in which all are in time, on days up to the last due."""
    first, *others = (SheetToCut(one.turn, one.minutes, MONDAY, one.due) for one in sheets)
    asked = [SheetToCut(first.turn, first.minutes, MONDAY, first.due, to_come=True), *others]
    in_time = [way for way in every_way([first, *others], 5) if lateness(asked, way) <= 0]
    by = latest_days(asked, EVERY_DAY)
    if in_time:
        assert by[0] == day(max(way[0] for way in in_time))
    assert bool(in_time) == (min(by.values()) >= MONDAY)
