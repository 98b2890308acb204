"""Judge a book without changing anything."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sheetplan.model import Job, Problem, Weight


@dataclass(frozen=True, slots=True)
class CheckOutcome:
    """What a book says: the checked job (None where something stops the plan) and every problem."""

    job: Job | None
    problems: tuple[Problem, ...]

    @property
    def stops(self) -> bool:
        """Whether no plan can be made until something is put right."""
        return self.job is None or any(problem.weight is Weight.STOPS for problem in self.problems)


def check_book(book: Path) -> CheckOutcome:
    """Read the book and collect every problem in one pass.

    Raises ``workbook.errors.BookError`` where the file cannot be read as a book at all.
    """
    from sheetplan.planning.grouping import make_groups
    from sheetplan.workbook.closed_reading import read_tables
    from sheetplan.workbook.errors import BookError
    from sheetplan.workbook.guard import judge
    from sheetplan.workbook.reading import read_job

    problem = judge(book)
    if problem is not None:
        raise BookError(problem)
    job, problems = read_job(read_tables(book))
    if job is not None:
        _, more = make_groups(job)
        problems += more
    return CheckOutcome(job, problems)
