"""What Excel calls: ``main`` runs what the book asks for, in the book."""

from __future__ import annotations

from typing import Any

RUN_NAME = "sheetplan_run"
"""Workbook name of the cell that holds the run to do; without it a plan is made."""


def main() -> None:
    """Run from the book that called, and say everything in it."""
    from sheetplan.app.live import run_live
    from sheetplan.planning.progress import never
    from sheetplan.workbook.errors import BookError
    from sheetplan.workbook.hosts.excel import ExcelBook, calling_book

    try:
        book = calling_book()
    except BookError as error:
        raise SystemExit(f"{error.problem.what} {error.problem.remedy}") from None
    host = ExcelBook(book)
    try:
        run_live(host, chosen_run(book), never)
    finally:
        host.end()


def chosen_run(book: Any) -> str:
    """Return the run that the book asks for."""
    if RUN_NAME in book.names:
        value = book.names[RUN_NAME].refers_to_range.value
        if isinstance(value, str) and value.strip():
            return value.strip().lower()
    return "plan"
