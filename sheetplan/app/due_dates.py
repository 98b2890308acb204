"""Remarks on orders that are due already: the plan is made as it is, but somebody should know."""

from __future__ import annotations

import datetime

from sheetplan.model import Job, Order, Problem, Weight

MOST_ROWS = 8
"""More orders than this that are due already are one remark: the book is of a month gone by."""

_REMEDY = "Cut these first, or write the date that was agreed since; the order of the tickets follows Due."


def due_notes(job: Job, today: datetime.date) -> tuple[Problem, ...]:
    """A note for each order that has to be made and was due before today, the longest due first."""
    day = today.isoformat()
    late = sorted((o for o in job.orders if o.must and o.due and o.due < day), key=lambda order: order.due)
    if len(late) <= MOST_ROWS:
        return tuple(_note(order, f"{order.name}, {order.item}: was due {order.due}.") for order in late)
    first = late[0]
    said = f"{len(late):,} orders were due before {day}, the first of them {first.name} on {first.due}."
    return (Problem("Orders", None, None, said, _REMEDY, Weight.NOTE),)


def _note(order: Order, what: str) -> Problem:
    return Problem("Orders", order.line or None, None, what, _REMEDY, Weight.NOTE)
