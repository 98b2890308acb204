"""The page `Cut log`: one row for each recorded cut, the latest last."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sheetplan.pages.values import Cell, Column, Kind, ResultPage, ResultTable, without_empty
from sheetplan.pages.wording import counted
from sheetplan.rack.step import Step

NAME = "Cut log"
TABLE = "CutLog"

COLUMNS = (
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
    table = without_empty(ResultTable(TABLE, COLUMNS, rows), SELDOM)
    return ResultPage(NAME, "Cuts recorded", lines, (table,))


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
