"""Judge a book without changing anything."""

from __future__ import annotations

import datetime
import locale
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from sheetplan.model import Job, Order, Problem, Settings, Weight
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import BookTables

if TYPE_CHECKING:
    from sheetplan.drawings.known import KnownOutline
    from sheetplan.workbook.reading.parts import Drawings


@dataclass(frozen=True, slots=True)
class CheckOutcome:
    """What a book says: the checked job (None where something stops the plan) and every problem.

    ``outlines`` are those of drawn parts that no plan has seen yet, to be kept once they are planned;
    ``changed`` names the parts, as compared, whose drawing is no longer what was planned, or gone;
    ``drawings`` are the reports on all drawings that the page Parts names.
    """

    job: Job | None
    problems: tuple[Problem, ...]
    outlines: Mapping[str, KnownOutline] = field(default_factory=dict)
    changed: frozenset[str] = frozenset()
    drawings: Drawings = field(default_factory=dict)

    @property
    def stops(self) -> bool:
        """Whether no plan can be made until something is put right."""
        return self.job is None or any(problem.weight is Weight.STOPS for problem in self.problems)


def check_book(book: Path, today: datetime.date | None = None) -> CheckOutcome:
    """Read the book and collect every problem in one pass; with ``today``, orders that are overdue as well.

    Raises ``workbook.outcomes.BookError`` where the file cannot be read as a book at all.
    """
    from sheetplan.app.making.quote_marks import with_quotes
    from sheetplan.workbook.opening import real_path
    from sheetplan.workbook.outcomes import BookError
    from sheetplan.workbook.package.guard import judge
    from sheetplan.workbook.reading.book import read_tables

    book = real_path(book)
    problem = judge(book)
    if problem is not None:
        raise BookError(problem)
    tables = read_tables(book)
    checked = with_quotes(with_due(check_tables(tables, book), today, tables), tables, book)
    return with_marks(with_folder(checked, book), tables, book)


def with_due(
    checked: CheckOutcome, today: datetime.date | None, tables: BookTables | None = None
) -> CheckOutcome:
    """The outcome with remarks on orders that are due already."""
    if checked.job is None or today is None:
        return checked
    cells = due_cells(tables) if tables is not None else NO_CELLS
    return replace(checked, problems=(*checked.problems, *due_notes(checked.job, today, cells)))


def with_folder(checked: CheckOutcome, book: Path) -> CheckOutcome:
    """The outcome with what is wrong with the output folder, which only a plan needs."""
    from sheetplan.app.making.folders import output_folder

    folder = output_folder(book, checked.job.settings.output_folder) if checked.job else None
    return replace(checked, problems=(*checked.problems, folder)) if isinstance(folder, Problem) else checked


def with_marks(checked: CheckOutcome, tables: BookTables, book: Path) -> CheckOutcome:
    """The outcome with what is wrong with picks and locks on the tool's own pages, which stops a plan."""
    from sheetplan.app.making.folders import output_folder
    from sheetplan.workbook.reading.pick_marks import planner_marks

    marks, problems = planner_marks(tables)
    if checked.job is not None and marks:
        from sheetplan.app.making.standing import standing

        folder = output_folder(book, checked.job.settings.output_folder)
        if isinstance(folder, Path):
            problems += standing(checked.job, marks, folder, tables.plan).problems
    return replace(checked, problems=(*checked.problems, *problems))


def system_comma() -> bool:
    """Whether this computer writes numbers with a comma before their decimals."""
    before = locale.setlocale(locale.LC_NUMERIC)
    try:
        locale.setlocale(locale.LC_NUMERIC, "")
        return locale.localeconv()["decimal_point"] == ","
    except locale.Error:  # a language that is asked for and not installed
        return False
    finally:
        locale.setlocale(locale.LC_NUMERIC, before)


