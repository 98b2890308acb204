"""What a step writes into the book: its cells, its logs and its seal, into a file or an open book."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol

from sheetplan.app.rack.belonging import sealed, steps_listed
from sheetplan.app.rack.folder import Transaction, commit
from sheetplan.model import Job, SheetSize
from sheetplan.pages.book.finished import finished_page, is_needed
from sheetplan.pages.book.logs import cut_log_page, stock_log_page
from sheetplan.pages.values import ResultPage
from sheetplan.pages.wording import decimals_of
from sheetplan.rack.credits import with_steps
from sheetplan.rack.step import CellChange, Kind, Seal, Step, seal_of
from sheetplan.workbook.columns import CUT_LOG, CUTTING_MARKS, FINISHED_MARKS, PURCHASES, REMNANTS, STOCK_LOG
from sheetplan.workbook.outcomes import BookError, NotSaved, book_problem
from sheetplan.workbook.package.cells import BookEdit
from sheetplan.workbook.port import LiveEdit, LiveHost, Value
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.rows import Place
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, RawCell, RawRow

# Where a step's changes to the book go: into the closed file, or into the book open in a program.
#
# For the open book the step counts from the moment at which its program has saved it: before that the
# file knows nothing of it, and the rack's files wait aside. So a book closed without saving cannot show
# less than the rack has recorded.
#
# It does not wait for the planner to save: the rack would hang between two states, and the next run could
# not know for how long. Where the program cannot save, the cells are put back and nothing is recorded. Where
# the run dies between, the next command asks the logs in the saved book. Calc's list of steps to undo is
# emptied, since Ctrl-Z would take the cells back and leave the rack.


KEY_OF = {
    "Stock": ("Sheet",), "Remnants": ("Tag",), "Layouts": ("Layout",), CUTTING_MARKS.name: CUTTING_MARKS.keys,
}  # fmt: skip
"""The columns that name a row, by page; a row of two is named by both with a space between."""


@dataclass(slots=True)
class BookChanges:
    """Changes to a book under way, and what could not be written, in sentences."""

    edit: BookEdit | LiveEdit
    tables: BookTables
    made: list[CellChange] = field(default_factory=list)
    unwritten: list[str] = field(default_factory=list)
    _now: dict[tuple[str, str, str], Value] = field(default_factory=dict)
    """What was written already, by page, row and heading as they are compared."""
    _cleared: set[int] = field(default_factory=set)

    def begin(self) -> None:
        """Begin the next step: what was made and not written so far is another step's."""
        self.made, self.unwritten = [], []

    def value(self, page: str, row: str, heading: str) -> Value:
        """What stands in a cell; None where the row or the column is not there."""
        cell = self._cell(page, row, heading)
        return cell[0] if cell else None

    def on_hand(self, stock: Iterable[SheetSize]) -> dict[str, int]:
        """What the page Stock says of each size by now."""
        return {sheet.name: count_on(self.value("Stock", sheet.name, "On hand")) or 0 for sheet in stock}

    def has(self, page: str, row: str, heading: str) -> bool:
        """Whether there is such a cell."""
        return self._cell(page, row, heading) is not None

    def write(self, page: str, row: str, heading: str, value: Value) -> None:
        """Write a cell of the row of that name."""
        cell = self._cell(page, row, heading)
        if cell is None:
            if value is not None:
                self.unwritten.append(f"{heading} of {row} on the page {page}: there is no such cell")
            return
        before, address = cell
        if before == value:
            return
        if not self.edit.set(self.tables.tables[page].page, address, value):
            self.unwritten.append(f"{heading} of {row} on the page {page}: a formula stands there")
            return
        self.made.append(CellChange(page, row, heading, before, value))
        self._now[page, normal(row), normal(heading)] = value

    def write_count(self, sheet: str, heading: str, count: int) -> bool:
        """Write a count of Stock, which a step keeps as a difference, not as a change; True where it was."""
        before = len(self.made)
        self.write("Stock", sheet, heading, count)
        written = len(self.made) > before
        del self.made[before:]
        return written

    def clear_row(self, page: InputPage, row: Place) -> bool:
        """Blank the input cells of a row; False where its first one holds a formula, which stays.

        Formulas in other cells stay as well.
        """
        first, *others = (row.addresses.get(column.heading) for column in page.columns)
        sheet = self.tables.tables[page.name].page
        for address in others:
            if address is not None:
                self.edit.set(sheet, address, None)
        return first is not None and self.edit.set(sheet, first, None)

    def add_remnant(self, values: Mapping[str, Value]) -> bool:
        """Add a row to the page Remnants; False where there is no room for it."""
        inputs = tuple(column.heading for column in REMNANTS.columns)
        done = self.edit.add_row(REMNANTS.table, values, inputs) is not None
        if not done:
            self.unwritten.append(
                f"a row for {values['Tag']} on the page Remnants: no blank row is left in its table"
            )
        return done

    def add_purchase(self, values: Mapping[str, Value]) -> bool:
        """Add a row to the page Purchases; False where there is no such page or no room."""
        inputs = tuple(column.heading for column in PURCHASES.columns)
        done = self.edit.add_row(PURCHASES.table, values, inputs) is not None
        if not done:
            self.unwritten.append(
                f"a row for {values['Sheets']} x {values['Material']} {values['Thickness']} on the page "
                "Purchases: there is no such page, or no blank row in its table"
            )
        return done

    def clear_purchase(self, values: Mapping[str, Value]) -> None:
        """Blank the last row of the page Purchases that says just this."""
        table = self.tables.tables.get(PURCHASES.name)
        for row in reversed(table.rows if table else ()):
            cells = {normal(name): cell for name, cell in row.cells.items()}
            if row.number not in self._cleared and all(
                _says(cells.get(normal(head)), value) for head, value in values.items()
            ):
                for head in (name for name, value in values.items() if value is not None):
                    self.edit.set(self.tables.tables[PURCHASES.name].page, cells[normal(head)].address, None)
                self._cleared.add(row.number)
                return
        self.unwritten.append(
            f"the row for {values['Sheets']} x {values['Material']} {values['Thickness']} of "
            f"{values['Date']} on the page Purchases was changed since and stays"
        )

    def _cell(self, page: str, row: str, heading: str) -> tuple[Value, str] | None:
        table = self.tables.tables.get(page)
        for one in table.rows if table else ():
            if row and row_name(one, KEY_OF[page]) == normal(row):
                for name, cell in one.cells.items():
                    if normal(name) == normal(heading):
                        key = page, normal(row), normal(heading)
                        return self._now[key] if key in self._now else _plain(cell.value), cell.address
        return None


