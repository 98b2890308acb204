"""The page `Buy`: what to order, by supplier and gauge, what each supplier delivers, and what is on order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from math import fsum

from sheetplan.model import Plan, Settings
from sheetplan.model.job import AS_WEIGHED
from sheetplan.money.buy_list import BuyLine, buy_list, supplier_totals
from sheetplan.money.cents import cent
from sheetplan.money.cutting_days import Day
from sheetplan.money.cutting_plan import CuttingPlan, order_days
from sheetplan.money.figures import Lift, sheets_at_once
from sheetplan.pages.values import Cell, Column, Kind, Link, ResultPage, ResultTable
from sheetplan.pages.wording import day_text, size_text, weight_text
from sheetplan.trade.sentences import counted
from sheetplan.trade.starter import DEFERENCE, GENERAL

COLUMNS = (
    Column("Supplier", width=18),
    Column("Gauge", width=22),
    Column("Sheet", width=14),
    Column("Size", width=16),
    Column("Sheets", Kind.COUNT, 7),
    Column("Weight", Kind.WEIGHT, 9),
    Column("Price each", Kind.MONEY, 9),
    Column("To pay", Kind.MONEY, 10),
    Column("Order multiple", Kind.COUNT, 8),
    Column("For stock", Kind.COUNT, 7),
    Column("First due", width=12),
    Column("Order by", width=15, wrap=True),
    Column("For orders", width=36, wrap=True),
    Column("Weight each", Kind.WEIGHT, 9),
    Column("At once", Kind.COUNT, 7),
    Column("Lifts", Kind.COUNT, 6),
)
TOTALS = (
    Column("Supplier", width=18),
    Column("First due", width=22),
    Column("Sheets", Kind.COUNT, 14),
    Column("Weight", Kind.WEIGHT, 16),
    Column("To pay", Kind.MONEY, 8),
)
FILES = (Column("File", width=18), Column("What for", width=22))

NOT_SAID = "not said"

PUBLISHED = "the published weight of its gauge"

LIFT_CAUTION = GENERAL[0]


def buy_page(
    plan: Plan | None, *, files: Mapping[str, str] | None = None, days: CuttingPlan | None = None,
    today: Day | None = None,
) -> ResultPage:  # fmt: skip
    """Sheets to order; without a plan, the same tables empty.

    ``files`` are what the list was also written to: path relative to the book, and what for. ``days`` say
    by when sheets have to be ordered.
    """
    if plan is None:
        return _page((), (), (), None, ())
    lines = buy_list(plan)
    totals = tuple(
        (total.supplier or NOT_SAID, total.needed_by or None, total.sheets, total.weight, total.price or None)
        for total in supplier_totals(lines)
    )
    by = order_days(days)
    rows = tuple(_row(plan, line, order_by_text(by.get(line.sheet), today)) for line in lines)
    page = _page(
        tuple(_lines(plan, lines)), rows, totals, _total(lines) if rows else None,
        _notes(plan) if rows else (),
    )  # fmt: skip
    return _with_files(page, files) if files else page


def line_lift(plan: Plan, line: BuyLine) -> Lift:
    """How the sheets of a line may be lifted off the truck."""
    at_once = sheets_at_once(line.weight, plan.job.settings.lift_limit)
    return Lift(line.gauge, line.sheet, line.weight, line.count, at_once)


def _page(
    lines: tuple[str, ...],
    rows: tuple[tuple[Cell, ...], ...],
    totals: tuple[tuple[Cell, ...], ...],
    total: tuple[Cell, ...] | None,
    notes: tuple[str, ...],
) -> ResultPage:
    tables = (
        ResultTable("BuyList", COLUMNS, rows, "By supplier and gauge", total),
        ResultTable("BuyTotals", TOTALS, totals, "By supplier, what there is to pay and to load"),
    )
    return ResultPage("Buy", "What to buy", lines, tables, notes=notes)


def _with_files(page: ResultPage, files: Mapping[str, str]) -> ResultPage:
    rows = tuple((Link(path.rpartition("/")[2], path), what) for path, what in files.items())
    table = ResultTable("BuyFiles", FILES, rows, "The same list to send and to print")
    return ResultPage(page.name, page.title, page.lines, (*page.tables, table), page.notes)


def _lines(plan: Plan, lines: tuple[BuyLine, ...]) -> Iterator[str]:
    counts = [count for group_plan in plan.groups for count in group_plan.sheets if count.on_order]
    coming = [f"{count.on_order} of {count.sheet.name}" for count in counts]
    if coming:
        yield f"On order already, used by this plan and not listed: {', '.join(coming)}."
    needed = Counter({count.sheet.name: count.on_order for count in counts})
    over = [f"{one.on_order - needed[one.name]} of {one.name}" for one in plan.job.stock
            if one.on_order > needed[one.name]]  # fmt: skip
    if over:
        yield f"On order and not needed by this plan: {', '.join(over)}."
    if not lines:
        there = "on hand and on order" if coming else "on hand"
        yield f"Nothing to buy: the sheets and remnants {there} are enough for this plan."
        return
    settings = plan.job.settings
    weight = weight_text(fsum(line.total_weight for line in lines), settings.units)
    yield (
        f"{counted(len(lines), 'line')} to order, {weight} in all. Prices are those of the page Stock, in "
        f"{settings.currency}."
    )
    billed = [
        f"{count.sheet.name} by {'its weight as billed' if count.sheet.billed_by == AS_WEIGHED else word}"
        for group_plan in plan.groups for count in group_plan.sheets
        if count.to_buy and (word := PUBLISHED if count.sheet.billed_by else "")
    ]  # fmt: skip
    if billed:
        yield f"Priced {', '.join(billed)}; all other prices per weight stand on the real weight."
    if any(line.for_stock for line in lines):
        yield "For stock: sheets beyond what this plan uses, because the supplier sells in lots."
    if not all(line.price for line in lines):
        yield "Some sheets have no price in Stock; they are left out of To pay."
    for line in lines:
        if line_lift(plan, line).too_heavy:
            each = weight_text(line.weight, settings.units)
            yield f"{line.sheet}: one sheet weighs {each}, over the lift limit. Plan how to unload it."


def order_by_text(day: Day | None, today: Day | None) -> str:
    """The last day on which to order so that every order is in time; empty where nobody knows it."""
    if day is None:
        return ""
    return f"{day_text(day)}, past" if today is not None and day < today else day_text(day)


def _row(plan: Plan, line: BuyLine, order_by: str) -> tuple[Cell, ...]:
    lift = line_lift(plan, line)
    return (
        line.supplier or NOT_SAID,
        line.gauge,
        line.sheet,
        size_text(line.length, line.width, plan.job.settings.units),
        line.count,
        line.total_weight,
        line.price or None,
        line.printed_price or None,
        line.multiple,
        line.for_stock or None,
        line.needed_by or None,
        order_by or None,
        ", ".join(line.orders),
        line.weight,
        lift.at_once,
        lift.lifts,
    )


def _total(lines: tuple[BuyLine, ...]) -> tuple[Cell, ...]:
    totals: dict[str, Cell] = {
        "Supplier": "Total",
        "Sheets": sum(line.count for line in lines),
        "Weight": fsum(line.total_weight for line in lines),
        "To pay": cent(fsum(line.printed_price for line in lines)),
    }
    return tuple(totals.get(column.heading) for column in COLUMNS)


ORDER_BY_SAID = (
    "First due: the earliest date of an order that is cut from these sheets. Order by: the last day for it, "
    "by the supplier's Lead days and the hours of cutting, so that every order is in time; empty without "
    "Lead days."
)


def _notes(plan: Plan) -> tuple[str, ...]:
    return ORDER_BY_SAID, lift_said(plan.job.settings), LIFT_CAUTION, DEFERENCE


def lift_said(settings: Settings) -> str:
    """What the column At once means in this book."""
    if settings.lift_limit is None:
        return "At once is empty: the page Settings states no lift limit."
    limit = weight_text(settings.lift_limit, settings.units)
    return f"At once: sheets in one lift of at most {limit}, the lift limit in Settings; 0: one is too heavy."
