"""A book and its rack opened for a step, and how the step's changes come into a file or an open book."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from enum import Enum
from pathlib import Path
from typing import Protocol

from sheetplan.app.check import check_tables
from sheetplan.app.making.folders import PREFIX, RECORDS_KEPT, earlier_folders, output_folder
from sheetplan.app.rack.belonging import (
    apart,
    apart_problem,
    column_of,
    mark_of_book,
    recorded,
    sealed,
    steps_listed,
)
from sheetplan.app.rack.folder import (
    CutOf,
    Held,
    RackUnreadable,
    TagsGiven,
    commit,
    drawing_name,
    highest_number,
    rack_of,
    read_records,
    read_steps,
    read_tags,
    recover,
    set_damaged_aside,
)
from sheetplan.app.rack.known import REBUILD, row_numbers
from sheetplan.model import Job, Problem, Remnant, Weight
from sheetplan.pages.book.logs import cut_log_page, stock_log_page
from sheetplan.pages.book.made import finished_page, is_needed
from sheetplan.pages.values import ResultPage
from sheetplan.pages.wording import decimals_of
from sheetplan.rack.credits import with_steps
from sheetplan.rack.record import Record, from_row
from sheetplan.rack.step import (
    EXACT_FILE,
    CellChange,
    KeptPlan,
    Kind,
    NotThisPlan,
    Seal,
    Step,
    kept_plan_of,
    seal_of,
)
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import (
    CUT_LOG,
    CUTTING_MARKS,
    FINISHED_MARKS,
    PURCHASES,
    REMNANT_SHAPES,
    REMNANTS,
    STOCK_LOG,
)
from sheetplan.workbook.outcomes import BookError, NotSaved, book_problem
from sheetplan.workbook.package.cells import BookEdit
from sheetplan.workbook.package.splice import MayNotAlter
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


class Refused(Exception):
    """The step is not done; ``what`` and ``remedy`` are sentences for the planner.

    ``about`` is the field of what was asked that it is about, where it is about one.
    """

    def __init__(
        self, what: str, remedy: str, problems: tuple[Problem, ...] = (), *, about: str = ""
    ) -> None:
        super().__init__(f"{what} {remedy}")
        self.what, self.remedy, self.problems, self.about = what, remedy, problems, about


def may_not_record(reason: MayNotAlter) -> Refused:
    """That nothing can be recorded in a book that may not be altered; a results book does not help."""
    remedy = reason.remedy.split(", or use the results book")[0].split("; or use the results book")[0]
    return Refused(f"{reason.what} So nothing can be recorded in it.", f"{remedy.rstrip('.')}.")


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

    def write_uncounted(self, page: str, row: str, heading: str, value: Value) -> bool:
        """Write a count that a step keeps as a difference, not as a change of its own; True where it was."""
        before = len(self.made)
        self.write(page, row, heading, value)
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


Files = Mapping[str, bytes | None]
"""New content of files by their place in the rack; None for those that go."""


@dataclass(frozen=True, slots=True)
class Turn:
    """Steps as they are to be done: their numbers, whether they add cuts or take them back, their files.

    ``steps`` are all that the page Cut log lists afterwards, ``before`` all that it lists now. ``job`` is
    what the book's input pages say, ``job_after`` what they say then, where the step changes its orders;
    ``mark`` is the book's, ``told`` what counts once it is done, where that is no step.
    """

    numbers: Sequence[int]
    adds: bool
    files: Files
    steps: Sequence[Step]
    before: Sequence[Step]
    job: Job
    mark: str
    job_after: Job | None = None
    told: str = ""

    @property
    def units(self) -> Units:
        """The book's units."""
        return self.job.settings.units

    def pages(self, tables: BookTables) -> tuple[ResultPage, ...]:
        """The pages that say the step, in a book of these tables."""
        seal = seal_of(self.mark, self.steps)
        return self._said(step_pages(self.job_after or self.job, self.steps, self.before, seal, tables))

    def pages_back(self, tables: BookTables) -> tuple[ResultPage, ...]:
        """The same pages without it."""
        # The seal as it stood: where nothing was ever recorded, none says that there is a rack.
        seal = sealed(tables) or (seal_of(self.mark, self.before) if self.before else Seal(self.mark))
        return self._said(step_pages(self.job, self.before, self.steps, seal, tables))

    def _said(self, pages: Iterable[ResultPage]) -> tuple[ResultPage, ...]:
        return decimals_of(self.job).pages(pages)


