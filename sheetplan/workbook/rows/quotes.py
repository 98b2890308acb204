"""The page Quotes: what is asked the price of."""

from __future__ import annotations

import re
from collections.abc import Mapping

from sheetplan.model.problem import Weight
from sheetplan.money.quoting import QuoteLine
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import QUOTES
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import CellFault, count_of, day_of, mark_up_of, name_of, text_of, word_of
from sheetplan.workbook.rows.names import did_you_mean, once_only
from sheetplan.workbook.rows.reader import PageRead, Read, RowReader, column_problems, readers
from sheetplan.workbook.tables import CellValue, RawTable
from sheetplan.workbook.words import PriceBy

MOST_QUANTITIES = 12
"""Quantities of one row; each is planned twice."""

_APART = re.compile(r"\s*(?:;|/|\band\b|,\s+|\s{2,})\s*")
_SHORT_COMMAS = re.compile(r"[0-9]{1,6}(?:,[0-9]{1,6})+")
_THOUSANDS = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+")


def read_quotes(table: RawTable, units: Units, items: Mapping[str, str]) -> PageRead[QuoteLine]:
    """All usable rows; a faulty row is left out. ``items`` are kits and parts by their names as compared."""
    problems = list(column_problems(QUOTES, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads = []
    for row in readers(QUOTES, table, units):
        line = _line(row, items)
        problems += row.problems
        if line is not None:
            reads.append(Read(line, row.place))
    kept, _, more = once_only(reads, lambda line: line.name, "Quote", {})
    return PageRead(kept, {}, (*problems, *more))


def _line(row: RowReader, items: Mapping[str, str]) -> QuoteLine | None:
    name = row.need("Quote", name_of, "")
    item = _item(row, name, items)
    none: tuple[int, ...] = ()
    quantities = row.need("Quantity", quantities_of, none)
    wanted = row.may("Wanted", day_of, "", Weight.NOTE)
    customer = row.may("Customer", text_of, "")
    mark_up = row.may("Mark-up", mark_up_of, None)
    by_month = row.may("Price by", word_of(PriceBy), PriceBy.ALONE) is PriceBy.THIS_MONTH
    if not row.ok:
        return None
    return QuoteLine(
        name, item, quantities, wanted, customer, mark_up, by_month, row.may("Order it", text_of, ""),
        row.may("Drawing", text_of, ""), row.may("Material", text_of, ""), row.may("Thickness", text_of, ""),
        row.place.row,
    )  # fmt: skip


def _item(row: RowReader, name: str, items: Mapping[str, str]) -> str:
    """The kit or part as its own page names it; of a drawing, the part that bears the quote's name."""
    if row.blank("Item") == row.blank("Drawing"):
        both = not row.blank("Item")
        what = "Item is filled and so is Drawing." if both else "Neither Item nor Drawing is filled."
        row.fault("Item", what, "Fill one of the two.")
        return ""
    if row.blank("Item"):
        return name
    said = row.need("Item", name_of, "")
    if said and normal(said) not in items:
        row.fault(
            "Item", f"{said} is neither on the page Kits nor on the page Parts, or has a problem there.",
            f"{did_you_mean(said, items.values())}Correct the name, or add it there.",
        )  # fmt: skip
    return items.get(normal(said), "")


def quantities_of(value: CellValue) -> tuple[int, ...]:
    """Quantities in their order, each once: 10, or 1; 10; 50. A comma alone may set them apart as well.

    ``1,000`` is refused, since it may be one quantity or two.

    >>> quantities_of("50; 1, 10"), quantities_of(12), quantities_of("1,10,50")
    ((1, 10, 50), (12,), (1, 10, 50))
    """
    said = text_of(value)
    if _THOUSANDS.fullmatch(said):
        raise CellFault(
            f"`{said}` may be one quantity or several",
            f"Write {said.replace(',', '')}, or {said.replace(',', '; ')}.",
        )
    pieces = said.split(",") if _SHORT_COMMAS.fullmatch(said) else _APART.split(said)
    found = {count_of(one) for one in pieces if one.strip()}
    if not found:
        raise CellFault("names no quantity", "Write how many, such as 10, or 1; 10; 50.")
    if len(found) > MOST_QUANTITIES:
        raise CellFault(f"names {len(found)} quantities", f"Write {MOST_QUANTITIES} at most in one row.")
    return tuple(sorted(found))
