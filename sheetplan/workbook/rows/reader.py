"""Read one row cell by cell, collecting every fault with its place instead of stopping at the first."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Generic, TypeVar

from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from sheetplan.workbook.reading_grid import is_blank, normal
from sheetplan.workbook.reading_headings import asked_about
from sheetplan.workbook.rows.cells import CellFault, fault_of
from sheetplan.workbook.schema import InputPage, note_in
from sheetplan.workbook.tables import CellValue, RawRow, RawTable

T = TypeVar("T")
Value = TypeVar("Value", covariant=True)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a row stands: the sheet, the row's number, and the address of each of its cells."""

    sheet: str
    row: int
    addresses: Mapping[str, str]

    @property
    def said(self) -> str:
        """The row as a person would point at it."""
        return f"row {self.row} of the page {self.sheet}"

    def problem(self, heading: str | None, what: str, remedy: str, weight: Weight = Weight.STOPS) -> Problem:
        """A finding about this row, at the cell under ``heading`` where there is one."""
        return Problem(self.sheet, self.row, self.addresses.get(heading or ""), what, remedy, weight)


@dataclass(frozen=True, slots=True)
class Read(Generic[Value]):
    """A value and the row that it was read from."""

    value: Value
    place: Place


@dataclass(frozen=True, slots=True)
class FaultyRow:
    """Metal and thickness of a row that is there but cannot be used.

    ``room`` is width and length in mm, None where they cannot be read or the row has none.
    """

    material: str
    thickness: Thickness
    room: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class PageRead(Generic[T]):
    """What one page gave.

    ``broken`` names what stands on rows that could not be used, as compared by `normal`.
    ``whole`` is False where the page or a needed column is missing: then nothing can be said
    about names that are not found on it. ``names`` are those of ``broken`` as they are written.
    ``faulty`` are rows left out for a mistake whose gauge can be read all the same.
    """

    rows: tuple[Read[T], ...] = ()
    broken: Mapping[str, Place] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    whole: bool = True
    names: Mapping[str, str] = field(default_factory=dict)
    faulty: tuple[Read[FaultyRow], ...] = ()


class RowReader:
    """One row being read: hands out values and remembers what was wrong."""

    def __init__(self, page: InputPage, table: RawTable, row: RawRow, units: Units, weight: Weight) -> None:
        self.page = page
        self.units = units
        self.weight = weight
        self.problems: list[Problem] = []
        self._cells = {normal(heading): cell for heading, cell in row.cells.items()}
        addresses = {
            column.heading: self._cells[normal(column.heading)].address
            for column in page.columns
            if normal(column.heading) in self._cells
        }
        self.place = Place(table.page, row.number, addresses)

    @property
    def ok(self) -> bool:
        """Whether everything read so far could be used."""
        return not any(problem.weight is not Weight.NOTE for problem in self.problems)

    def value(self, heading: str) -> CellValue:
        """The raw cell; None where the column is not there."""
        cell = self._cells.get(normal(heading))
        return cell.value if cell else None

    def blank(self, heading: str) -> bool:
        """Whether the cell is empty or its column is not there."""
        return is_blank(self.value(heading))

    def need(self, heading: str, read: Callable[[CellValue], T], stand_in: T) -> T:
        """The cell's value; an empty or faulty cell is a problem and gives ``stand_in``."""
        if not self.blank(heading):
            return self.may(heading, read, stand_in)
        column = self.page.column(heading)
        example = f", for example {note_in(column.example, self.units)}" if column.example else ""
        self.fault(heading, f"{heading} is empty.", f"Write {column.holds.value}{example}.")
        return stand_in

    def may(self, heading: str, read: Callable[[CellValue], T], blank: T, weight: Weight | None = None) -> T:
        """The cell's value, or ``blank`` where it is empty; a faulty cell is a problem of this weight."""
        if self.blank(heading):
            return blank
        try:
            return read(self.value(heading))
        except CellFault as fault:
            self.fault(heading, f"{heading} {fault.what}.", fault.remedy, weight)
        except ValueError as error:
            traded = fault_of(error)
            self.fault(heading, f"{heading} {traded.what}.", traded.remedy, weight)
        return blank

    def fault(
        self, heading: str | None, what: str, remedy: str, weight: Weight | None = None,
        *, after: Place | None = None, missing: str = "",
    ) -> None:  # fmt: skip
        """Note a problem at a cell of this row, that of the row ``after`` being its cause."""
        found = self.place.problem(heading, what, remedy, weight or self.weight)
        follows = f"{after.sheet}!{after.row}" if after else ""
        self.problems.append(replace(found, follows=follows, missing=missing))


def readers(
    page: InputPage, table: RawTable, units: Units, weight: Weight = Weight.LEFT_OUT
) -> Iterator[RowReader]:
    """A reader for each row of the table; its faults have the given weight."""
    for row in table.rows:
        yield RowReader(page, table, row, units, weight)


def column_problems(page: InputPage, table: RawTable) -> tuple[Problem, ...]:
    """Needed columns that are missing and input columns that stand twice."""
    there = [normal(heading) for heading in table.headings]
    found = []
    for column in page.columns:
        times = there.count(normal(column.heading))
        if times == 0 and column.required:
            found.append(
                Problem(
                    table.page,
                    table.heading_row,
                    None,
                    f"The column {column.heading} is missing from the table on the page {table.page}.",
                    f"{asked_about(column.heading, page, table)}Add a column with the heading "
                    f"{column.heading}. It holds {column.holds.value}.",
                )
            )
        elif times > 1:
            found.append(
                Problem(
                    table.page,
                    table.heading_row,
                    None,
                    f"The heading {column.heading} stands over {times} columns of the page {table.page}.",
                    "Give each column its own heading; the tool cannot tell which one counts.",
                )
            )
    return tuple(found)


def page_missing(page: InputPage, weight: Weight) -> Problem:
    """The whole page is not there."""
    headings = ", ".join(column.heading for column in page.columns if column.required)
    return Problem(
        page.name,
        None,
        None,
        f"The book has no page {page.name} with the headings {headings}.",
        "Name the page and its headings so, or copy them from a book made by `sheetplan new`.",
        weight,
    )
