"""Numbers inside texts with a point or a comma before their decimals, as the book asks for; names stay.

Numbers in cells of their own follow the program that shows them. Texts are put together with points, and
turned where they leave: on the result pages, in the pictures and on printed paper.

Where the book states no sign it is the one of Calc that has it open, else of the system
(`app.check.with_sign`). Problems on the console, JSON and `buy-list.csv` keep the point.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from sheetplan.model import Job
from sheetplan.pages.marks import Drawing, Words
from sheetplan.pages.values import Cell, Link, ResultPage, ResultTable

_NUMBER = r"(?<![\w.,#/\\])(?<!\w-)(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d*\.\d+)(?![\w/\\]|[.,]\d)"
"""A number with a point or with thousands set apart; not one that is part of a name, a path or a list."""

_QUOTED = r"`[^`]*`|(?<!\w)'[^']*'(?!\w)"
"""What somebody wrote, or is to write letter by letter."""

_SIGNS = str.maketrans(".,", ",.")


@lru_cache(maxsize=4)
def _pattern(names: frozenset[str]) -> re.Pattern[str]:
    """Finds what is kept, the longest names first, and else numbers."""
    longest = sorted(names, key=lambda name: (-len(name), name))
    kept = "|".join([_QUOTED, *(rf"(?<!\w){re.escape(name)}(?!\w)" for name in longest)])
    return re.compile(f"(?P<kept>{kept})|{_NUMBER}")


@dataclass(frozen=True, slots=True)
class Decimals:
    """How numbers are written in texts; ``comma`` False leaves every text as it is.

    ``names`` are the book's own that hold something like such a number: they are never changed.
    """

    comma: bool = False
    names: frozenset[str] = frozenset()

    def said(self, text: str) -> str:
        """A text with its numbers as the book asks for.

        >>> Decimals(True).said("1,234.50 EUR for 12.5 x 8 in, plan KRTM-L1, 2026-11-24")
        '1.234,50 EUR for 12,5 x 8 in, plan KRTM-L1, 2026-11-24'
        >>> Decimals(True, frozenset({"PL 2.5"})).said("4 x PL 2.5 of 2.5 kg")
        '4 x PL 2.5 of 2,5 kg'
        """
        if not self.comma:
            return text
        return _pattern(self.names).sub(lambda m: m[0] if m["kept"] else m[0].translate(_SIGNS), text)

    def pages(self, pages: Iterable[ResultPage]) -> tuple[ResultPage, ...]:
        """Result pages with the texts of lines, notes and cells so written; headings are names."""
        return tuple(self._page(page) for page in pages) if self.comma else tuple(pages)

    def _page(self, page: ResultPage) -> ResultPage:
        tables = tuple(
            replace(
                table, caption=self.said(table.caption),
                rows=tuple(self._row(table, row) for row in table.rows),
                total=self._row(table, table.total) if table.total is not None else None,
            )
            for table in page.tables
        )  # fmt: skip
        lines, notes = (tuple(map(self.said, texts)) for texts in (page.lines, page.notes))
        return replace(page, title=self.said(page.title), lines=lines, tables=tables, notes=notes)

    def _row(self, table: ResultTable, row: Sequence[Cell]) -> tuple[Cell, ...]:
        return tuple(
            cell if column.heading in _NAMES else self._cell(cell)
            for cell, column in zip(row, table.columns, strict=True)
        )

    def _cell(self, cell: Cell) -> Cell:
        if isinstance(cell, str):
            return self.said(cell)
        return replace(cell, text=self.said(cell.text)) if isinstance(cell, Link) else cell

    def drawing(self, drawing: Drawing) -> Drawing:
        """A drawing with its words so written."""
        if not self.comma:
            return drawing
        marks = tuple(
            replace(mark, text=self.said(mark.text)) if isinstance(mark, Words) else mark
            for mark in drawing.marks
        )
        return replace(drawing, marks=marks)


_NAMES = frozenset({"Layout", "Choice", "Part", "Order", "Item", "Tag", "Key", "In turn", "It says"})
"""Columns that hold names, or what a planner wrote, letter by letter."""


def decimals_of(job: Job) -> Decimals:
    """How a book wants numbers in its texts, with the names that are in it."""
    if not job.settings.decimal_comma:
        return Decimals()
    names = {
        *job.parts, *job.kits, *(part.description for part in job.parts.values()),
        *(order.name for order in job.orders), *(order.item for order in job.orders),
        *(name for sheet in job.stock for name in (sheet.name, sheet.supplier, sheet.rack_place)),
        *(name for remnant in job.remnants for name in (remnant.tag, remnant.rack_place)),
    }  # fmt: skip
    return Decimals(True, frozenset(name for name in names if re.search(r"\d[.,]\d|\.\d", name)))
