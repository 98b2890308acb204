"""Make a new book."""

from __future__ import annotations

from pathlib import Path

from sheetplan.trade.units import Units


def new_book(book: Path, *, demo: bool, units: Units) -> Path:
    """Copy the empty book, or the demo book, to ``book`` and return its path.

    It states the decimal sign of this computer where that is a comma.

    Raises ``workbook.outcomes.BookError`` where a file stands there already or the folder refuses.
    """
    from sheetplan.app.check import system_comma
    from sheetplan.workbook.new_book import write_new

    write_new(book, demo=demo, units=units, comma=system_comma())
    return book


def excel_starter(book: Path) -> Path | None:
    """Write the one-line file that lets Excel's add-in run the book, where there is Excel to run it.

    None on other systems, and where the book's name does not allow one (`sheetplan excel` says why).
    """
    from sheetplan.workbook.hosts.excel_setup import has_excel, write_starter

    return write_starter(book) if has_excel() else None
