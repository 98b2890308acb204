"""The page `Stock log`: every step that is no cut, a row for each size of sheet or part, the latest last."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sheetplan.pages.values import Cell, Column, Kind, ResultPage, ResultTable
from sheetplan.rack.step import Kind as StepKind
from sheetplan.rack.step import Step

NAME = "Stock log"
TABLE = "StockLog"

COLUMNS = (
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
    table = ResultTable(TABLE, COLUMNS, rows)
    return ResultPage(NAME, "Sheets and finished parts", lines, (table,))


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
