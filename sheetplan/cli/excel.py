"""What Excel calls: ``main`` runs what the book asks for, in the book."""

from __future__ import annotations


def main() -> None:
    """Run from the book that called, and say everything in it."""
    from sheetplan.app.live import run_live
    from sheetplan.planning.progress import never
    from sheetplan.workbook.hosts.excel import ExcelBook, calling_book
    from sheetplan.workbook.outcomes import BookError
    from sheetplan.workbook.port import run_of
    from sheetplan.workbook.writing.grid import RUN

    try:
        book = calling_book()
    except BookError as error:
        raise SystemExit(f"{error.problem.what} {error.problem.remedy}") from None
    host = ExcelBook(book)
    try:
        run_live(host, run_of(host.asked(RUN)), never)
    finally:
        host.end()
