"""A day as a cell holds it: the number of days since the book's first, shown as a day by the cell's format.

Where a cell's format shows no day, as in a column that the planner added, the number would be read as a
count; there the day is written as text, year-month-day, which is read as the same day.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import TYPE_CHECKING

from openpyxl.styles.numbers import is_date_format

from sheetplan.trade.lengths import EPOCH
from sheetplan.workbook.package.parts import ROOT, main, parse, relations_of

if TYPE_CHECKING:
    from sheetplan.workbook.package.parts import Package

EPOCH_1904 = datetime.date(1904, 1, 1)
"""Day 0 of a book that counts from 1904 (ECMA-376 part 1, 18.2.28, ``date1904``)."""

DAY_FORMATS = frozenset((14, 15, 16, 17, 22))
"""Built-in number formats that show a day (ECMA-376 part 1, 18.8.30)."""


class Days:
    """How a book counts and shows days; its parts are looked at when the first day is written."""

    def __init__(self, package: Package) -> None:
        self._package = package
        self._first: datetime.date | None = None
        self._showing: frozenset[str] = frozenset()

    def cell(self, style: str, day: datetime.date) -> int | str:
        """What a cell of this format is to hold for a day."""
        if self._first is None:
            self._first, self._showing = self._looked_up()
        return (day - self._first).days if (style or "0") in self._showing else day.isoformat()

    def _looked_up(self) -> tuple[datetime.date, frozenset[str]]:
        book = next(one.part for one in relations_of(self._package, ROOT) if one.is_a("officeDocument"))
        properties = parse(self._package.read(book)).find(main("workbookPr"))
        counts_late = properties is not None and properties.get("date1904") in ("1", "true")
        first = EPOCH_1904 if counts_late else EPOCH
        part = next((one.part for one in relations_of(self._package, book) if one.is_a("styles")), None)
        if part is None:
            return first, frozenset()
        styles = parse(self._package.read(part))
        codes = {one.get("numFmtId"): one.get("formatCode", "") for one in styles.iter(main("numFmt"))}
        cells = styles.find(main("cellXfs"))
        formats = [one.get("numFmtId", "0") for one in cells] if cells is not None else []
        showing = (str(place) for place, number in enumerate(formats) if _shows_a_day(number, codes))
        return first, frozenset(showing)


def _shows_a_day(number: str, codes: Mapping[str | None, str]) -> bool:
    code = codes.get(number)
    return is_date_format(code) if code is not None else int(number) in DAY_FORMATS