class Desk(Protocol):
    """The book of a step."""

    @property
    def data(self) -> bytes:
        """The bytes of its file as it was read."""

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
        from sheetplan.workbook.package.splice import splice_pages
        from sheetplan.workbook.writing.page_writer import draw_pages

        edit = changes.edit
        assert isinstance(edit, BookEdit), "begun here"
        try:
            new = splice_pages(edit.done(), draw_pages(turn.pages(changes.tables), turn.units))
        except MayNotAlter as reason:
            raise may_not_record(reason) from reason
        touched = sorted(edit.touched)

        def write() -> None:
            if new != self.data:
                put_book(self.book, self.data, new, touched)

        commit(
            rack, self.book, self.data, turn.numbers, turn.adds, turn.files, write, after=new, told=turn.told
        )


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
            self.host.change(edits, turn.pages(changes.tables), turn.units, save=True)
            if not self._counts(turn):
                raise NotSaved(book_problem(
                    self.book, "The workbook's file does not show the step after saving.",
                    "Save the workbook under its own name, as an .xlsx file, then run it again.",
                ))  # fmt: skip

        try:
            commit(
                rack, self.book, self.data, turn.numbers, turn.adds, turn.files, write,
                counts=lambda: self._counts(turn), told=turn.told,
            )  # fmt: skip
        except NotSaved as unsaved:
            try:
                self.host.change(edits.reversed(), turn.pages_back(changes.tables), turn.units, save=False)
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


# A book and its rack opened for a step: nobody else at work, earlier steps finished, all read.


@dataclass(frozen=True, slots=True)
class OpenRack:
    """All that a step needs. ``told`` says what was done to an interrupted step, if there was one."""

    book: Path
    rack: Path
    desk: Desk
    tables: BookTables
    job: Job
    steps: dict[int, Step]
    held: dict[str, Held]
    tags: TagsGiven
    told: str
    mark: str = ""
    """The book's mark, which its steps bear."""
    changed: frozenset[str] = frozenset()
    """Parts, as names are compared, whose drawing is no longer what was planned."""
    added: frozenset[int] = frozenset()
    """Steps of this command, which the book lists once they are done."""
    pending: Mapping[str, bytes | None] = field(default_factory=dict)
    """Files of the rack as those steps leave them, None for those that go."""
    left_out: tuple[Problem, ...] = ()
    """Why rows of the page Remnants cannot be used."""

    @property
    def listed(self) -> frozenset[int]:
        """Steps that the book's Cut log lists, and those of this command."""
        return steps_listed(self.tables) | self.added

    def after(
        self, step: Step, records: Sequence[Record], tags: TagsGiven, files: Mapping[str, bytes | None]
    ) -> OpenRack:
        """The same once a step is done, for the next step of the command."""
        held = {record.tag: Held(record.tag, record, record) for record in records}
        for tag, one in held.items():
            assert one.known is not None, "as it was just recorded"
            held[tag] = replace(one, drawing=self.rack / drawing_name(one.known))
        return replace(
            self, steps={**self.steps, step.number: step}, held={**self.held, **held}, tags=tags,
            added=self.added | {step.number}, pending={**self.pending, **files},
        )  # fmt: skip

    @property
    def recorded(self) -> list[Step]:
        """Those of them that are the book's own in the rack, by number."""
        own = {step.number: step for step in recorded(self.steps, self.tables, self.book)}
        own |= {number: self.steps[number] for number in self.added}
        return [step for _, step in sorted(own.items())]

    @property
    def next_step(self) -> int:
        """The number of the next step."""
        return max([0, *self.steps, *self.listed]) + 1

    def row(self, tag: str) -> Remnant | None:
        """The row of a tag on the page Remnants that may be planned on."""
        return next((remnant for remnant in self.job.remnants if remnant.tag == tag), None)

    def record(self, tag: str) -> Record | None:
        """The record of a tag, or what its row says where it has none yet."""
        held = self.held.get(tag)
        if held is not None and held.known is not None:
            return held.now
        row = self.row(tag)
        if row is None:
            return None
        record = from_row(row)
        if held is not None and held.now is not None:
            record = replace(record, edge=held.now.edge, cuts=held.now.cuts, origin="from a drawing")
        return record

    def free_tags(self, count: int, cut: CutOf) -> tuple[str, ...]:
        """Tags that nothing has or had, following the highest number; a cut recorded again has its own."""
        log = self.tables.tables.get(CUT_LOG.name)
        listed = column_of(log, "Back to the rack") if log else []
        told = (tag.strip() for tags in listed if tags is not None for tag in str(tags).split(","))
        steps = (tag for step in self.steps.values() for tag in step.left)
        taken = {*self.held, *row_numbers(self.tables), *steps, *told}
        again = self.tags.again(cut, count, taken)
        if again:
            return again
        first = max(highest_number(taken), self.tags.highest_number) + 1
        return tuple(f"R-{number:03d}" for number in range(first, first + count))


