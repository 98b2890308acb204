"""Read a table row by row, cell by cell: headings, faults with their place, and names that stand once."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Generic, TypeVar

from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.sentences import named
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import ALL_PAGES, CHOICE_MARKS, LAYOUT_MARKS
from sheetplan.workbook.reading.cells import CellFault, traded, yes_no
from sheetplan.workbook.reading.grid import is_blank, normal
from sheetplan.workbook.schema import Holds, InputColumn, InputPage, note_in
from sheetplan.workbook.tables import BookTables, CellValue, RawCell, RawTable
from sheetplan.workbook.text import looks, only_alike, skeleton, strangers

# The headings of each input table: found, missing, or not the tool's, and what that does to a plan.
#
# Terms
# own column
#     One that the tool does not know. It is the planner's and is not read; so it is named, once a page.
# mistaken column
#     An own column whose heading comes near that of a column which is missing, or whose cells all say what
#     only that column may say. Then nobody knows what was meant, and the plan waits for the answer.
# template of a book
#     The newest template that any of its columns is of. What came later is not missed: a book that never had
#     such a column is read as it always was.
#
# Choices: A column that is missing is told with what stands in for it, since a plan without On hand
# buys metal that lies in the rack. An empty column of that heading says that this is meant, and no note is
# left.

NEAR = 0.78
"""Share of letters in common (`difflib`) from which two headings are taken for one another."""

REMARKS = frozenset({"Description", "Supplier", "Rack place", "From", "Heat", "Cut by", "Note"})
"""Columns that are only printed: no plan, count or amount hangs on them."""

MARKS = frozenset({"Cut now", "How", "Lock", "Pick"})
"""Columns of result pages that the planner fills."""

MOST_NAMED = 8
"""Own columns that are named; more are counted."""

MOST_NOTED = 8
"""Rows with one kind of note that are told one by one; those of more are told together."""

MOST_TOLD = 3
"""Findings on one drawing that are told in the book; `sheetplan show` tells them all."""

_OTHER_WORDS = {
    "On hand": "in stock;stock;available;inventory;in rack;have;qty;quantity;bestand",
    "On order": "ordered;open order;coming",
    "Price": "cost;unit price;price each;rate;preis;prix",
    "Price per": "per;priced by;price unit;price basis;unit;basis",
    "Most to buy": "max;maximum;limit;buy limit;max to buy",
    "Order multiple": "multiple;lot;lot size;pack;pack size;bundle",
    "Lead days": "lead time;delivery days;delivery time",
    "Must": "priority;required;mandatory;obligatory",
    "Quantity": "qty;pieces;pcs;number;count;menge;quantite",
    "Due": "due date;delivery;deliver by;needed by;wanted by;date",
    "State": "status;open",
    "Grain": "direction;rolling direction;grain direction;fibre;fiber",
    "Turns": "turn;rotation;rotate;orientation;turning",
    "Spare": "spares;extra;extras",
    "Least hole": "min hole;minimum hole;smallest hole;hole min",
    "Least web": "min web;minimum web;smallest web",
    "Feed": "speed;cutting speed;feed rate;cut speed",
    "Travel": "rapid;travel speed;rapid speed",
    "Pierce seconds": "pierce time;pierce delay;pierce",
    "Hour cost": "hourly cost;hourly rate;hour rate;machine rate;cost per hour",
    "Pierce cost": "cost per pierce",
    "Kerf": "cut width;kerf width",
    "Gap": "spacing;part gap;clearance",
    "Margin": "edge;border;edge margin",
    "Width": "w;breite;largeur",
    "Length": "l;len;laenge;longueur",
    "Thickness": "thick;gauge;ga;gage",
    "Material": "metal;mat;grade",
    "Drawing": "file;dxf;drawing file",
    "Drawn in": "drawing unit;units;unit",
    "Value": "worth",
    "Paid": "cost;amount;price",
    "Sheets": "qty;quantity;count;number",
    "Item": "part;kit;product",
    "Part": "part number;part no;item",
    "Sheet": "size;sheet name",
    "Tag": "remnant;label;number",
}
"""Other words for a column that shops write; common practice, no source."""

_IN_BRACKETS = re.compile(r"[\(\[].*?[\)\]]")
_NO_LETTER = re.compile(r"[^a-z0-9]+")


def heading_problems(tables: BookTables, pages: Sequence[InputPage] = ALL_PAGES) -> list[Problem]:
    """What is to be said about the headings of a book's input tables, or of those of some pages."""
    template = template_of(tables)
    return [
        problem for page in pages if page.name in tables.tables
        for problem in _of_page(page, tables.tables[page.name], template)
    ]  # fmt: skip


