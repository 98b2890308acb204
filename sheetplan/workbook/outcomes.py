"""Why a book could not be read or written: one small family of errors, each carrying a Problem."""

from __future__ import annotations

from pathlib import Path

from sheetplan.model.problem import Problem


class BookError(Exception):
    """Something about the whole book stands in the way; ``problem`` says what and what to do."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(f"{problem.page}: {problem.what} {problem.remedy}")
        self.problem = problem


class BookUnreadable(BookError):
    """The file is missing, or is no workbook that can be read."""


class BookInUse(BookError):
    """Another program, or another run, has the book."""


class BookChanged(BookError):
    """The book is no longer the one that was read."""


class NotWritten(BookError):
    """The disk or the folder would not take the file."""


class NotSaved(BookError):
    """The open book was changed, but its program could not save it."""


def book_problem(path: Path, what: str, remedy: str) -> Problem:
    """Build a finding about the whole file; the file's name stands where a page's would."""
    return Problem(page=path.name, row=None, cell=None, what=what, remedy=remedy)