def free_book(book: Path) -> Path:
    """The book by its real path. Raises ``BookError`` where it cannot be read or is open elsewhere."""
    from sheetplan.workbook.outcomes import BookError, BookInUse
    from sheetplan.workbook.package.guard import judge, open_elsewhere

    book = book.resolve()
    fault = judge(book)
    if fault is not None:
        raise BookError(fault)
    busy = open_elsewhere(book)
    if busy is not None:
        raise BookInUse(busy)
    return book


class For(Enum):
    """What book and rack are opened for.

    Looking takes them as they are; mending sets aside what is damaged. To read what counts, and to record
    a step, both have to tell one history; to record one, the book may not be locked.
    """

    LOOKING = 0
    MENDING = 1
    READING = 2
    STEP = 3


@contextmanager
def open_rack(book: Path, what_for: For = For.STEP) -> Iterator[OpenRack]:
    """Hold book and rack for one step.

    Raises
    ------
    BookError
        The book is open elsewhere, or cannot be read.
    Refused
        Problems in the book stand in the way, or the rack cannot be used.
    """
    from sheetplan.workbook.reading.book import read_tables

    book = free_book(book)
    with _held(book, what_for) as told:
        data = book.read_bytes()
        if what_for is For.STEP:
            _refuse_locked(data)
        yield _opened(book, ClosedDesk(book, data), read_tables(book), told, what_for)


def _refuse_locked(data: bytes) -> None:
    """A book that may not be altered is said to be so before anything else is asked of it."""
    from sheetplan.workbook.package.parts import Package
    from sheetplan.workbook.package.splice import MayNotAlter, refuse_locked

    try:
        refuse_locked(Package.of_bytes(data))
    except MayNotAlter as locked:
        raise may_not_record(locked) from locked


@contextmanager
def open_rack_live(host: LiveHost) -> Iterator[OpenRack]:
    """Hold a book that is open in a program, and its rack, for one step; raises as `open_rack`."""
    from sheetplan.workbook.outcomes import BookError
    from sheetplan.workbook.package.guard import judge

    tables = host.read()
    book = host.path.resolve()
    fault = judge(book)
    if fault is not None:
        raise BookError(fault)
    with _held(book, For.STEP) as told:
        yield _opened(book, LiveDesk(host, book, book.read_bytes()), tables, told, For.STEP)