def template_of(tables: BookTables) -> int:
    """The newest template that any column of the book is of, counted as `InputColumn.since` does."""
    there = [(page, tables.tables[page.name]) for page in ALL_PAGES if page.name in tables.tables]
    return max((column.since for page, table in there for column in _found(page, table)), default=0)


def mark_problems(tables: BookTables) -> list[Problem]:
    """What is wrong with the headings over the planner's marks on result pages, where marks may be missed."""
    return [
        problem for page in (LAYOUT_MARKS, CHOICE_MARKS) if page.name in tables.tables
        for problem in _of_marks(page, tables.tables[page.name])
    ]  # fmt: skip


def _of_marks(page: InputPage, table: RawTable) -> Iterator[Problem]:
    there = [normal(heading) for heading in table.headings]
    marks = [column for column in page.columns if column.heading in MARKS]
    for column in marks:
        if there.count(normal(column.heading)) > 1:
            yield Problem(
                table.page, table.heading_row, None,
                f"The heading {column.heading} stands over several columns of the page {table.page}.",
                "Give each column its own heading; the tool cannot tell which one counts.",
            )  # fmt: skip
    missing = [column for column in marks if normal(column.heading) not in there]
    for heading in _own(page, table):
        near = [column for column in missing if _near(heading, column)]
        if near:
            yield _question(table, heading, near)


def asked_about(heading: str, page: InputPage, table: RawTable) -> str:
    """Own columns of the table that may be the missing one, as a question with a space behind."""
    column = page.column(heading)
    near = [own for own in _own(page, table) if _near(own, column)]
    return f"Is it {' or '.join(f'`{heading}`' for heading in near)}? " if near else ""


def _found(page: InputPage, table: RawTable) -> list[InputColumn]:
    there = {normal(heading) for heading in table.headings}
    return [column for column in page.columns if normal(column.heading) in there]


def _own(page: InputPage, table: RawTable) -> list[str]:
    """Headings that the tool does not know, of columns in which something stands."""
    known = {normal(heading) for heading in page.headings}
    return list(dict.fromkeys(
        heading for heading in table.headings
        if heading and normal(heading) not in known and any(True for _ in _cells(table, heading))
    ))  # fmt: skip


def _cells(table: RawTable, heading: str) -> Iterator[CellValue]:
    cells = (row.cells.get(heading) for row in table.rows)
    return (cell.value for cell in cells if cell is not None and not is_blank(cell.value))


def _of_page(page: InputPage, table: RawTable, template: int) -> Iterator[Problem]:
    found = _found(page, table)
    missing = [column for column in page.columns if column not in found and not column.required]
    own = _own(page, table)
    mistaken: dict[str, list[InputColumn]] = {}
    for heading in own:
        near = [column for column in missing if _near(heading, column)]
        near = near or [column for column in missing if _says_only(column, list(_cells(table, heading)))]
        if near:
            mistaken[heading] = near
    for heading, columns in mistaken.items():
        yield _question(table, heading, columns)
    asked = {column.heading for columns in mistaken.values() for column in columns}
    untold = [column for column in missing if column.heading not in asked]
    missed = [column for column in untold if column.blank and column.since <= template]
    if missed:
        yield _stand_ins(table, missed)
    needed = [column for column in page.columns if column.required and column not in found]
    left = [heading for heading in own
            if heading not in mistaken and not any(_near(heading, column) for column in needed)]  # fmt: skip
    if left:
        yield _not_read(table, left)


