"""What a run asks of the place where the book lies: a file, or a program that has it open.

Here are the runs that an open book can start, changes gathered for it, and what keeps a program from
writing.
"""

from __future__ import annotations

import datetime
import os
from abc import ABC, abstractmethod
from collections.abc import Collection, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Protocol

from openpyxl.utils.cell import column_index_from_string, coordinate_from_string

from sheetplan.model.problem import Problem
from sheetplan.pages.values import ResultPage
from sheetplan.planning.progress import Progress
from sheetplan.trade.units import Units
from sheetplan.workbook.outcomes import book_problem
from sheetplan.workbook.package.guard import READABLE
from sheetplan.workbook.reading.book import BookView
from sheetplan.workbook.reading.grid import Box, SheetPlace, TablePlace, is_blank, normal
from sheetplan.workbook.tables import BookTables

# What keeps a program from writing into a book that it has open, told before any work is done.


@dataclass(frozen=True, slots=True)
class BookState:
    """How a program has a book open. ``pages`` are its pages, ``locked`` those that are protected.

    ``planners`` are pages that the tool did not make and that hold something.
    """

    read_only: bool = False
    structure_locked: bool = False
    pages: frozenset[str] = frozenset()
    locked: frozenset[str] = frozenset()
    planners: frozenset[str] = frozenset()


def wrong_kind(path: Path) -> Problem | None:
    """What is wrong with the kind of the book's file; nothing can be recorded in another kind."""
    if path.suffix.lower() in READABLE:
        return None
    return book_problem(
        path, f"The workbook is a file of the kind {path.suffix or 'without an ending'}, in which no cut, "
        "order or delivery can be recorded.",
        "Save it as an Excel workbook (File, Save As, Excel 2007-365, ending .xlsx) and go on in that one.",
    )  # fmt: skip


def barred(path: Path, state: BookState, wanted: Collection[str], edited: Collection[str]) -> Problem | None:
    """The first thing that keeps pages from being drawn or cells of others from being written, or None."""
    if state.read_only:
        return book_problem(
            path, "The workbook is open for reading only, so nothing can be written into it.",
            "Open it for editing, or save it under another name, then run it again.",
        )  # fmt: skip
    if path.parent.is_dir() and not os.access(path.parent, os.W_OK):
        return book_problem(
            path, f"The folder {path.parent} may not be written, and drawings and records go there.",
            "Save the workbook in a folder of your own, then run it again.",
        )  # fmt: skip
    own = sorted({*wanted} & state.planners)
    if own:
        return book_problem(
            path, f"The page {own[0]} is your own: it was not made here, so it is not replaced.",
            "Give your page another name, then run it again.",
        )  # fmt: skip
    missing = sorted({*wanted} - state.pages)
    if state.structure_locked and missing:
        return book_problem(
            path, f"The workbook's structure is protected, so the page {missing[0]} cannot be added.",
            "Take the protection off (Tools, Protect Spreadsheet Structure), then run it again.",
        )  # fmt: skip
    locked = sorted({*wanted, *edited} & state.locked)
    if locked:
        pages = f"page {locked[0]} is" if len(locked) == 1 else f"pages {', '.join(locked)} are"
        return book_problem(
            path, f"The {pages} protected, so nothing can be written there.",
            "Take the protection off (Tools, Protect Sheet), then run it again.",
        )  # fmt: skip
    return None


# Changes to single cells and rows of a book that is open in a program, gathered before any is made.
#
# The counterpart of `package.cells` for a closed book, by the same rules: only numbers and text are written,
# never over a formula, and a table without a blank row grows by one where the row below it is free.

Value = str | int | float | None
"""What a cell of the planner's holds, in a closed book or an open one; None empties it."""

Put = Value | datetime.date
"""What is written into one; a day becomes the program's own kind of day."""


class EditView(BookView, Protocol):
    """A book as a host shows it, with what must be known before cells are written."""

    def formulas(self, sheet: str, box: Box) -> Set[tuple[int, int]]:
        """Row and column, from 1, of each cell of a block that holds a formula."""


@dataclass(frozen=True, slots=True)
class CellWrite:
    """A value for one cell (row and column from 1), and what stands there now."""

    sheet: str
    row: int
    column: int
    value: Put
    before: Put


