"""A book and its rack opened for a step: nobody else at work, earlier steps finished, all read."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from enum import Enum
from pathlib import Path

from sheetplan.app.check import check_tables
from sheetplan.app.rack import Refused
from sheetplan.app.rack.belonging import apart, apart_problem, column_of, mark_of_book, recorded, steps_listed
from sheetplan.app.rack.changes import BookChanges, ClosedDesk, Desk, LiveDesk, lists_step
from sheetplan.app.rack.folder import (
    CutOf,
    Held,
    RackUnreadable,
    TagsGiven,
    Transaction,
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
from sheetplan.rack.free_space import Taken, useful_rectangle
from sheetplan.rack.record import Record, from_row, outermost
from sheetplan.rack.step import Step
from sheetplan.shapes import Box
from sheetplan.trade.thickness import same
from sheetplan.workbook.columns import CUT_LOG, REMNANT_SHAPES, REMNANTS
from sheetplan.workbook.outcomes import BookError
from sheetplan.workbook.package.splice import MayNotAlter
from sheetplan.workbook.port import LiveHost
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import BookTables, CellValue


def may_not_record(reason: MayNotAlter) -> Refused:
    """That nothing can be recorded in a book that may not be altered; a results book does not help."""
    remedy = reason.remedy.split(", or use the results book")[0].split("; or use the results book")[0]
    return Refused(f"{reason.what} So nothing can be recorded in it.", f"{remedy.rstrip('.')}.")


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

    def commit(
        self, changes: BookChanges, files: Mapping[str, bytes | None] | None = None,
        steps: Sequence[Step] | None = None, *, job_after: Job | None = None, told: str = "",
    ) -> None:  # fmt: skip
        """Write the changes into the book and the files into the rack, all of it or nothing.

        Without ``files`` and ``steps``, what the steps of this command leave (`after`); `Transaction` says
        what the rest means. Raises ``BookError`` or ``Refused``, and nothing was then changed.
        """
        recorded = self.recorded
        before = [step for step in recorded if step.number not in self.added]
        done = Transaction(
            recorded if steps is None else steps, before, self.pending if files is None else files, self.job,
            self.mark, job_after, told,
        )  # fmt: skip
        try:
            self.desk.do(changes, done)
        except MayNotAlter as reason:
            raise may_not_record(reason) from reason

    def row(self, tag: str) -> Remnant | None:
        """The row of a tag on the page Remnants that may be planned on."""
        return next((remnant for remnant in self.job.remnants if remnant.tag == tag), None)

    def cells(self, tag: str) -> Mapping[str, CellValue]:
        """The row of a tag on the page Remnants, by heading as compared; empty where it has none."""
        table = self.tables.tables.get(REMNANTS.name)
        for row in table.rows if table else ():
            cells = {normal(name): cell.value for name, cell in row.cells.items()}
            if normal(str(cells.get("tag") or "")) == normal(tag):
                return cells
        return {}

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

    def kerf_of(self, record: Record) -> float:
        """The kerf that its cuts have burnt, as plan, ticket and month reckon it; 0 without a rule."""
        rules = (rule for rule in self.job.rules if rule.material == record.material)
        return next((rule.kerf for rule in rules if same(rule.thickness, record.thickness)), 0.0)

    def room_of(self, record: Record) -> Box | None:
        """The room left on a record, by its gauge's gap; by the metal's largest gap where that is unknown."""
        if record.used_up:
            return None
        rules = [rule for rule in self.job.rules if rule.material == record.material]
        gaps = [rule.gap for rule in rules if same(rule.thickness, record.thickness)]
        taken = [Taken(cut.loop) for cut in outermost(record.cuts)]
        gap = max(gaps or [rule.gap for rule in rules], default=0.0)
        return useful_rectangle(record.edge, taken, gap, self.job.settings)

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
    from sheetplan.workbook.outcomes import BookInUse
    from sheetplan.workbook.package.guard import judge, open_elsewhere

    book = book.resolve()
    fault = judge(book)
    if fault is not None:
        raise BookError(fault)
    busy = open_elsewhere(book)
    if busy is not None:
        raise BookInUse(busy)
    return book


def day_said(date: datetime.date | None, today: datetime.date) -> datetime.date:
    """The day on which something was, today where nobody says; one that is still to come is refused."""
    if date is not None and date > today:
        raise Refused(f"{date.isoformat()} is still to come.", "Give the day on which it was.", about="date")
    return date or today


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
