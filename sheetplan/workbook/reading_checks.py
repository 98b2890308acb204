"""Limits on the whole book."""

from __future__ import annotations

from sheetplan.model.job import Kit, Order
from sheetplan.model.problem import Problem
from sheetplan.workbook.rows.reader import PageRead

MOST_PIECES = 200_000
"""Pieces in one plan: ten times the largest month that the tool is tried on; more is a typing mistake."""


def too_many_pieces(orders: PageRead[Order], kits: PageRead[Kit]) -> list[Problem]:
    """A finding on the largest order where all orders together ask for an absurd number of pieces."""
    in_kit = {read.value.name: sum(read.value.parts.values()) for read in kits.rows}
    pieces = [(read.value.quantity * in_kit.get(read.value.item, 1), read) for read in orders.rows]
    total = sum(count for count, _ in pieces)
    if total <= MOST_PIECES:
        return []
    most, read = max(pieces, key=lambda entry: entry[0])
    return [
        read.place.problem(
            "Quantity",
            f"The orders ask for {total:,} pieces, {most:,} of them here; "
            f"at most {MOST_PIECES:,} are planned at a time.",
            "Check the quantity, or plan the orders in several books.",
        )
    ]
