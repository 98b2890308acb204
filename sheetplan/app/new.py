"""Make a new book."""

from __future__ import annotations

from pathlib import Path

from sheetplan.trade.units import Units


def new_book(book: Path, *, demo: bool, units: Units) -> Path:
    """Copy the empty book, or the demo book, to ``book`` and return its path.

    Raises ``workbook.errors.BookError`` where a file stands there already or the folder refuses.
    """
    from sheetplan.workbook.new_book import write_new

    write_new(book, demo=demo, units=units)
    return book
