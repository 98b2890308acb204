"""Remarks on orders that are due already: the plan is made as it is, but somebody should know."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from types import MappingProxyType

from sheetplan.model import Job, Order, Problem, Weight
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.tables import BookTables

NO_CELLS: Mapping[int, str] = MappingProxyType({})

MOST_ROWS = 8
"""More orders than this that are due already are one remark: the book is of a month gone by."""

_REMEDY = "Cut these first, or write the date that was agreed since; the order of the tickets follows Due."


def due_notes(job: Job, today: datetime.date, cells: Mapping[int, str] = NO_CELLS) -> tuple[Problem, ...]:
    """A note for each order that has to be made and was due before today, the longest due first.

    ``cells`` are the addresses of the due dates by their rows.
    """
    day = today.isoformat()
    late = sorted((o for o in job.orders if o.must and o.due and o.due < day), key=lambda order: order.due)
    if len(late) <= MOST_ROWS:
        return tuple(_note(order, cells) for order in late)
    first = late[0]
    said = f"{len(late):,} orders were due before {day}, the first of them {first.name} on {first.due}."
    return (Problem("Orders", None, None, said, _REMEDY, Weight.NOTE),)


def _note(order: Order, cells: Mapping[int, str]) -> Problem:
    what = f"{order.name}, {order.item}: was due {order.due}."
    return Problem("Orders", order.line or None, cells.get(order.line), what, _REMEDY, Weight.NOTE)


def due_cells(tables: BookTables) -> Mapping[int, str]:
    """Addresses of the due dates on the page Orders by their rows."""
    table = tables.tables.get("Orders")
    return {
        row.number: cell.address
        for row in (table.rows if table else ())
        for heading, cell in row.cells.items()
        if normal(heading) == "due"
    }
