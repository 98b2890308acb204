"""The column Order it of the page Quotes: which quotes become orders; and what a check says of that page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.app.check import CheckOutcome, check_tables
from sheetplan.app.quoted_drawings import OF_DRAWING, on_its_page, with_drawn
from sheetplan.model import Job, Problem, Weight
from sheetplan.model.job import QuoteLine
from sheetplan.workbook.columns import MONTH_PAGES, PARTS, QUOTES
from sheetplan.workbook.reading.cells import CellFault, count_of
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import BookTables, RawRow

if TYPE_CHECKING:
    from sheetplan.workbook.reading.rows import Place

ORDERED = "ordered"
"""Begins what the tool writes into Order it."""

YES = frozenset(("yes", "y", "x", "true"))
NOT_MARKED = frozenset(("", "no", "-", "0", "false"))


def is_ordered(line: QuoteLine) -> bool:
    """Whether its row says that it became an order."""
    return normal(line.order).startswith(ORDERED)


def marked(
    lines: Sequence[QuoteLine], places: Mapping[str, Place], job: Job
) -> tuple[dict[str, int], tuple[Problem, ...]]:
    """The quantities of quotes that become orders, and what is wrong with marks: such a row is priced."""
    taken = {normal(order.name) for order in job.orders}
    taken |= {normal(one.order.name) for one in job.progress}
    found: dict[str, int] = {}
    problems = []
    for line in lines:
        if normal(line.order) in NOT_MARKED or is_ordered(line):
            continue
        quantity = _quantity(line)
        what, remedy = "", ""
        if normal(line.name) in taken:
            what, remedy = f"There is an order {line.name} already.", "Give the quote another name."
        elif quantity is None or quantity not in line.quantities or not quantity:
            many = "; ".join(f"{one:,}" for one in line.quantities)
            what = f"`{line.order}` does not say which of the quantities of {line.name} is ordered: {many}."
            remedy = "Write that quantity into Order it."
        if what:
            remedy = f"{remedy} It is no order until then."
            problems.append(places[line.name].problem("Order it", what, remedy, Weight.NOTE))
        else:
            found[line.name] = quantity or 0
    return found, tuple(problems)


def _quantity(line: QuoteLine) -> int | None:
    if normal(line.order) in YES:
        return line.quantities[0] if len(line.quantities) == 1 else None
    try:
        return count_of(line.order)
    except CellFault:
        return None


# What a check and a plan say of the page, which they do not need.


def with_quotes(checked: CheckOutcome, tables: BookTables, book: Path | None) -> CheckOutcome:
    """The outcome with what is wrong on the page Quotes, of rows that are no orders yet."""
    table = tables.tables.get(QUOTES.name)
    if table is None or checked.job is None:
        return checked
    rows = tuple(row for row in table.rows if not says_ordered(row))
    open_ = replace(tables, tables={**tables.tables, QUOTES.name: replace(table, rows=rows)})
    settled = {row.number for row in table.rows} - {row.number for row in rows}
    read = _of_rows(tables, checked.job)  # all rows, since a name may stand on one that is ordered
    found = [one for one in read if one.row not in settled] + _of_drawings(open_, book)
    problems = (
        replace(one, weight=Weight.NOTE) if one.weight is Weight.STOPS else one for one in found
    )  # no plan waits for a quote
    return replace(checked, problems=(*checked.problems, *problems))


def says_ordered(row: RawRow) -> bool:
    """Whether a row of the page Quotes became an order: nothing is asked of it any more."""
    cells = [cell.value for heading, cell in row.cells.items() if normal(heading) == normal("Order it")]
    return any(isinstance(value, str) and normal(value).startswith(ORDERED) for value in cells)


def _of_rows(tables: BookTables, job: Job) -> list[Problem]:
    from sheetplan.workbook.reading.orders import read_quotes

    items = {normal(name): name for name in (*job.parts, *job.kits)}
    read = read_quotes(tables.tables[QUOTES.name], job.settings.units, items)
    places = {one.value.name: one.place for one in read.rows}
    _, wrong = marked([one.value for one in read.rows], places, job)
    return [*read.problems, *wrong]


_NO_SAY_ON_PARTS = {page.name for page in (QUOTES, *MONTH_PAGES)}


def _of_drawings(tables: BookTables, book: Path | None) -> list[Problem]:
    """What is wrong with rows that name a drawing: read as the page Parts would be, with no other part."""
    parts = with_drawn(tables).tables.get(PARTS.name)
    rows = tuple(row for row in parts.rows if row.number > OF_DRAWING) if parts else ()
    if parts is None or not rows:
        return []
    needed = {name: table for name, table in tables.tables.items() if name not in _NO_SAY_ON_PARTS}
    alone = replace(tables, tables={**needed, PARTS.name: replace(parts, rows=rows)})
    page = tables.tables[QUOTES.name].page
    found = check_tables(alone, book, rack=False).problems
    return [on_its_page(one, page) for one in found if (one.row or 0) > OF_DRAWING]
