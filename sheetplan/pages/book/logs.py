"""The pages `Cut log` and `Stock log`: a row for each recorded cut, and for each step that is no cut."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from sheetplan.pages.values import Cell, Column, Kind, ResultPage, ResultTable, without_empty
from sheetplan.rack.step import Kind as StepKind
from sheetplan.rack.step import Step
from sheetplan.trade.sentences import counted

# The page `Cut log`: one row for each recorded cut, the latest last.

CUT_LOG = "Cut log"
CUT_LOG_TABLE = "CutLog"

CUT_LOG_COLUMNS = (
    Column("Step", Kind.COUNT, 6),
    Column("Date", width=11),
    Column("Plan", width=7),
    Column("Layout", width=8),
    Column("Times cut", Kind.COUNT, 7),
    Column("Gauge", width=20, wrap=True),
    Column("Cut from", width=16, wrap=True),
    Column("Back to the rack", width=16, wrap=True),
    Column("Good pieces", width=30, wrap=True),
    Column("Bad pieces", width=14, wrap=True),
    Column("For orders", width=26, wrap=True),
    Column("By", width=10),
    Column("Heat", width=12),
    Column("Metal taken", Kind.WEIGHT, 9),
    Column("Parts", Kind.WEIGHT, 9),
    Column("Kept", Kind.WEIGHT, 9),
    Column("Waste", Kind.WEIGHT, 9),
    Column("Note", width=44, wrap=True),
)
SELDOM = ("Back to the rack", "Bad pieces", "For orders", "By", "Heat", "Note")
"""Columns that are hidden as long as no cut says anything there."""


def cut_log_page(steps: Iterable[Step], seal: str = "") -> ResultPage:
    """All steps in the order of their numbers; ``seal`` is the line of `rack.step.Seal`."""
    rows = tuple(_row(step) for step in sorted(steps, key=lambda step: step.number))
    lines = (
        f"{counted(len(rows), 'cut')} recorded. The tool writes this page; the last cut is taken back in "
        "the open book, or by `sheetplan undo`.",
        "Pieces that are cut for an order are not planned again as long as the cut stands here.",
        *([seal] if seal else []),
    )
    table = without_empty(ResultTable(CUT_LOG_TABLE, CUT_LOG_COLUMNS, rows), SELDOM)
    return ResultPage(CUT_LOG, "Cuts recorded", lines, (table,))


def _row(step: Step) -> tuple[Cell, ...]:
    w = step.weights
    orders = {(one.order, one.item): 0 for one in step.credits}
    for one in step.credits:
        orders[one.order, one.item] += one.pieces
    return (
        step.number, step.date, step.plan, step.layout, step.times, step.gauge,
        f"remnant {step.on}" if step.on else step.sheet,
        ", ".join(step.left) or None,
        pieces_text(step.pieces), pieces_text(step.bad),
        "\n".join(f"{order}: {pieces} for {item}" for (order, item), pieces in orders.items()) or None,
        step.by or None, step.heat or None,
        w.taken, w.parts, w.kept, w.taken - w.kept - w.parts,
        step.note or None,
    )  # fmt: skip


def pieces_text(pieces: Mapping[str, int]) -> str | None:
    """Pieces by part as a person reads them.

    >>> pieces_text({"CB-101": 12, "CB-100": 2})
    '12 x CB-101, 2 x CB-100'
    """
    return ", ".join(f"{count} x {part}" for part, count in pieces.items()) or None


# The page `Stock log`: every step that is no cut, a row for each size of sheet or part, the latest last.

STOCK_LOG = "Stock log"
STOCK_LOG_TABLE = "StockLog"

STOCK_LOG_COLUMNS = (
    Column("Step", Kind.COUNT, 6),
    Column("Date", width=11),
    Column("What", width=10),
    Column("Sheet or part", width=18),
    Column("Count", Kind.COUNT, 8),
    Column("Cut before they came", Kind.COUNT, 11),
    Column("On hand went up", Kind.COUNT, 9),
    Column("Paid", Kind.MONEY, 11),
    Column("Plan", width=7),
    Column("By", width=12),
    Column("Note", width=40, wrap=True),
)


def stock_log_page(steps: Iterable[Step], seal: str = "") -> ResultPage:
    """All orders and deliveries in the order of their numbers; ``seal`` as in `cut_log_page`."""
    rows = tuple(row for step in sorted(steps, key=lambda step: step.number) for row in _rows(step))
    lines = (
        "What was ordered and taken in, finished parts that went elsewhere, months closed. The tool writes "
        "this page; the last step is taken back in the open book, or by `sheetplan undo`.",
        "Sheets that a cut was recorded of before they came are not put on hand again.",
        *([seal] if seal else []),
    )
    table = ResultTable(STOCK_LOG_TABLE, STOCK_LOG_COLUMNS, rows)
    return ResultPage(STOCK_LOG, "Sheets and finished parts", lines, (table,))


def _went(step: Step) -> dict[str, int]:
    """Pieces by part that a step gave to orders or took from them; else those that a count corrected."""
    found: dict[str, int] = {}
    for one in step.credits:
        if one.pieces > 0:
            found[one.part] = found.get(one.part, 0) + one.pieces
    return found or dict(step.pieces)


def _rows(step: Step) -> Iterator[tuple[Cell, ...]]:
    if step.kind is StepKind.PARTS:
        went = step.bad or {part: abs(count) for part, count in _went(step).items()}
        named = ", ".join(went) or None
        yield (
            step.number, step.date, "parts", named, sum(went.values()) or None, *([None] * 4),
            step.by or None, step.note or None,
        )  # fmt: skip
    elif not step.lines:  # a month that was closed, or a step that only the page itself tells
        yield step.number, step.date, str(step.kind), *([None] * 5), step.plan or None, None, step.note
    for line in step.lines:
        paid = line.purchase.get("Paid")
        received = bool(line.purchase)
        yield (
            step.number, step.date, str(step.kind), line.sheet, line.count,
            line.covered if received else None, line.put_on_hand if received else None,
            float(paid) if isinstance(paid, int | float) else None,
            step.plan or None, step.by or None, step.note or None,
        )  # fmt: skip
