"""The pages Gauges and Shapes, for looking things up, and the hidden page Lists behind the drop-downs."""

from __future__ import annotations

from typing import Any

from sheetplan.drawings.shape_table import ShapeLine, shape_table
from sheetplan.trade.thickness import SERIES, gauge_text
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.columns import KITS, MATERIALS, PARTS
from sheetplan.workbook.template.formulas import (
    FIRST_ROW,
    GAUGE_NUMBERS,
    GAUGE_SYSTEMS,
    GAUGE_VALUES,
    HEAD_ROW,
    LIST_ITEMS,
    LIST_MATERIALS,
    LIST_PARTS,
    whole,
)
from sheetplan.workbook.template.page import Look, set_up
from sheetplan.workbook.template.values import BookRows
from sheetplan.workbook.writing.grid import LINE_POINTS
from sheetplan.workbook.writing.print_setup import CELL_PADDING, lines_needed

# The page Gauges, for looking things up, and the hidden page Lists behind the drop-downs.

GAUGES_PAGE = "Gauges"
LISTS_PAGE = "Lists"

MOST_KITS = 150
"""Different kits that the drop-down of Orders can show; more can be typed."""

MOST_ITEMS = 600
"""Kits and parts together that it can show."""

MOST_NAMES = 600
"""Rows of Materials and Parts that the other drop-downs look at."""

_SYSTEM_WIDTH = 19.0


def draw_gauges(book: Any, sheet: Any, units: Units, look: Look) -> None:
    """All gauge tables side by side, in the book's unit, with their sources."""
    set_up(sheet, GAUGES_PAGE, units, (10.0, *(_SYSTEM_WIDTH for _ in SERIES)), tall=1)
    sheet.write_string(0, 0, "Gauges", look.title())
    sheet.set_row(0, style.TITLE_SIZE * 1.5)
    said = "inches" if units is Units.INCH else "millimetres"
    line = f"For looking up: thickness in {said} by gauge number. The tool has its own copy."
    sheet.write_string(1, 0, line, look.line(quiet=True))
    sheet.set_row(HEAD_ROW, 30)
    sheet.write_string(HEAD_ROW, 0, "Gauge", look.head(needed=True))
    sheet.set_column(0, 0, 10)
    numbers = sorted({number for series in SERIES.values() for number in series.thickness})
    for place, series in enumerate(SERIES.values(), start=1):
        sheet.set_column(place, place, _SYSTEM_WIDTH)
        sheet.write_string(HEAD_ROW, place, series.name, look.head(needed=True))
        for row, number in enumerate(numbers, start=FIRST_ROW):
            form = look.live("0.0000" if units is Units.INCH else "0.000")
            if number in series.thickness:
                sheet.write_number(row, place, series.thickness[number] / units.length_mm, form)
            else:
                sheet.write_blank(row, place, None, form)
    for row, number in enumerate(numbers, start=FIRST_ROW):
        if number >= 0:
            sheet.write_number(row, 0, number, look.live())
        else:
            sheet.write_string(row, 0, gauge_text(number).removesuffix(" ga"), look.live())
    last = FIRST_ROW + len(numbers)
    for row, series in enumerate(SERIES.values(), start=last + 1):
        text = f"{series.name}: {series.title}; {series.source}."
        sheet.merge_range(row, 0, row, len(SERIES), text, look.line(quiet=True, wrap=True))
        sheet.set_row(row, 30)
    sheet.freeze_panes(FIRST_ROW, 1)
    sheet.repeat_rows(HEAD_ROW)
    end = chr(ord("A") + len(SERIES))
    book.define_name(GAUGE_NUMBERS, f"={GAUGES_PAGE}!$A${FIRST_ROW + 1}:$A${last}")
    book.define_name(GAUGE_SYSTEMS, f"={GAUGES_PAGE}!$B${HEAD_ROW + 1}:${end}${HEAD_ROW + 1}")
    book.define_name(GAUGE_VALUES, f"={GAUGES_PAGE}!$B${FIRST_ROW + 1}:${end}${last}")


