"""The page Shapes, for looking things up: what each shape of the page Parts takes in which column."""

from __future__ import annotations

from typing import Any

from sheetplan.drawings.shape_table import ShapeLine, shape_table
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.page_grid import LINE_POINTS
from sheetplan.workbook.page_widths import CELL_PADDING, lines_needed
from sheetplan.workbook.template_look import Look
from sheetplan.workbook.template_names import FIRST_ROW, HEAD_ROW
from sheetplan.workbook.template_page import set_up

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
