"""A planner's book with everything in it that a careless writer loses.

The input pages can be planned; around them stand pictures, charts, notes, formats and pages that
are the planner's own business. `extra_parts` adds by hand what XlsxWriter cannot make.
"""

from __future__ import annotations

import datetime
import io
import struct
import zlib
from typing import Any

import xlsxwriter

from sheetplan.trade.units import Units
from sheetplan.workbook.columns import INPUT_PAGES
from sheetplan.workbook.schema import SETTING_ROWS
from tests.nasty.extra_parts import add_extra_parts

OWN_PAGES = ("Welding shop", "Chart page", "Old figures")
"""Pages that are the planner's own, beside the input pages."""

ROWS: dict[str, list[dict[str, object]]] = {
    "Materials": [{"Material": "mild steel", "Gauge system": "carbon steel", "Density": 0.2836}],
    "Cutting": [
        {
            "Material": "mild steel",
            "Thickness": "10 ga",
            "Kerf": 0.06,
            "Gap": 0.25,
            "Margin": 0.5,
            "Feed": 120,
            "Pierce seconds": 0.5,
            "Pierce cost": 0.04,
            "Hour cost": 95,
        }
    ],
    "Parts": [
        {
            "Part": "CB-100",
            "Description": "cleat base plate",
            "Material": "mild steel",
            "Thickness": "10 ga",
            "Width": 4.5,
            "Length": "12 3/8",
            "Turns": "any quarter turn",
            "Grain": "any",
        },
        {
            "Part": "CB-110",
            "Description": "=gusset, left",
            "Material": "mild steel",
            "Thickness": "10ga",
            "Width": 3,
            "Length": 8,
            "Turns": "any quarter turn",
            "Grain": "any",
        },
        {
            "Part": "CB-120",
            "Description": "fender bracket",
            "Material": "mild steel",
            "Thickness": "10 ga",
            "Width": 6,
            "Length": 14.25,
            "Turns": "half turn only",
            "Grain": "along length",
        },
    ],
    "Kits": [
        {"Kit": "cleat set", "Part": "CB-100", "Quantity": 1},
        {"Kit": "cleat set", "Part": "CB-110", "Quantity": 2},
    ],
    "Orders": [
        {"Order": "H-2041", "Item": "cleat set", "Quantity": 12, "Must": "must"},
        {"Order": "H-2042", "Item": "CB-120", "Quantity": 20, "Must": "must"},
    ],
    "Stock": [
        {
            "Sheet": "MS10-4x8",
            "Material": "mild steel",
            "Thickness": "10 ga",
            "Width": 48,
            "Length": 96,
            "On hand": 2,
            "Price": 125,
            "Price per": "sheet",
        }
    ],
    "Remnants": [
        {
            "Tag": "R-001",
            "Material": "mild steel",
            "Thickness": "10 ga",
            "Width": 20,
            "Length": 40,
            "State": "in rack",
        }
    ],
    "Settings": [{"Setting": row.name, "Value": row.usual_in(Units.INCH)} for row in SETTING_ROWS],
}
"""What the input pages hold: a small month of the harbour workshop."""

_FIRST_ROW = 4
"""Row of the headings, from 0: the planner has put lines of his own above the tables."""


def worst_book(*, macros: bool = False) -> bytes:
    """Return the book as bytes; with ``macros`` as the content of an ``.xlsm``."""
    memory = io.BytesIO()
    book = xlsxwriter.Workbook(memory, {"in_memory": True})
    if macros:
        _add_macro_project(book)
    for page in INPUT_PAGES:
        sheet = book.add_worksheet(page.name)
        _input_table(sheet, page.table, list(page.headings), ROWS[page.name])
    _dress_parts(book, book.get_worksheet_by_name("Parts"))
    _own_page(book, book.add_worksheet(OWN_PAGES[0]))
    chart_page = book.add_chartsheet(OWN_PAGES[1])
    pie = book.add_chart({"type": "pie"})
    pie.add_series({"values": "=Orders!$C$6:$C$7", "name": "Pieces by order"})
    chart_page.set_chart(pie)
    old = book.add_worksheet(OWN_PAGES[2])
    old.write_column(0, 0, [1, 1.5, 2, 3, 6])
    old.write_formula("C1", '=IFERROR(Plan!A1,"no plan yet")', None, "no plan yet")
    old.hide()
    book.define_name("Gauge_choices", "='Old figures'!$A$1:$A$5")
    book.define_name("'Welding shop'!local_name", "='Welding shop'!$A$1")
    book.set_custom_property("shop", "harbour")
    book.set_properties(
        {
            "title": "Month of the harbour workshop",
            "author": "planner",
            "created": datetime.datetime(2026, 5, 4),
        }
    )
    book.close()
    return add_extra_parts(memory.getvalue())


