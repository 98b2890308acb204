"""Where a step's changes to the book go: into the closed file, or into the book open in a program.

For the open book the step counts from the moment at which its program has saved it: before that the
file knows nothing of it, and the rack's files wait aside. So a book closed without saving cannot show
less than the rack has recorded.

Choices
-------
Waiting for the planner to save was left: the rack would hang between, and the next run could not know for
how long. Where the program cannot save, the cells are put back and nothing is recorded; where the run dies
between, the next command asks the logs in the saved book. Calc's list of steps to undo is emptied, since
Ctrl-Z would take the cells back and leave the rack.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from sheetplan.app.rack_book import BookChanges, put_book
from sheetplan.app.rack_job import steps_listed
from sheetplan.app.rack_journal import commit
from sheetplan.model import Job
from sheetplan.pages.cut_log_page import cut_log_page
from sheetplan.pages.decimals import decimals_of
from sheetplan.pages.finished_page import finished_page, is_needed
from sheetplan.pages.stock_log_page import stock_log_page
from sheetplan.pages.values import ResultPage
from sheetplan.rack.credits import with_steps
from sheetplan.rack.step import Kind, Step
from sheetplan.trade.units import Units
from sheetplan.workbook.cell_edits import BookEdit
from sheetplan.workbook.errors import BookError, NotSaved, book_problem
from sheetplan.workbook.live_edit import LiveEdit
from sheetplan.workbook.port import LiveHost
from sheetplan.workbook.tables import BookTables

Files = Mapping[str, bytes | None]
"""New content of files by their place in the rack; None for those that go."""


@dataclass(frozen=True, slots=True)
class Turn:
    """Steps as they are to be done: their numbers, whether they add cuts or take them back, their files.

    ``steps`` are all that the page Cut log lists afterwards, ``before`` all that it lists now. ``job`` is
    what the book's input pages say, ``job_after`` what they say then, where the step changes its orders.
    """

    numbers: Sequence[int]
    adds: bool
    files: Files
    steps: Iterable[Step]
    before: Iterable[Step]
    job: Job
    job_after: Job | None = None

    @property
    def units(self) -> Units:
        """The book's units."""
        return self.job.settings.units

    @property
    def pages(self) -> tuple[ResultPage, ...]:
        """The pages that say the step."""
        return self._said(step_pages(self.job_after or self.job, self.steps, self.before))

    @property
    def pages_back(self) -> tuple[ResultPage, ...]:
        """The same pages without it."""
        return self._said(step_pages(self.job, self.before, self.steps))

    def _said(self, pages: Iterable[ResultPage]) -> tuple[ResultPage, ...]:
        return decimals_of(self.job).pages(pages)


class Desk(Protocol):
    """The book of a step."""

    def changes(self, tables: BookTables) -> BookChanges:
        """Begin changes to the book as it was read."""

    def do(self, rack: Path, changes: BookChanges, turn: Turn) -> None:
        """Do a step: book and rack together, or nothing; raises ``BookError`` in the latter case."""


@dataclass(frozen=True, slots=True)
class ClosedDesk:
    """A book that nobody has open, as its bytes were when it was read."""

    book: Path
    data: bytes

    def changes(self, tables: BookTables) -> BookChanges:
        """Begin changes to the bytes."""
        return BookChanges(BookEdit(self.data), tables)

    def do(self, rack: Path, changes: BookChanges, turn: Turn) -> None:
        """Replace the file, between the rack's files written aside and put in place."""
        from sheetplan.workbook.page_writer import draw_pages
        from sheetplan.workbook.splice import splice_pages

        edit = changes.edit
        assert isinstance(edit, BookEdit), "begun here"
        new = splice_pages(edit.done(), draw_pages(turn.pages, turn.units))
        touched = sorted(edit.touched)

        def write() -> None:
            if new != self.data:
                put_book(self.book, self.data, new, touched)

        commit(rack, self.book, self.data, turn.numbers, turn.adds, turn.files, write, after=new)


@dataclass(frozen=True, slots=True)
class LiveDesk:
    """A book that is open in a program; ``data`` are the bytes of its file as last saved."""

    host: LiveHost
    book: Path
    data: bytes

    def changes(self, tables: BookTables) -> BookChanges:
        """Begin changes to the open book."""
        return BookChanges(self.host.edit(), tables)

    def do(self, rack: Path, changes: BookChanges, turn: Turn) -> None:
        """Write into the open book and have it saved, between the rack's files aside and in place."""
        edit = changes.edit
        assert isinstance(edit, LiveEdit), "begun here"
        edits = edit.done()

        def write() -> None:
            self.host.change(edits, turn.pages, turn.units, save=True)
            if not self._counts(turn):
                raise NotSaved(book_problem(
                    self.book, "The workbook's file does not show the step after saving.",
                    "Save the workbook under its own name, as an .xlsx file, then run it again.",
                ))  # fmt: skip

        try:
            commit(
                rack, self.book, self.data, turn.numbers, turn.adds, turn.files, write,
                counts=lambda: self._counts(turn),
            )  # fmt: skip
        except NotSaved as unsaved:
            try:
                self.host.change(edits.reversed(), turn.pages_back, turn.units, save=False)
            except BookError:
                close = "Close it without saving: it shows a step that does not count."
                raise NotSaved(replace(unsaved.problem, remedy=close)) from unsaved
            raise

    def _counts(self, turn: Turn) -> bool:
        """Whether the file knows of the step as it is after it; a file that cannot be read knows nothing."""
        try:
            return lists_step(self.book, max(turn.numbers)) == turn.adds
        except BookError:
            return False


def step_pages(job: Job, steps: Iterable[Step], others: Iterable[Step]) -> tuple[ResultPage, ...]:
    """The logs of some steps and the page of finished parts.

    One that is empty comes only where ``others`` had something on it.
    """
    known, before = list(steps), list(others)
    now, then = with_steps(job, known), with_steps(job, before)
    finished = [finished_page(now)] if is_needed(now) or is_needed(then) else []
    return (*_logs(known, before), *finished)


def _logs(known: Sequence[Step], others: Sequence[Step]) -> tuple[ResultPage, ...]:
    cuts = [step for step in known if step.kind is Kind.CUT]
    stock = [step for step in known if step.kind is not Kind.CUT]
    kinds = {step.kind is Kind.CUT for step in (*known, *others)}
    pages = [cut_log_page(cuts)] if True in kinds or not kinds else []
    return (*pages, *([stock_log_page(stock)] if False in kinds else []))


def lists_step(book: Path, step: int) -> bool:
    """Whether a log of a book's file has a step; ``BookError`` where it cannot be read."""
    from sheetplan.workbook.closed_reading import read_tables

    return step in steps_listed(read_tables(book))