def _question(table: RawTable, heading: str, columns: Sequence[InputColumn]) -> Problem:
    """An own column that may be one of the tool's: asked, and waited for where anything hangs on it."""
    names = " or ".join(column.heading for column in columns)
    light = all(column.heading in REMARKS for column in columns)
    blanks = "; ".join(f"{column.heading} counts as: {column.blank}" for column in columns)
    return Problem(
        table.page, table.heading_row, None,
        f"Is the column `{heading}` of the page {table.page} what the tool calls {names}? As it stands it is "
        f"not read, and for every row {blanks}.",
        f"If it is, write {columns[0].heading} as its heading. If not, add an empty column with the heading "
        f"{columns[0].heading}.",
        Weight.NOTE if light else Weight.STOPS,
    )  # fmt: skip


def _stand_ins(table: RawTable, columns: Sequence[InputColumn]) -> Problem:
    """Columns that are not there, each with what is taken instead."""
    said = ", ".join(f"no column {column.heading} (so for every row: {column.blank})" for column in columns)
    return Problem(
        table.page, table.heading_row, None,
        f"The page {table.page} has {said}.",
        "If that is not meant, add the column, or give the one that holds it this heading. An empty column "
        "of that heading says that it is meant.",
        Weight.NOTE,
    )  # fmt: skip


def _not_read(table: RawTable, own: Sequence[str]) -> Problem:
    one = len(own) == 1
    return Problem(
        table.page, table.heading_row, None,
        f"Not read, since the tool has no such heading{'' if one else 's'} on the page {table.page}: "
        f"{named((f'`{heading}`' for heading in own), MOST_NAMED)}.",
        f"Leave {'it' if one else 'them'} where {'it is' if one else 'they are'} if the column"
        f"{' is' if one else 's are'} your own.",
        Weight.NOTE,
    )  # fmt: skip


def _near(heading: str, column: InputColumn) -> bool:
    """Whether a heading may have been meant for the column's."""
    said, wanted = _bare(heading), _bare(column.heading)
    if said == wanted or said.replace(" ", "") == wanted.replace(" ", ""):
        return True
    if said in (_bare(word) for word in _OTHER_WORDS.get(column.heading, "").split(";")):
        return True
    words, needed = set(said.split()), set(wanted.split())
    if needed <= words and len(words) <= len(needed) + 2:
        return True
    return bool(said) and difflib.SequenceMatcher(None, said, wanted).ratio() >= NEAR


def _bare(heading: str) -> str:
    """A heading as it is compared for nearness: letters and figures, without what is in brackets or a number.

    >>> _bare("On-Hand (pcs)"), _bare("Grain2")
    ('on hand', 'grain')
    """
    plain = _IN_BRACKETS.sub(" ", normal(skeleton(heading)))
    return _NO_LETTER.sub(" ", plain).strip().rstrip("0123456789").strip()


def _says_only(column: InputColumn, cells: Sequence[CellValue]) -> bool:
    """Whether all cells are words of the column's drop-down, and not merely yes and no."""
    if column.holds is not Holds.CHOICE or not cells:
        return False
    words = {normal(word) for word in column.choices}
    return all(isinstance(cell, str) and normal(cell) in words for cell in cells)


# Read one row cell by cell, collecting every fault with its place instead of stopping at the first.

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

    def __init__(self, page: InputPage, place: Place, cells: Mapping[str, RawCell], units: Units,
                 weight: Weight) -> None:  # fmt: skip
        self.page = page
        self.units = units
        self.weight = weight
        self.problems: list[Problem] = []
        self.place = place
        self._cells = cells

    @property
    def ok(self) -> bool:
        """Whether everything read so far could be used."""
        return not any(problem.weight is not Weight.NOTE for problem in self.problems)

    def value(self, heading: str) -> CellValue:
        """The raw cell; None where the column is not there."""
        cell = self._cells.get(heading)
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
            return traded(lambda: read(self.value(heading)))
        except CellFault as fault:
            self.fault(heading, f"{heading} {fault.what}.", fault.remedy, weight)
        return blank

    def says_yes(self, heading: str) -> bool:
        """Whether the cell says yes; an empty one says no."""
        return self.may(heading, yes_no, blank=False)

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
    headings = {normal(column.heading): column.heading for column in page.columns}
    ours: dict[str, str | None] = {}
    for row in table.rows:
        for written in row.cells.keys() - ours.keys():
            ours[written] = headings.get(normal(written))
        cells = {heading: cell for written, cell in row.cells.items() if (heading := ours[written])}
        addresses = {heading: cell.address for heading, cell in cells.items()}
        yield RowReader(page, Place(table.page, row.number, addresses), cells, units, weight)


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