def with_sign(settings: Settings, tables: BookTables) -> Settings:
    """The settings with the decimal sign of the program or else the system where the book states none."""
    if settings.decimal_comma is not None:
        return settings
    return replace(settings, decimal_comma=system_comma() if tables.comma is None else tables.comma)


def check_tables(tables: BookTables, book: Path | None = None, *, rack: bool = True) -> CheckOutcome:
    """Judge tables that a host has read, with the drawings in the book's folder and the rack beside it.

    ``book`` None is a book that was never saved, which has no folder and so neither of them.
    ``rack`` False leaves the rack out: for runs that hold it themselves, and want remnants and
    orders as the book has them. To those, parts are what they were planned as, whatever became of their
    drawings.
    """
    from sheetplan.app.making.drawings import book_drawings, known_outlines, outlines_now
    from sheetplan.app.rack.cut_asked import rows_waiting
    from sheetplan.app.rack.folder import recorded_beside
    from sheetplan.app.rack.known import marks_problem, row_numbers, with_rack, without_closed
    from sheetplan.planning.grouping import make_groups
    from sheetplan.rack.usable import with_hanging, with_piles
    from sheetplan.workbook.reading.job import read_job
    from sheetplan.workbook.reading.remnants import no_record

    drawings = book_drawings(tables, book) if book is not None else {}
    known, unread = known_outlines(book) if book is not None else ({}, ())
    shown = known if rack else {name: replace(one, stands=True) for name, one in known.items()}
    job, problems = read_job(tables, drawings, shown, recorded_beside(book) if book else no_record)
    problems += unread
    if job is not None:
        job = replace(job, settings=with_sign(job.settings, tables))
        if book is not None and rack:
            job, more = with_rack(job, tables, book)
            problems += (*more, *marks_problem(tables, book), *rows_waiting(tables, book))
        elif rack:
            job = without_closed(job)
        if rack:
            job, notes = with_hanging(job, row_numbers(tables))
            problems += tuple(notes)
        job = with_piles(job)
        _, more = make_groups(job)
        problems += more
    fresh, changed = outlines_now(tables, drawings, known)
    return CheckOutcome(job, problems, fresh, changed, drawings)


NO_CELLS: Mapping[int, str] = MappingProxyType({})

MOST_ROWS = 8
"""More orders than this that are due already are one remark: the book is of a month gone by."""

_REMEDY = "Cut these first, or write the date that was agreed since; the order of the tickets follows Due."


def due_notes(job: Job, today: datetime.date, cells: Mapping[int, str] = NO_CELLS) -> tuple[Problem, ...]:
    """A note for each order line that has to be made and was due before today, the longest due first.

    A kit that is cut in part is planned in its parts and still one line. ``cells`` are the addresses of the
    due dates by their rows.
    """
    day = today.isoformat()
    lines = {(order.line, order.name): order for order in job.orders if order.must}
    lines |= {key: one.order for one in job.progress if (key := (one.order.line, one.order.name)) in lines}
    late = sorted((o for o in lines.values() if o.due and o.due < day), key=lambda order: order.due)
    if len(late) <= MOST_ROWS:
        return tuple(_note(order, cells) for order in late)
    first = late[0]
    said = f"{len(late):,} orders were due before {day}, the first of them {first.name} on {first.due}."
    return (Problem("Orders", None, None, said, _REMEDY, Weight.NOTE),)


def _note(order: Order, cells: Mapping[int, str]) -> Problem:
    what = f"{order.name}, {order.item}: was due {order.due}."
    return Problem("Orders", order.line or None, cells.get(order.line), what, _REMEDY, Weight.NOTE)


def due_cells(tables: BookTables) -> Mapping[int, str]:
    """Addresses of the due dates on the page Orders by their rows."""
    table = tables.tables.get("Orders")
    return {
        row.number: cell.address
        for row in (table.rows if table else ())
        for heading, cell in row.cells.items()
        if normal(heading) == "due"
    }