def draw_lists(book: Any, sheet: Any, rows: BookRows, look: Look) -> None:
    """Different kits, then kits and parts in one column: what the drop-down of Orders offers."""
    sheet.hide()
    sheet.write_string(0, 0, "Kits", look.head(needed=False, live=True))
    sheet.write_string(0, 1, "Kits and parts", look.head(needed=False, live=True))
    sheet.set_column(0, 1, 30)
    kits = list(dict.fromkeys(row["Kit"] for row in rows.of(KITS) if row["Kit"]))
    names, kit_names = whole(PARTS, "Part"), whole(KITS, "Kit")
    for number in range(MOST_KITS):
        row = number + 1
        above = f"A$1:A{row}"
        formula = f'IFERROR(INDEX({kit_names},MATCH(0,COUNTIF({above},{kit_names})+({kit_names}=""),0)),"")'
        value = kits[number] if number < len(kits) else ""
        sheet.write_array_formula(row, 0, row, 0, f"{{={formula}}}", look.live(), value)
    count = f'COUNTIF($A$2:$A${MOST_KITS + 1},"?*")'
    items = kits + [row["Part"] for row in rows.of(PARTS) if row["Part"]]
    for number in range(MOST_ITEMS):
        row = number + 1
        kit = f"INDEX($A$2:$A${MOST_KITS + 1},ROW()-1)"
        part = f'IFERROR(INDEX({names},ROW()-1-{count})&"","")'
        formula = f"=IF(ROW()-1<={count},{kit},{part})"
        sheet.write_formula(row, 1, formula, look.live(), items[number] if number < len(items) else "")
    _name(book, LIST_MATERIALS, MATERIALS.name, "A", FIRST_ROW + 1, MOST_NAMES)
    _name(book, LIST_PARTS, PARTS.name, "A", FIRST_ROW + 1, MOST_NAMES)
    _name(book, LIST_ITEMS, LISTS_PAGE, "B", 2, MOST_ITEMS)


def _name(book: Any, name: str, page: str, letter: str, first: int, rows: int) -> None:
    """A name over the filled cells at the top of a column."""
    cells = f"{page}!${letter}${first}:${letter}${first + rows - 1}"
    book.define_name(name, f'={page}!${letter}${first}:INDEX({cells},MAX(1,COUNTIF({cells},"?*")))')


# The page Shapes, for looking things up: what each shape of the page Parts takes in which column.

SHAPES_PAGE = "Shapes"
HEADINGS = ("Shape", "Width and Length", "Inside", "Corner", "Holes")
WIDTHS = (13.0, 26.0, 20.0, 26.0, 42.0)
LINE = (
    "For looking up: what to write on the page Parts for a shape that needs no drawing, here in {unit}. What "
    "stands before a colon goes into the cell. For any other outline name a drawing in the column Drawing."
)


def draw_shapes(sheet: Any, units: Units, look: Look) -> None:
    """One row for each shape, its examples in the book's unit."""
    set_up(sheet, SHAPES_PAGE, units, WIDTHS)
    sheet.write_string(0, 0, SHAPES_PAGE, look.title())
    sheet.set_row(0, style.TITLE_SIZE * 1.5)
    said = LINE.format(unit="inches" if units is Units.INCH else "millimetres")
    sheet.merge_range(1, 0, 1, len(WIDTHS) - 1, said, look.line(quiet=True, wrap=True))
    sheet.set_row(1, LINE_POINTS * lines_needed(said, sum(WIDTHS)) + 2)
    for place, (heading, width) in enumerate(zip(HEADINGS, WIDTHS, strict=True)):
        sheet.set_column(place, place, width)
        sheet.write_string(HEAD_ROW, place, heading, look.head(needed=True))
    for row, line in enumerate(shape_table(units), start=FIRST_ROW):
        texts = _texts(line)
        for place, text in enumerate(texts):
            sheet.write_string(row, place, text, look.live(wrap=True))
        most = max(lines_needed(text, w - CELL_PADDING) for text, w in zip(texts, WIDTHS, strict=True))
        sheet.set_row(row, LINE_POINTS * most + 4)
    sheet.freeze_panes(FIRST_ROW, 1)


def _texts(line: ShapeLine) -> tuple[str, ...]:
    return (line.shape.value, line.sizes, line.inside, "\n".join(line.corner), "\n".join(line.holes))