def row_name(row: RawRow, keys: Sequence[str]) -> str:
    """The name of a row, as names are compared; empty where it has none."""
    values = {normal(heading): cell.value for heading, cell in row.cells.items()}
    said = [values.get(normal(key)) for key in keys]
    return normal(" ".join(str(value) for value in said if value is not None))


def _says(cell: RawCell | None, value: Value) -> bool:
    """Whether a cell says a value that was written there; a program may have made a date of a text."""
    there = cell.value if cell is not None else None
    if isinstance(value, str):
        return str(there or "").strip()[: len(value)] == value
    return there == value or (value is None and there == "")


def _plain(value: object) -> Value:
    return value if value is None or isinstance(value, str | int | float) else str(value)


def count_on(value: object) -> int | None:
    """The count in a cell; 0 where it is blank, None where it is no count."""
    if value is None or value == "":
        return 0
    try:
        number = float(str(value))
    except ValueError:
        return None
    return int(number) if number >= 0.0 and number.is_integer() else None


def put_book(path: Path, old: bytes, new: bytes, touched: Sequence[str]) -> None:
    """Replace a book after testing that only the parts meant to change have changed."""
    from sheetplan.workbook.outcomes import BookChanged, book_problem
    from sheetplan.workbook.package.guard import judge
    from sheetplan.workbook.package.saving import put_backup, replace_file
    from sheetplan.workbook.writing.closed import allowed_parts, changed_parts

    def test(written: Path) -> str | None:
        fault = judge(written)
        if fault is not None:
            return fault.what
        pages = [CUT_LOG.name, STOCK_LOG.name, FINISHED_MARKS.name]
        stray = changed_parts(old, new) - allowed_parts(old, pages) - allowed_parts(new, pages) - set(touched)
        return f"parts that are not ours were altered: {', '.join(sorted(stray))}." if stray else None

    def keep_backup() -> None:
        if path.read_bytes() != old:
            raise BookChanged(book_problem(
                path, "The workbook was saved by somebody else meanwhile; nothing was recorded.",
                "Run it again.",
            ))  # fmt: skip
        put_backup(path, old)

    replace_file(path, new, test=test, before=keep_backup)


class Desk(Protocol):
    """The book of a step."""

    @property
    def data(self) -> bytes:
        """The bytes of its file as it was read."""

    def changes(self, tables: BookTables) -> BookChanges:
        """Begin changes to the book as it was read."""

    def do(self, changes: BookChanges, done: Transaction) -> None:
        """Book and rack together, or nothing; raises ``BookError`` or ``MayNotAlter`` in the latter case."""