@contextmanager
def _held(book: Path, what_for: For) -> Iterator[str]:
    """Hold the rack beside a book; says what was done to an interrupted step."""
    from sheetplan.workbook.package.saving import as_private_as
    from sheetplan.workbook.reading.book import read_tables

    rack, mending = rack_of(book), what_for is For.MENDING
    try:
        with as_private_as(book), _only_one(rack):
            said = [recover(rack, lists_step, mending=mending)]
            said += set_damaged_aside(rack, steps_listed(read_tables(book))) if mending else ()
            yield " ".join(filter(None, said))
    except RackUnreadable as trouble:
        raise Refused(str(trouble), trouble.remedy or REBUILD.format(book.name)) from trouble


@contextmanager
def _only_one(rack: Path) -> Iterator[None]:
    """Hold the rack; a folder that was made for that and holds nothing afterwards goes again."""
    from sheetplan.workbook.package.guard import only_writer

    made = not rack.is_dir()
    rack.mkdir(exist_ok=True)
    try:
        with only_writer(rack / "steps"):
            yield
    finally:
        if made:
            with suppress(OSError):  # a step was recorded: it is not empty
                rack.rmdir()


def _opened(book: Path, desk: Desk, tables: BookTables, told: str, what_for: For) -> OpenRack:
    checked = check_tables(tables, book, rack=False)
    unclear = [problem for problem in tables.problems if problem.weight is Weight.STOPS]
    if checked.job is None or unclear:
        raise Refused("Problems in the book stop this.", "Put them right first.", checked.problems)
    rack = rack_of(book)
    steps = read_steps(rack)
    differ = apart(steps, tables, book) if what_for in (For.READING, For.STEP) else None
    if differ is not None:
        problem = apart_problem(differ, book, steps)
        raise Refused(problem.what, problem.remedy)
    pages = (REMNANTS.name, REMNANT_SHAPES.name)
    left_out = tuple(p for p in checked.problems if p.page in pages and p.weight is Weight.LEFT_OUT)
    held, mark = read_records(rack, checked.job.settings.units), mark_of_book(steps, tables, book, desk.data)
    return OpenRack(book, rack, desk, tables, checked.job, steps, held, read_tags(rack), told, mark,
                    checked.changed, left_out=left_out)  # fmt: skip


def kept_plan(book: Path, job: Job, mark: str | None, shown: str) -> KeptPlan:
    """The plan of a mark, or the one whose mark the book shows.

    Raises
    ------
    Refused
        There is none, or its file is gone or damaged.
    """
    mark = mark or shown
    if not mark:
        raise Refused("The book shows no plan.", "Make a plan first.", about="layout")
    folder = output_folder(book, job.settings.output_folder)
    if isinstance(folder, Problem):
        raise Refused(folder.what, folder.remedy)
    for place in (folder / f"plan-{mark}", folder / "earlier" / f"plan-{mark}"):
        path = place / EXACT_FILE
        if path.exists():
            try:
                return kept_plan_of(path.read_text(encoding="utf-8"))
            except (UnicodeDecodeError, NotThisPlan) as error:
                raise Refused(f"{path} cannot be used: {error}.", "Plan again.") from error
    if mark == shown:
        what = f"The drawings of plan {mark} are not in {folder}, and with them what was planned."
        raise Refused(what, "Put the folder back, or plan again.")
    raise Refused(
        f"What was planned as {mark} is not in {folder}; the last {RECORDS_KEPT} earlier plans are kept.",
        f"Check the name, or put the folder plan-{mark} back from a copy. If there is none, correct On hand, "
        "the orders' quantities and the remnants in the book by hand.", about="layout",
    )  # fmt: skip


def earlier_plans(book: Path, job: Job, mark: str) -> Iterator[KeptPlan]:
    """Other plans of a book than the one of a mark, the latest first, as far as they can be read."""
    folder = output_folder(book, job.settings.output_folder)
    for place in earlier_folders(folder, book.name) if isinstance(folder, Path) else ():
        if place.name != f"{PREFIX}{mark}":
            try:
                yield kept_plan_of((place / EXACT_FILE).read_text(encoding="utf-8"))
            except (OSError, UnicodeDecodeError, NotThisPlan):
                continue
