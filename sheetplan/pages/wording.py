"""Numbers, sizes and counts as a person in the shop says them, in the book's units and with its decimals."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

from sheetplan.model import GroupPlan, Job, Loop, Plan, Remnant, SheetSize
from sheetplan.pages.drawing.marks import Drawing, Words
from sheetplan.pages.values import Cell, Link, ResultPage, ResultTable
from sheetplan.rack.cut import LeftOver
from sheetplan.shapes import as_circle, box, is_rectangle
from sheetplan.trade.sentences import counted, number
from sheetplan.trade.units import SAME_LENGTH_MM, Units

# Numbers, sizes and counts as a person in the shop says them, in the book's units.

INCH_DIGITS = 3
"""Thousandths of an inch are the finest that a sheet or part size is written in."""

MM_DIGITS = 1

LIGHT = 10.0
"""Below so many pounds or kilograms a weight is said to the hundredth."""


def length_text(mm: float, units: Units) -> str:
    """A length with its unit, such as ``12.5 in``."""
    return f"{bare_length(mm, units)} {units.value}"


def bare_length(mm: float, units: Units) -> str:
    """A length without its unit."""
    return number(mm / units.length_mm, INCH_DIGITS if units is Units.INCH else MM_DIGITS)


HALF_UP = 1e-9
"""Lifts a half that rounding of sums has left a hair below, so that every Python says the same tenth."""


HAIR = 1e-9
"""Sums may leave a whole number so much above itself; that is not rounded up."""


def tenths(value: float) -> str:
    """A positive figure to the tenth, halves rounded up.

    >>> tenths(70.25), tenths(1234.0)
    ('70.3', '1,234.0')
    """
    return f"{value + HALF_UP:,.1f}"


def size_text(length: float, width: float, units: Units) -> str:
    """A size as the trade says it, width first, such as ``48 x 96 in``."""
    return f"{bare_size(length, width, units)} {units.value}"


def bare_size(length: float, width: float, units: Units) -> str:
    """A size without its unit, for a column whose heading says it."""
    return f"{bare_length(width, units)} x {bare_length(length, units)}"


class ShapeName(StrEnum):
    """What the outline of a piece of metal is called."""

    RECTANGLE = "rectangle"
    DISC = "disc"
    TRIANGLE = "triangle"
    ELL = "L"
    OTHER = "other outline"


SIGNS = {
    ShapeName.RECTANGLE: "▬", ShapeName.DISC: "●", ShapeName.TRIANGLE: "◣", ShapeName.ELL: "▙",
    ShapeName.OTHER: "◇",
}  # fmt: skip
"""A sign that stands for a shape in a cell."""

CORNERS_OF_TRIANGLE, CORNERS_OF_ELL = 3, 6


def shape_name(edge: Loop) -> ShapeName:
    """The name of an outline; an L is a rectangle that one is missing from at a corner."""
    if as_circle(edge) is not None:
        return ShapeName.DISC
    if is_rectangle(edge):
        return ShapeName.RECTANGLE
    corners = edge.vertices
    if any(bulge for _, _, bulge in corners):
        return ShapeName.OTHER
    if len(corners) == CORNERS_OF_TRIANGLE:
        return ShapeName.TRIANGLE
    sides = zip(corners, (*corners[1:], corners[0]), strict=True)
    is_square = all(min(abs(a[0] - b[0]), abs(a[1] - b[1])) <= SAME_LENGTH_MM for a, b in sides)
    return ShapeName.ELL if len(corners) == CORNERS_OF_ELL and is_square else ShapeName.OTHER


def shape_text(edge: Loop, units: Units, *, has_cuts: bool = False) -> str:
    """What a piece of metal is, by its outline: its size, or a disc by its diameter.

    >>> shape_text(Loop(((-50.0, 0.0, 1.0), (50.0, 0.0, 1.0))), Units.MM)
    'disc 100 mm across'
    """
    around, name = box(edge), shape_name(edge)
    size = size_text(around.length, around.width, units)
    after = " with old cuts" if has_cuts else ""
    match name:
        case ShapeName.DISC:
            return f"disc {bare_length(around.length, units)} {units.value} across{after}"
        case ShapeName.RECTANGLE:
            return f"{size}{after}"
        case ShapeName.OTHER:
            return f"{size} over all{after}"
        case _:
            return f"{name} {size}{after}"


def shape_cell(edge: Loop, units: Units, *, has_cuts: bool = False) -> str:
    """The same for a cell that stands beside the size: sign and name, a disc with its diameter.

    >>> shape_cell(Loop(((-50.0, 0.0, 1.0), (50.0, 0.0, 1.0))), Units.MM)
    '● disc 100 mm'
    """
    name = shape_name(edge)
    said = f"disc {length_text(box(edge).length, units)}" if name is ShapeName.DISC else str(name)
    return f"{SIGNS[name]} {said}{' with old cuts' if has_cuts else ''}"


def weight_text(kg: float, units: Units) -> str:
    """A weight with its unit, such as ``148.2 lb``; light parts to the hundredth."""
    return f"{bare_weight(kg, units)} {units.weight}"


def bare_weight(kg: float, units: Units) -> str:
    """A weight without its unit."""
    weight = kg / units.weight_kg
    return f"{weight:,.{2 if weight < LIGHT else 1}f}"


def travel_text(mm: float, units: Units) -> str:
    """A long way in feet or metres, such as ``91.5 ft``."""
    if units is Units.INCH:
        return f"{mm / (12 * units.length_mm):,.1f} ft"
    return f"{mm / 1000.0:,.1f} m"


def money_text(amount: float) -> str:
    """An amount to the hundredth, without its currency."""
    return f"{amount:,.2f}"


def sheet_size(sheet: SheetSize | Remnant) -> tuple[float, float]:
    """Length and width of a sheet, or of the box of what is left of one, mm."""
    if isinstance(sheet, SheetSize):
        return sheet.length, sheet.width
    edge = box(sheet.edge)
    return edge.length, edge.width


def sheet_text(sheet: SheetSize | Remnant, units: Units) -> str:
    """A sheet's size; a remnant's with its tag in front."""
    size = size_text(*sheet_size(sheet), units)
    return f"{sheet.tag}: {size}" if isinstance(sheet, Remnant) else size


def sheets_text(group_plan: GroupPlan, plan: Plan) -> str:
    """Sheets of a gauge by size, one to the line, such as ``3 of 48 x 96 in``."""
    units = plan.job.settings.units
    lines = [
        f"{count.used} of {size_text(count.sheet.length, count.sheet.width, units)}"
        for count in group_plan.sheets
    ]
    on = [layout.sheet for layout in group_plan.layouts]
    lines += [f"remnant {sheet.tag}" for sheet in on if isinstance(sheet, Remnant)]
    return "\n".join(lines)


def under_text(sheet: SheetSize | Remnant, units: Units) -> str:
    """What lies on a remnant, such as ``under 14 sheets: up to 1,900 lb to move``; empty where nothing does.

    People lift by this weight, so it is rounded up.
    """
    if not isinstance(sheet, Remnant) or not sheet.above:
        return ""
    weight = math.ceil(sheet.weight_above / units.weight_kg - HAIR)
    most = "up to " if sheet.is_most else ""
    return f"under {counted(sheet.above, 'sheet')}: {most}{weight:,} {units.weight} to move"


def left_texts(left: LeftOver, units: Units) -> tuple[str, ...]:
    """What goes back to the rack from one sheet, a line for each piece."""
    found = []
    if left.room is not None:
        size = size_text(left.room.length, left.room.width, units)
        found.append(f"cropped to {size}" if left.cropped else f"as it is, with room for {size}")
    found += [
        f"from a hole, {shape_text(edge, units)}"
        + ("" if is_rectangle(edge) else f" with room for {size_text(room.length, room.width, units)}")
        for edge, room in zip(left.drop_out_edges, left.drop_outs, strict=True)
    ]
    return tuple(found)


def minutes_text(hours: float | None) -> str:
    """A time as ``1 h 05 min`` or ``12 min``; ``not known`` without a feed."""
    if hours is None:
        return "not known: no feed"
    minutes = round(hours * 60.0)
    if minutes < 1:
        return "under 1 min"
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"


def moves_said(plan: Plan) -> str:
    """Which times leave out the moves between cuts, since the book states no speed for them; else nothing."""
    without = [gp.group.label for gp in plan.groups if gp.group.rule.feed and not gp.group.rule.travel]
    if not without:
        return ""
    gauges = "" if len(without) == len(plan.groups) else f" of {', '.join(without)}"
    return f"Times{gauges} leave out moves between cuts: the page Cutting states no Travel for them."


def per_cent(share: float, digits: int = 1) -> str:
    """A share of 0..1 in per cent, such as ``81.5%``."""
    return f"{100.0 * share:.{digits}f}%"


def date_text(day: datetime.date) -> str:
    """A date that nobody can read the wrong way round, such as ``2026-11-03``."""
    return day.isoformat()


WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def day_text(day: datetime.date) -> str:
    """A day with its weekday.

    >>> day_text(datetime.date(2026, 11, 30))
    '2026-11-30 Mon'
    """
    return f"{date_text(day)} {WEEKDAYS[day.weekday()]}"


# Numbers inside texts with a point or a comma before their decimals, as the book asks for; names stay.
#
# Numbers in cells of their own follow the program that shows them. Texts are put together with points, and
# turned where they leave: on the result pages, in the pictures and on printed paper.
#
# Where the book states no sign it is the one of Calc that has it open, else of the system
# (`app.check.with_sign`). Problems on the console, JSON and `buy-list.csv` keep the point.

_NUMBER = r"(?<![\w.,#/\\])(?<!\w-)(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d*\.\d+)(?![\w/\\]|[.,]\d)"
"""A number with a point or with thousands set apart; not one that is part of a name, a path or a list."""

_QUOTED = r"`[^`]*`|(?<!\w)'[^']*'(?!\w)"
"""What somebody wrote, or is to write letter by letter."""

_SIGNS = str.maketrans(".,", ",.")


@lru_cache(maxsize=4)
def _pattern(names: frozenset[str]) -> re.Pattern[str]:
    """Finds what is kept, the longest names first, and else numbers."""
    longest = sorted(names, key=lambda name: (-len(name), name))
    kept = "|".join([_QUOTED, *(rf"(?<!\w){re.escape(name)}(?!\w)" for name in longest)])
    return re.compile(f"(?P<kept>{kept})|{_NUMBER}")


@dataclass(frozen=True, slots=True)
class Decimals:
    """How numbers are written in texts; ``comma`` False leaves every text as it is.

    ``names`` are the book's own that hold something like such a number: they are never changed.
    """

    comma: bool = False
    names: frozenset[str] = frozenset()

    def said(self, text: str) -> str:
        """A text with its numbers as the book asks for.

        >>> Decimals(True).said("1,234.50 EUR for 12.5 x 8 in, plan KRTM-L1, 2026-11-24")
        '1.234,50 EUR for 12,5 x 8 in, plan KRTM-L1, 2026-11-24'
        >>> Decimals(True, frozenset({"PL 2.5"})).said("4 x PL 2.5 of 2.5 kg")
        '4 x PL 2.5 of 2,5 kg'
        """
        if not self.comma:
            return text
        return _pattern(self.names).sub(lambda m: m[0] if m["kept"] else m[0].translate(_SIGNS), text)

    def pages(self, pages: Iterable[ResultPage]) -> tuple[ResultPage, ...]:
        """Result pages with the texts of lines, notes and cells so written; headings are names."""
        return tuple(self._page(page) for page in pages) if self.comma else tuple(pages)

    def _page(self, page: ResultPage) -> ResultPage:
        tables = tuple(
            replace(
                table, caption=self.said(table.caption),
                rows=tuple(self._row(table, row) for row in table.rows),
                total=self._row(table, table.total) if table.total is not None else None,
            )
            for table in page.tables
        )  # fmt: skip
        lines, notes = (tuple(map(self.said, texts)) for texts in (page.lines, page.notes))
        return replace(page, title=self.said(page.title), lines=lines, tables=tables, notes=notes)

    def _row(self, table: ResultTable, row: Sequence[Cell]) -> tuple[Cell, ...]:
        return tuple(
            cell if column.heading in _NAMES else self._cell(cell)
            for cell, column in zip(row, table.columns, strict=True)
        )

    def _cell(self, cell: Cell) -> Cell:
        if isinstance(cell, str):
            return self.said(cell)
        return replace(cell, text=self.said(cell.text)) if isinstance(cell, Link) else cell

    def drawing(self, drawing: Drawing) -> Drawing:
        """A drawing with its words so written."""
        if not self.comma:
            return drawing
        marks = tuple(
            replace(mark, text=self.said(mark.text)) if isinstance(mark, Words) else mark
            for mark in drawing.marks
        )
        return replace(drawing, marks=marks)


_NAMES = frozenset({"Layout", "Choice", "Part", "Order", "Item", "Tag", "Key", "In turn", "It says"})
"""Columns that hold names, or what a planner wrote, letter by letter."""


def decimals_of(job: Job) -> Decimals:
    """How a book wants numbers in its texts, with the names that are in it."""
    if not job.settings.decimal_comma:
        return Decimals()
    names = {
        *job.parts, *job.kits, *(part.description for part in job.parts.values()),
        *(order.name for order in job.orders), *(order.item for order in job.orders),
        *(name for sheet in job.stock for name in (sheet.name, sheet.supplier, sheet.rack_place)),
        *(name for remnant in job.remnants for name in (remnant.tag, remnant.rack_place)),
    }  # fmt: skip
    return Decimals(comma=True, names=frozenset(name for name in names if re.search(r"\d[.,]\d|\.\d", name)))