@dataclass(frozen=True, slots=True)
class Growth:
    """A table that takes in the row below it, with the formats and row formulas of its last row."""

    sheet: str
    table: str
    box: Box


@dataclass(frozen=True, slots=True)
class Edits:
    """What a host is to do before it draws pages: tables grow first, then cells are written."""

    cells: tuple[CellWrite, ...] = ()
    growths: tuple[Growth, ...] = ()

    def reversed(self) -> Edits:
        """The cells as they were; a table that has grown keeps its row, now blank."""
        return Edits(tuple(replace(one, value=one.before, before=one.value) for one in self.cells[::-1]))


class AddsRows(ABC):
    """Rows put into tables one after another, wherever a book lies; `_added` says how one is written."""

    def add_row(self, table: str, values: Mapping[str, Put], inputs: tuple[str, ...]) -> int | None:
        """Write a row of a table into its first blank row, or below it; None where there is no room.

        ``values`` go by heading, and headings that the table does not have are passed over; ``inputs``
        are the headings of the columns that make a row count as used.
        """
        return next(self._added(table, [values], inputs))

    def add_rows(
        self, table: str, rows: Sequence[Mapping[str, Put]], inputs: tuple[str, ...]
    ) -> tuple[int, ...]:
        """Write rows as `add_row` does, one after another; raises ValueError where there is no room."""
        numbers = []
        for number in self._added(table, rows, inputs):
            if number is None:
                raise ValueError(f"the table {table} has no room for more rows")
            numbers.append(number)
        return tuple(numbers)

    @abstractmethod
    def _added(
        self, table: str, rows: Sequence[Mapping[str, Put]], inputs: tuple[str, ...]
    ) -> Iterator[int | None]:
        """The number of each row as it is written, None where it cannot be."""


class LiveEdit(AddsRows):
    """Changes under way; `done` gives them to a host."""

    def __init__(self, view: EditView) -> None:
        self._view = view
        self._places = {place.name: place for place in view.places}
        self._cells: dict[tuple[str, int, int], CellWrite] = {}
        self._growths: list[Growth] = []
        self.touched: set[str] = set()
        """Pages that are changed."""

    def done(self) -> Edits:
        """All changes."""
        return Edits(tuple(self._cells.values()), tuple(self._growths))

    def set(self, sheet: str, address: str, value: Put) -> bool:
        """Write one cell; False where it holds a formula, which stays."""
        letters, row = coordinate_from_string(address)
        return self._set(sheet, row, column_index_from_string(letters), value)

    def _added(
        self, table: str, rows: Sequence[Mapping[str, Put]], inputs: tuple[str, ...]
    ) -> Iterator[int | None]:
        """The number of each row as it is written, None where it cannot be."""
        after = 0
        for values in rows:
            found = next(
                ((p, t) for p in self._places.values() for t in p.tables if normal(t.name) == normal(table)),
                None,
            )
            if found is None:
                yield None
                return
            place, spot = found
            columns = {normal(name): spot.box.left + i for i, name in enumerate(spot.names)}
            used = [columns[normal(name)] for name in inputs if normal(name) in columns]
            number = self._blank_row(place, spot, used, after)
            if number is None:
                number = self._grown(place, spot)
            if number is None:
                yield None
                return
            after = number
            for heading, value in values.items():
                column = columns.get(normal(heading))
                if column is not None and value is not None:
                    self._set(place.name, number, column, value)
            yield number

    def _set(self, sheet: str, row: int, column: int, value: Put) -> bool:
        spot = Box(column, row, column, row)
        if (row, column) in self._view.formulas(sheet, spot):
            return False
        before = self._shown(sheet, row, column)
        first = self._cells.get((sheet, row, column))
        self._cells[sheet, row, column] = CellWrite(
            sheet, row, column, value, first.before if first else before
        )
        self.touched.add(sheet)
        return True

    def _shown(self, sheet: str, row: int, column: int) -> Value:
        for _, cells in self._view.rows(sheet, Box(column, row, column, row)):
            value = cells[0] if cells else None
            return value if value is None or isinstance(value, str | int | float) else str(value)
        return None

    def _blank_row(self, place: SheetPlace, spot: TablePlace, used: list[int], after: int) -> int | None:
        """The first blank row below a row."""
        bottom = spot.box.bottom - (1 if spot.has_total_row else 0)
        block = Box(spot.box.left, max(spot.box.top, after) + 1, spot.box.right, bottom)
        if block.top > bottom:
            return None
        rows = dict(self._view.rows(place.name, block))
        for number in range(block.top, bottom + 1):
            cells = rows.get(number, ())
            at = {column: cells[column - block.left] for column in used if column - block.left < len(cells)}
            written = {c: self._cells[place.name, number, c].value for c in used
                       if (place.name, number, c) in self._cells}  # fmt: skip
            if all(is_blank(value) for value in {**at, **written}.values()):
                return number
        return None

    def _grown(self, place: SheetPlace, spot: TablePlace) -> int | None:
        """Stretch the table over the row below it, and return that row."""
        box, new = spot.box, spot.box.bottom + 1
        below = Box(box.left, new, box.right, new)
        taken = any(not is_blank(cell) for _, cells in self._view.rows(place.name, below) for cell in cells)
        meets = any(other is not spot and other.box.meets(below) for other in place.tables)
        if spot.has_total_row or taken or meets or self._view.formulas(place.name, below):
            return None
        self._growths.append(Growth(place.name, spot.name, box))
        taller = replace(spot, box=replace(box, bottom=new))
        tables = tuple(taller if table is spot else table for table in place.tables)
        self._places[place.name] = replace(place, tables=tables)
        self.touched.add(place.name)
        live = self._view.formulas(place.name, replace(box, top=box.bottom))
        for column in range(box.left, box.right + 1):
            if (box.bottom, column) not in live:  # the copy of the last row brings its values along
                self._cells[place.name, new, column] = CellWrite(place.name, new, column, None, None)
        return new