# Names that may stand once only, and names that have to be on another page.


def once_only(
    reads: Iterable[Read[T]],
    name: Callable[[T], str],
    heading: str,
    left_out: Mapping[str, Place] = MappingProxyType({}),
) -> tuple[tuple[Read[T], ...], dict[str, Place], list[Problem]]:
    """Keep the rows whose name stands once.

    A row that repeats an earlier one in every value is left out with a note. Where two rows give
    one name to different things, both are left out: nobody can say which one is meant. A row that
    could not be read (``left_out``, by names as compared) claims its name all the same.

    Returns
    -------
    tuple
        The rows kept, the rows of names that mean two things, and the problems.
    """
    first: dict[str, Read[T]] = {}
    unclear: dict[str, Place] = {}
    problems = []
    for read in reads:
        said = name(read.value)
        key, place = normal(said), read.place
        if key in left_out:
            what = f"{heading} {said} stands on row {left_out[key].row} too, and that row cannot be read."
            remedy = "Put that row right, or delete one of the two; until then neither is used."
            problems.append(place.problem(heading, what, remedy, Weight.LEFT_OUT))
            continue
        earlier = first.setdefault(key, read)
        if earlier is read:
            continue
        if earlier.value == read.value:
            what = f"This row says the same as row {earlier.place.row}."
            problems.append(place.problem(heading, what, "Delete one of them.", Weight.NOTE))
            continue
        unclear[key] = place
        what = f"{heading} {said} stands on row {earlier.place.row} already, with other values."
        remedy = "Give one of them another name, or delete it; neither is used."
        problems.append(place.problem(heading, what, remedy, Weight.LEFT_OUT))
    kept = tuple(read for key, read in first.items() if key not in unclear)
    return kept, unclear, [*problems, *_twins(kept, name, heading)]


def _twins(reads: Sequence[Read[T]], name: Callable[[T], str], heading: str) -> Iterator[Problem]:
    """A note on each name that nobody can tell from an earlier one, though letters differ."""
    first: dict[str, Read[T]] = {}
    for read in reads:
        said = name(read.value)
        earlier = first.setdefault(looks(said), read)
        if earlier is not read:
            other = name(earlier.value)
            what = f"{heading} {said} looks like that of row {earlier.place.row}, and is another. "
            what += _told_apart(said, other)
            remedy = "Write one of them anew if they are the same thing; else name it otherwise."
            yield read.place.problem(heading, what, remedy, Weight.NOTE)


def did_you_mean(said: str, names: Iterable[str]) -> str:
    """The known names that come closest, as a question with a space behind; empty where none is close.

    Where no whole name is, one that begins with nearly the same word is meant. Of a name that only looks the
    same, the letters are told that differ; of a number, the zeros that its cell has lost.

    >>> did_you_mean("galvanized", ["mild steel", "galvanised steel"])
    'Did you mean galvanised steel? '
    """
    known = list(names)
    alike = next((name for name in known if only_alike(said, name)), None)
    if alike is not None:
        return f"{_told_apart(said, alike)} Write {alike} anew, letter by letter, in one of the two places. "
    number = next((name for name in known if name != said and _number(name) == _number(said) != ""), None)
    if number is not None:
        return f"Did you mean {number}? A cell that is not formatted as text drops zeros in front. "
    for keys in ({normal(name): name for name in known}, {normal(_first_word(n)): n for n in known}):
        close: Sequence[str] = difflib.get_close_matches(normal(said), list(keys), n=2, cutoff=0.7)
        if close:
            return f"Did you mean {' or '.join(keys[key] for key in close)}? "
    return ""


def _told_apart(said: str, name: str) -> str:
    """Why two names that look the same are not."""
    odd = strangers(said, name) or strangers(name, said)
    return f"It looks like {name} and is written otherwise: {odd}." if odd else f"It only looks like {name}."


def _number(name: str) -> str:
    """A name of figures alone as a number, without zeros in front; empty for any other."""
    return name.lstrip("0") or "0" if name.isascii() and name.isdigit() else ""


def _first_word(name: str) -> str:
    return next(iter(name.split()), "")
