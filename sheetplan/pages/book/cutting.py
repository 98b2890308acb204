"""The page `Cutting order`: which layout is cut on which day, what is late, which metal must be here when."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from sheetplan.model import Plan, Remnant
from sheetplan.money.cutting_days import MOST_DAYS, Day
from sheetplan.money.cutting_plan import CuttingPlan, DayRow, Metal, MetalNeed, OrderEnd, Source
from sheetplan.money.figures import PlanFigures
from sheetplan.pages.values import (
    CUTTING_PAGE,
    Cell,
    Chart,
    ChartKind,
    Column,
    Headline,
    Kind,
    Link,
    ResultPage,
    ResultTable,
)
from sheetplan.pages.wording import (
    WEEKDAYS,
    date_text,
    day_text,
    minutes_text,
    moves_said,
    sheet_text,
    size_text,
)
from sheetplan.trade.sentences import counted, named, number

CUTTING = (
    Column("Day", width=15),
    Column("Layout", width=9),
    Column("Times", Kind.COUNT, 9),
    Column("Gauge", width=22),
    Column("Sheet", width=20, wrap=True),
    Column("Metal", width=24, wrap=True),
    Column("Time", width=12),
    Column("First due", width=12),
    Column("For order", width=16),
    Column("Cut so far", Kind.COUNT, 10),
    Column("Days late", Kind.COUNT, 9),
)
BY_DAY = (
    Column("Day", width=15),
    Column("Layouts", Kind.COUNT, 9),
    Column("Sheets", Kind.COUNT, 9),
    Column("Cutting", Kind.COUNT, 22),
    Column("Free", Kind.COUNT, 20),
)
LATE = (
    Column("Order", width=15),
    Column("Asked", Kind.COUNT, 9),
    Column("Days late", Kind.COUNT, 9),
    Column("Item", width=22),
    Column("Due", width=20),
    Column("Finished", width=24, wrap=True),
)
METAL = (
    Column("Sheet", width=15),
    Column("Sheets", Kind.COUNT, 9),
    Column("Lead days", Kind.COUNT, 10),
    Column("Gauge", width=22),
    Column("Size", width=20),
    Column("Metal", width=24, wrap=True),
    Column("Here by", width=12),
    Column("Order by", width=12),
    Column("Supplier", width=16),
    Column("Days late", Kind.COUNT, 9),
)

ALL_HERE = "Metal that is not here: none, all that the plan cuts is on hand"
BY_DAY_SAID = "Minutes of cutting by day, and what is left of the hours of the day"
LATE_SAID = "Orders that cannot be done in time"
METAL_SAID = "Metal that is not here: the day by whose morning it is needed, so that every order is in time"
DAYS_CHART = Chart("Minutes of the machine by day", ChartKind.STACKED, "Day", ("Cutting", "Free"), "Minutes")

MOST_BARS = 62
"""Days of two months are all shown; of a longer time those alone on which something is cut."""

MOST_NAMED = 4
"""Orders or sizes that a sentence names; the others are counted."""

FILLED_SAID = (
    "How days are filled: of what has its metal, the layout that is due first comes next; a sheet that does "
    "not fit into the rest of a day waits for the next one. The day of the plan counts with all its hours. "
    "Time is cutting and moves, with the minutes to load, square and unload each sheet that Settings state, "
    "as on the ticket; minutes to clean parts are none of the table's. Tickets lie in the same order."
)
METAL_NOTE = (
    "What is to buy comes its Lead days (page Stock) after the plan, if it is ordered on that day; "
    "what is on order, its Lead days after it was marked as ordered or, where that day is not on record, "
    "after the plan."
)
DUE_SAID = (
    "First due and For order: the order that must be made and waits first for what is cut on that day. Cut "
    "so far is counted up as cuts are recorded; the days stay those of the plan until the next one."
)
TOO_MANY_DAYS = (
    f"Cutting takes more than {MOST_DAYS:,} days: look at Feed on the page Cutting and at Cutting hours in "
    "Settings."
)


def cutting_page(
    plan: Plan | None,
    figures: PlanFigures | None,
    found: CuttingPlan | None,
    *,
    today: Day | None = None,
    rows: Mapping[str, int] | None = None,
) -> ResultPage:
    """The page; without a plan, the same tables empty.

    ``found`` are the days of the plan, None where there are too many; ``rows`` is the row of each layout on
    the page Layouts.
    """
    if plan is None or figures is None or today is None:
        return _page((), (), (), (), (), ())
    if found is None:
        return _page((TOO_MANY_DAYS,), (), (), (), (), ())
    page = _page(
        tuple(_lines(plan, figures, found, today)),
        tuple(_row(plan, row, rows or {}) for row in found.rows),
        tuple(_day_rows(found)),
        tuple(_late(one) for one in found.late),
        tuple(_need(plan, one) for one in found.metal),
        (DUE_SAID, FILLED_SAID, *((METAL_NOTE,) if found.metal else ())),
    )
    return replace(page, headlines=tuple(_headlines(found)))


def _page(
    lines: Sequence[str],
    cutting: tuple[tuple[Cell, ...], ...],
    by_day: tuple[tuple[Cell, ...], ...],
    late: tuple[tuple[Cell, ...], ...],
    metal: tuple[tuple[Cell, ...], ...],
    notes: tuple[str, ...],
) -> ResultPage:
    tables = (
        ResultTable("CuttingOrder", CUTTING, cutting),
        ResultTable("CuttingDays", BY_DAY, by_day, BY_DAY_SAID, chart=DAYS_CHART),
        ResultTable("LateOrders", LATE, late, LATE_SAID if late or not cutting else f"{LATE_SAID}: none"),
        ResultTable("MetalNeeded", METAL, metal, METAL_SAID if metal or not cutting else ALL_HERE),
    )
    return ResultPage(CUTTING_PAGE, "What is cut on which day", tuple(lines), tables, notes=notes)


def weekdays_text(days: Sequence[int]) -> str:
    """Days of the week in words, such as ``Mon to Fri`` or ``Mon, Wed, Sat``."""
    if len(days) == len(WEEKDAYS):
        return "every day"
    if len(days) > 2 and days[-1] - days[0] == len(days) - 1:
        return f"{WEEKDAYS[days[0]]} to {WEEKDAYS[days[-1]]}"
    return ", ".join(WEEKDAYS[day] for day in days)


def _headlines(found: CuttingPlan) -> Iterator[Headline]:
    """When all is cut, how much of it is late, and when metal has to be ordered at the latest."""
    if not found.rows:
        return
    yield Headline("Last day of cutting", day_text(max(found.minutes)), columns=3)
    yield Headline("Order lines late", len(found.late), Kind.COUNT)
    first = min((one.order_by for one in found.metal if one.order_by), default=None)
    if first:
        yield Headline("Order metal by", day_text(first), columns=1)


def _lines(plan: Plan, figures: PlanFigures, found: CuttingPlan, today: Day) -> Iterator[str]:
    """When it is done and what is late first; then what the days leave out."""
    settings = plan.job.settings
    if not found.rows:
        yield "Nothing to cut."
        return
    sheets = sum(row.times for row in found.rows)
    days = sorted(found.minutes)
    span = day_text(days[0]) if len(days) == 1 else f"{day_text(days[0])} to {day_text(days[-1])}"
    hours = f"{number(settings.cutting_hours, 2)} hours a day, {weekdays_text(settings.cutting_days)}"
    yield (
        f"{counted(sheets, 'sheet')} on {counted(len(days), 'day')} of cutting, {span}. The table cuts "
        f"{hours}: see Settings."
    )
    yield _late_line(plan, found)
    yield from _metal_lines(found, today)
    if figures.without_feed:
        yield (
            f"Time not known: {', '.join(figures.without_feed)}. The page Cutting has no feed for it; its "
            "sheets stand where they are due and take no time."
        )
    if found.too_long:
        yield f"One sheet takes longer than a day and goes on over the next: {', '.join(found.too_long)}."
    moves = moves_said(plan)
    if moves:
        yield moves


def warnings(plan: Plan, found: CuttingPlan | None, today: Day) -> Iterator[str]:
    """What of the days an owner has to know first: what is late, and metal that should be ordered."""
    if found is not None and found.rows:
        if found.late:
            yield f"{_late_line(plan, found)} See the page Cutting order."
        yield from _past(found, today)


def _late_line(plan: Plan, found: CuttingPlan) -> str:
    if not found.late:
        dated = any(order.due for order in plan.job.orders)
        return "Every order with a date is in time." if dated else "No order has a date."
    worst: dict[str, OrderEnd] = {}
    for one in found.late:
        known = worst.get(one.order.name)
        if known is None or (one.finished is None, one.late) > (known.finished is None, known.late):
            worst[one.order.name] = one
    orders = counted(len(worst), "order")
    lines = "" if len(worst) == len(found.late) else f"{counted(len(found.late), 'line')} of "
    said = named(map(_by_days, worst.values()), MOST_NAMED)
    return f"{lines}{orders} cannot be done in time: {said}."


def _by_days(one: OrderEnd) -> str:
    late = f"by {counted(one.late, 'day')}" if one.finished else "in part"
    return f"{one.order.name} {late}"


def _past(found: CuttingPlan, today: Day) -> Iterator[str]:
    """What to buy that comes too late, and what has to be ordered today."""
    late = [one for one in found.metal if one.late]
    buy = [f"{one.count.sheet.name} by {counted(one.late, 'day')}" for one in late if one.order_by]
    if buy:
        yield f"The last day to order in time is past: {named(buy, MOST_NAMED)}."
    now = [one.count.sheet.name for one in found.metal if one.order_by == today]
    if now:
        yield f"To be ordered today: {named(now, MOST_NAMED)}."


def _metal_lines(found: CuttingPlan, today: Day) -> Iterator[str]:
    late = [one for one in found.metal if one.late]
    yield from _past(found, today)
    come = [f"{one.count.sheet.name} by {counted(one.late, 'day')}" for one in late if not one.order_by]
    if come:
        yield f"Needed earlier than it can be here: {named(come, MOST_NAMED)}."
    overdue = [one.count.sheet.name for one in found.metal if one.comes and one.comes < today]
    if overdue:
        yield f"Overdue, planned as if it came today: {named(overdue, MOST_NAMED)}."
    unknown = [one.count.sheet.name for one in found.metal if one.count.sheet.lead_days is None]
    if unknown:
        yield (
            f"When metal comes is not known, and planned as if it came at once: "
            f"{named(dict.fromkeys(unknown), MOST_NAMED)}. Stock has no Lead days for it."
        )


def _row(plan: Plan, row: DayRow, rows: Mapping[str, int]) -> tuple[Cell, ...]:
    tag = row.layout.tag
    hours = None if row.minutes is None else row.minutes / 60.0
    return (
        day_text(row.day),
        Link(tag, f"#Layouts!A{rows[tag]}") if tag in rows else tag,
        row.times,
        row.group_plan.group.label,
        sheet_text(row.layout.sheet, plan.job.settings.units)
        if isinstance(row.layout.sheet, Remnant) else row.layout.sheet.name,
        _metal(row),
        minutes_text(hours),
        row.due or None,
        row.order or None,
        0,
        row.late or None,
    )  # fmt: skip


def _metal(row: DayRow) -> str:
    said = [metal_text(metal) if len(row.metal) == 1 else f"{times} {metal_text(metal)}" for metal, times in
            row.metal]  # fmt: skip
    return "\n".join([*said, *(["goes on"] if row.goes_on else [])])


def metal_text(metal: Metal) -> str:
    """Whether metal is there: ``on hand``, ``to come 2026-12-04``, ``to buy``."""
    if metal.source is Source.ON_HAND or metal.day is None:
        return str(metal.source)
    here = "" if metal.source is Source.TO_COME else ", here"
    return f"{metal.source}{here} {date_text(metal.day)}"


def _day_rows(found: CuttingPlan) -> Iterator[tuple[Cell, ...]]:
    by_day: dict[Day, list[DayRow]] = {}
    for row in found.rows:
        by_day.setdefault(row.day, []).append(row)
    days = found.days
    for day in days if len(days) <= MOST_BARS else sorted(found.minutes):
        rows, cutting = by_day.get(day, []), round(found.minutes.get(day, 0.0))
        yield (
            day_text(day), len(rows), sum(row.times for row in rows), cutting,
            max(0, round(found.calendar.minutes) - cutting),
        )  # fmt: skip


def _late(one: OrderEnd) -> tuple[Cell, ...]:
    finished = day_text(one.finished) if one.finished else "not all of it is planned: see Made"
    return (
        one.order.name, one.order.quantity, one.late or None, one.order.item, one.order.due, finished
    )  # fmt: skip


def _need(plan: Plan, one: MetalNeed) -> tuple[Cell, ...]:
    sheet = one.count.sheet
    return (
        sheet.name,
        one.sheets,
        sheet.lead_days,
        one.group_plan.group.label,
        size_text(sheet.length, sheet.width, plan.job.settings.units),
        metal_text(Metal(one.source, one.comes)),
        date_text(one.here_by) if one.here_by else "no date",
        date_text(one.order_by) if one.order_by else None,
        sheet.supplier or "not said",
        one.late or None,
    )