@dataclass(frozen=True, slots=True)
class ClosedDesk:
    """A book that nobody has open, as its bytes were when it was read."""

    book: Path
    data: bytes

    def changes(self, tables: BookTables) -> BookChanges:
        """Begin changes to the bytes."""
        return BookChanges(BookEdit(self.data), tables)

    def do(self, changes: BookChanges, done: Transaction) -> None:
        """Replace the file, between the rack's files written aside and put in place."""
        from sheetplan.workbook.package.splice import splice_pages
        from sheetplan.workbook.writing.page_writer import draw_pages

        edit = changes.edit
        assert isinstance(edit, BookEdit), "begun here"
        pages = _pages(done, changes.tables)
        new = splice_pages(edit.done(), draw_pages(pages, done.job.settings.units))
        touched = sorted(edit.touched)

        def write() -> None:
            if new != self.data:
                put_book(self.book, self.data, new, touched)

        commit(self.book, self.data, done, write, after=new)


@dataclass(frozen=True, slots=True)
class LiveDesk:
    """A book that is open in a program; ``data`` are the bytes of its file as last saved."""

    host: LiveHost
    book: Path
    data: bytes

    def changes(self, tables: BookTables) -> BookChanges:
        """Begin changes to the open book."""
        return BookChanges(self.host.edit(), tables)

    def do(self, changes: BookChanges, done: Transaction) -> None:
        """Write into the open book and have it saved, between the rack's files aside and in place."""
        edit = changes.edit
        assert isinstance(edit, LiveEdit), "begun here"
        edits, units = edit.done(), done.job.settings.units

        def write() -> None:
            self.host.change(edits, _pages(done, changes.tables), units, save=True)
            if not self._counts(done):
                raise NotSaved(book_problem(
                    self.book, "The workbook's file does not show the step after saving.",
                    "Save the workbook under its own name, as an .xlsx file, then run it again.",
                ))  # fmt: skip

        try:
            commit(self.book, self.data, done, write, counts=lambda: self._counts(done))
        except NotSaved as unsaved:
            try:
                self.host.change(edits.reversed(), _pages_back(done, changes.tables), units, save=False)
            except BookError:
                close = "Close it without saving: it shows a step that does not count."
                raise NotSaved(replace(unsaved.problem, remedy=close)) from unsaved
            raise

    def _counts(self, done: Transaction) -> bool:
        """Whether the file knows of the step as it is after it; a file that cannot be read knows nothing."""
        try:
            return lists_step(self.book, max(done.numbers)) == done.adds
        except BookError:
            return False


def _pages(done: Transaction, tables: BookTables) -> tuple[ResultPage, ...]:
    """The pages that say it, in a book of these tables."""
    seal, job = seal_of(done.mark, done.steps), done.job_after or done.job
    return decimals_of(done.job).pages(step_pages(job, done.steps, done.before, seal, tables))


def _pages_back(done: Transaction, tables: BookTables) -> tuple[ResultPage, ...]:
    """The same pages without it."""
    # The seal as it stood: where nothing was ever recorded, none says that there is a rack.
    seal = sealed(tables) or (seal_of(done.mark, done.before) if done.before else Seal(done.mark))
    return decimals_of(done.job).pages(step_pages(done.job, done.before, done.steps, seal, tables))


def step_pages(
    job: Job, steps: Sequence[Step], others: Sequence[Step], seal: Seal, tables: BookTables
) -> tuple[ResultPage, ...]:
    """The logs of some steps, with the book's seal, and the page of finished parts.

    One that is empty comes only where ``others`` had something on it, or where the book has it already.
    """
    now, then = with_steps(job, steps), with_steps(job, others)
    finished = [finished_page(now)] if is_needed(now) or is_needed(then) else []
    return (*_logs(steps, others, seal.line, tables), *finished)


def _logs(
    known: Sequence[Step], others: Sequence[Step], seal: str, tables: BookTables
) -> tuple[ResultPage, ...]:
    cuts = [step for step in known if step.kind is Kind.CUT]
    stock = [step for step in known if step.kind is not Kind.CUT]
    kinds = {step.kind is Kind.CUT for step in (*known, *others)}
    pages = [cut_log_page(cuts, seal)] if True in kinds or not kinds or CUT_LOG.name in tables.tables else []
    return (
        *pages,
        *([stock_log_page(stock, seal)] if False in kinds or STOCK_LOG.name in tables.tables else []),
    )


def lists_step(book: Path, step: int) -> bool:
    """Whether a log of a book's file has a step; ``BookError`` where it cannot be read."""
    from sheetplan.workbook.reading.book import read_tables

    return step in steps_listed(read_tables(book))
