"""Customers' pages: one plain sheet of paper for each quote that has a price to tell, beside the book."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sheetplan.model import Job
from sheetplan.money.quoting import Quoted

FOLDER = "quotes"
"""Where customers' pages lie, beside the book."""


def customers_pages(
    book: Path, job: Job, quotes: Sequence[Quoted], *, missing: bool = False
) -> tuple[Path, ...]:
    """A page for each customer, beside the book; none for a quote without a price that can be told.

    A page that was written the same day and says something else stays, and the new one gets a number.
    ``missing``: only what is not there yet is written and given.
    """
    from sheetplan.pages.paper.quote import file_name, quote_pdf
    from sheetplan.pages.wording import decimals_of
    from sheetplan.workbook.package.saving import put_file

    files = []
    for one in quotes:
        if any(answer.price is not None for answer in one.answers) and not one.ordered and not one.is_lucky:
            page = quote_pdf(one, job.settings, said=decimals_of(job).said)
            path = place_for(book.parent / FOLDER / file_name(one), page)
            if missing and path.exists():
                continue
            path.parent.mkdir(exist_ok=True)
            put_file(path, page)
            files.append(path)
    return tuple(files)


def place_for(path: Path, page: bytes) -> Path:
    """Where a customer's page goes: to its name, or beside another page that has it."""
    place, number = path, 1
    while place.exists() and place.read_bytes() != page:
        number += 1
        place = path.with_stem(f"{path.stem} {number}")
    return place
