"""The headings of each input table: found, missing, or not the tool's, and what that does to a plan.

Terms
-----
own column
    One that the tool does not know. It is the planner's and is not read; so it is named, once a page.
mistaken column
    An own column whose heading comes near that of a column which is missing, or whose cells all say what only
    that column may say. Then nobody knows what was meant, and the plan waits for the answer.
template of a book
    The newest template that any of its columns is of. What came later is not missed: a book that never had
    such a column is read as it always was.

Choices
-------
A column that is missing is told with what stands in for it, since a plan without On hand buys metal that lies
in the rack. An empty column of that heading says that this is meant, and no note is left.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Sequence

from sheetplan.model.problem import Problem, Weight
from sheetplan.workbook.columns import ALL_PAGES, CHOICE_MARKS, LAYOUT_MARKS
from sheetplan.workbook.look_alikes import skeleton
from sheetplan.workbook.reading_grid import is_blank, normal
from sheetplan.workbook.schema import Holds, InputColumn, InputPage
from sheetplan.workbook.tables import BookTables, CellValue, RawTable

NEAR = 0.78
"""Share of letters in common (`difflib`) from which two headings are taken for one another."""

REMARKS = frozenset({"Description", "Supplier", "Rack place", "From", "Heat", "Cut by", "Note"})
"""Columns that are only printed: no plan, count or amount hangs on them."""

MARKS = frozenset({"Cut now", "How", "Lock", "Pick"})
"""Columns of result pages that the planner fills."""

MOST_NAMED = 8
"""Own columns that are named; more are counted."""

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
    there = [(page, tables.tables[page.name]) for page in ALL_PAGES if page.name in tables.tables]
    template = max((column.since for page, table in there for column in _found(page, table)), default=0)
    return [problem for page, table in there if page in pages for problem in _of_page(page, table, template)]


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
            yield _question(page, table, heading, near)


def asked_about(heading: str, page: InputPage, table: RawTable) -> str:
    """Own columns of the table that may be the missing one, as a question with a space behind."""
    column = page.column(heading)
    near = [own for own in _own(page, table) if _near(own, column)]
    return f"Is it {_quoted(near, ' or ')}? " if near else ""


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
        yield _question(page, table, heading, columns)
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


def _question(page: InputPage, table: RawTable, heading: str, columns: Sequence[InputColumn]) -> Problem:
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
    more = f" and {len(own) - MOST_NAMED:,} more" if len(own) > MOST_NAMED else ""
    one = len(own) == 1
    return Problem(
        table.page, table.heading_row, None,
        f"Not read, since the tool has no such heading{'' if one else 's'} on the page {table.page}: "
        f"{_quoted(own[:MOST_NAMED], ', ')}{more}.",
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


def _quoted(headings: Sequence[str], between: str) -> str:
    return between.join(f"`{heading}`" for heading in headings)