# The runs that can be started from within an open book, as people call them.

RUN_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "import": "Import drawings",
        "check": "Check the book",
        "plan": "Plan the month",
        "quote": "Price the quotes",
        "ordered": "Mark the buy list as ordered",
        "receive": "Take a delivery in",
        "cut": "Record cuts",
        "parts": "Record finished parts",
        "undo": "Take back the last step",
        "month": "Balance the month",
        "close": "Close the month",
    }
)
"""What the drop-down on the page Start and Calc's menu say, by the run; in the order of work."""

USUAL_RUN = "plan"
"""The run of a book that asks for none."""


def run_of(text: str) -> str:
    """The run that a text asks for: a label, or the run's own word; other texts come back as they are.

    >>> run_of("Record cuts"), run_of("CHECK"), run_of("")
    ('cut', 'check', 'plan')
    """
    asked = " ".join(text.split()).casefold()
    by_label = {label.casefold(): run for run, label in RUN_LABELS.items()}
    return by_label.get(asked, asked or USUAL_RUN)


# What a run asks of the place where the book lies.
#
# A host reads tables and shows result pages; it knows no rule of planning. All hosts read by
# `reading.book` and draw the same grids (`writing.grid`), so the same tables give the same results in
# every one of them.


class Host(Protocol):
    """A book that a run works on."""

    @property
    def path(self) -> Path:
        """Where the book's file lies; drawings go beside it."""

    def read(self) -> BookTables:
        """Read all input tables; raises `errors.BookError` where that cannot be."""

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        """Replace our pages and return the book that now holds them.

        Raises `errors.BookError`, and then nothing was written; so also where the inputs are no
        longer those that `read` gave.
        """

    def touched(self) -> bool | None:
        """Whether somebody has worked in the book since it was last read; None where nobody can tell."""

    def progress(self, progress: Progress) -> None:
        """Show how far the run has come."""

    def tell(self, sentence: str) -> None:
        """Say something that the person must know; only what stops the run is said this way."""


class LiveHost(Host, Protocol):
    """A book that is open in a program, in which a person asked for the run."""

    def state(self) -> BookState:
        """How the program has the book open, as far as that decides what can be written."""

    def asked(self, name: str) -> str:
        """Text of the cell that bears a name of the book; empty where there is no such cell."""

    def note(self, sentence: str) -> None:
        """Show on the page Start how the run went."""

    def edit(self) -> LiveEdit:
        """Begin changes to cells, of the book as it was last read."""

    def change(self, edits: Edits, pages: Sequence[ResultPage], units: Units, *, save: bool) -> None:
        """Write cells and replace pages in one step, and have the program save the book.

        Raises `errors.BookError`, and then nothing was written; but `errors.NotSaved` where all was
        written in the open book and its file could not be.
        """