def _input_table(sheet: Any, name: str, headings: list[str], rows: list[dict[str, object]]) -> None:
    """Write an input table with a column of the planner's own in its middle, at an odd place."""
    headings = [*headings[:2], "My notes", *headings[2:]]
    sheet.write(0, 0, "Pinned up by the foreman")
    sheet.add_table(
        _FIRST_ROW,
        0,
        _FIRST_ROW + len(rows),
        len(headings) - 1,
        {"name": name, "columns": [{"header": heading} for heading in headings]},
    )
    for i, row in enumerate(rows, start=_FIRST_ROW + 1):
        for j, heading in enumerate(headings):
            value = row.get(heading)
            if isinstance(value, str):
                sheet.write_string(i, j, value)
            elif value is not None:
                sheet.write(i, j, value)
        sheet.write_string(i, 2, f"seen {i}")
    sheet.set_column(0, len(headings) - 1, 13)
    sheet.freeze_panes(_FIRST_ROW + 1, 1)


def _dress_parts(book: Any, sheet: Any) -> None:
    """Put on the Parts page what planners put beside their tables."""
    red = book.add_format({"bold": True, "font_color": "red"})
    sheet.write_rich_string("W2", "plain ", red, "bold red", " plain")
    sheet.write_formula("W3", "=SUM(F6:F8)", None, 13.5)
    sheet.write_dynamic_array_formula("W4:W6", "=SORT(F6:F8)", None, 3)
    sheet.write_array_formula("X4:X5", "{=F6:F7*2}", None, 9)
    sheet.write_formula("X3", "=LET(x,2,x+1)", None, 3)
    sheet.data_validation(
        "F6:F8",
        {
            "validate": "decimal",
            "criteria": ">",
            "value": 0,
            "input_title": "Width",
            "input_message": "finished size",
        },
    )
    sheet.conditional_format("F6:F8", {"type": "3_color_scale"})
    sheet.conditional_format("G6:G8", {"type": "data_bar", "data_bar_2010": True})
    sheet.conditional_format("H6:H8", {"type": "icon_set", "icon_style": "3_traffic_lights"})
    sheet.add_sparkline("Y2", {"range": "Parts!F6:F8"})
    sheet.write_comment("A6", "old style note", {"author": "Foreman", "visible": True, "color": "yellow"})
    sheet.insert_image(
        "W9",
        "a.png",
        {
            "image_data": io.BytesIO(png(80, 40, (200, 30, 30))),
            "description": "a red plate",
            "url": "https://example.org",
        },
    )
    sheet.embed_image("W18", "b.png", {"image_data": io.BytesIO(png(30, 30, (30, 30, 200)))})
    sheet.insert_textbox("W20", "a text box of the planner's", {"width": 180, "height": 60})
    sheet.insert_button("W26", {"macro": "Say", "caption": "Press"})
    sheet.insert_checkbox("W8", True)
    sheet.print_area("A1:T40")
    sheet.repeat_rows(_FIRST_ROW)
    sheet.set_landscape()
    sheet.set_header(
        "&L&G&CParts of the month",
        {"image_left": "h.png", "image_data_left": io.BytesIO(png(24, 24, (0, 90, 60)))},
    )
    sheet.set_tab_color("#1F6F50")
    sheet.set_background(io.BytesIO(png(4, 4, (250, 250, 240))))
    sheet.ignore_errors({"number_stored_as_text": "A1:T40"})


def _own_page(book: Any, sheet: Any) -> None:
    """Fill a page of the planner's own that has nothing to do with the tool."""
    share = book.add_format({"num_format": "0.0%"})
    sheet.write_row(0, 0, ["week", "hours", "share"])
    for i in range(1, 9):
        sheet.write_row(i, 0, [i, 30 + 3 * i])
        sheet.write_formula(i, 2, f"=B{i + 1}/SUM($B$2:$B$9)", share, i / 36)
    sheet.write_url("E4", "internal:Parts!A6", string="to the parts")
    sheet.write_string("E5", "=not a formula")
    sheet.write_string("E6", " lead  space\nnew line")
    sheet.write_datetime("E7", datetime.datetime(2026, 5, 4), book.add_format({"num_format": "yyyy-mm-dd"}))
    chart = book.add_chart({"type": "column"})
    chart.add_series(
        {
            "values": "='Welding shop'!$B$2:$B$9",
            "trendline": {"type": "linear"},
            "data_labels": {"value": True},
        }
    )
    chart.set_title({"name": "Hours at the bench"})
    sheet.insert_chart("G2", chart)
    sheet.set_row(3, 30)
    sheet.set_column("L:M", 8, None, {"level": 1, "hidden": True})
    sheet.protect("abc", {"select_locked_cells": True})
    sheet.set_footer("&P")


def png(width: int, height: int, colour: tuple[int, int, int], *, dots_per_metre: int | None = None) -> bytes:
    """Return a PNG of one colour."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = b"".join(b"\0" + bytes(colour) * width for _ in range(height))
    size = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    if dots_per_metre:
        size += chunk(b"pHYs", struct.pack(">IIB", dots_per_metre, dots_per_metre, 1))
    return b"\x89PNG\r\n\x1a\n" + size + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def _add_macro_project(book: Any) -> None:
    """Carry a macro project: only its bytes matter here, so it is a compound file's bare header."""
    header = bytes.fromhex("D0CF11E0A1B11AE1") + bytes(16) + bytes.fromhex("3E000300FEFF0900") + bytes(480)
    book.add_vba_project(io.BytesIO(header), True)
