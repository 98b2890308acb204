"""Build the books that `sheetplan new` copies; the same rows give the same bytes."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from sheetplan.pages.book.month import bare_month_page
from sheetplan.pages.book.plan import NO_PLAN
from sheetplan.pages.book.quoted import bare_quoted_page
from sheetplan.pages.book.results import empty_pages
from sheetplan.pages.values import MONTH_PAGE, QUOTED_PAGE, RESULT_PAGES, STEP_PAGES, ResultPage
from sheetplan.trade.starter import REMARK, STARTER_HOUR_COST, STARTERS, starter_rule
from sheetplan.trade.thickness import parse_thickness
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.columns import (
    ALL_PAGES,
    CUTTING,
    LASTING_PAGES,
    MATERIALS,
    MONTH_PAGES,
    MONTHLY_PAGES,
    QUOTES,
    SETTINGS,
    START_PAGE,
)
from sheetplan.workbook.package.splice import OWN_PAGE, splice_pages
from sheetplan.workbook.reading.metals import KG_M3_PER_LB_IN3
from sheetplan.workbook.schema import Holds, InputColumn, InputPage
from sheetplan.workbook.template.lookup import (
    GAUGES_PAGE,
    LISTS_PAGE,
    SHAPES_PAGE,
    draw_gauges,
    draw_lists,
    draw_shapes,
)
from sheetplan.workbook.template.page import Look, draw_page, printed_widths, setting_rows
from sheetplan.workbook.template.start import draw_start
from sheetplan.workbook.template.values import BookRows, Row
from sheetplan.workbook.text import quoted_page
from sheetplan.workbook.writing.grid import NAMED_COLUMNS
from sheetplan.workbook.writing.page_writer import draw_pages
from sheetplan.workbook.writing.print_setup import INPUT_ROW_POINTS, print_setup, rows_on_paper

# What a new book holds: starter rows for an empty one, rows from text files for the demo.

SPARE_ROWS = 12
"""Empty rows under the demo's own, for trying things out."""

LEAST_SPARE = 1
"""Fewer are left where more would only begin another sheet of paper."""

ROWS_ABOVE = 7
"""Rows that title, line and headings take on the first sheet of paper, with one to spare; their height is
not a whole number of rows."""

ROWS_REPEATED = 3
"""Rows that the repeated headings take on each further one, likewise."""

EMPTY_ROWS = 40
"""Rows of an empty table: some programs do not stretch a table when a row is written under it."""

_STARTER_THICKNESSES = {
    Units.INCH: {
        "mild steel": ("16 ga", "14 ga", "12 ga", "11 ga", "10 ga", "3/16\"", "1/4\"", "3/8\"", "1/2\""),
        "galvanised steel": ("18 ga", "16 ga", "14 ga"),
        "stainless 304": ("16 ga", "14 ga", "11 ga", "3/16\""),
        "aluminium 5052": (".063", ".090", "1/8\"", "3/16\"", "1/4\""),
        "aluminium 5083": ("1/8\"", "3/16\"", "1/4\""),
    },
    Units.MM: {
        "mild steel": ("1.5 mm", "2 mm", "3 mm", "4 mm", "5 mm", "6 mm", "8 mm", "10 mm", "12 mm"),
        "galvanised steel": ("1 mm", "1.5 mm", "2 mm"),
        "stainless 304": ("1.5 mm", "2 mm", "3 mm", "5 mm"),
        "aluminium 5052": ("1.5 mm", "2 mm", "3 mm", "5 mm", "6 mm"),
        "aluminium 5083": ("3 mm", "4 mm", "5 mm", "6 mm", "8 mm"),
    },
}

_TYPED: Mapping[Holds, Callable[[str], Any]] = {
    Holds.COUNT: int,
    Holds.NUMBER: float,
    Holds.MONEY: float,
    Holds.DATE: datetime.date.fromisoformat,
}


def empty_rows(units: Units) -> BookRows:
    """An empty book: settings, metals and cutting rules to start with."""
    rows: dict[str, list[Row]] = {page.name: [] for page in ALL_PAGES}
    rows[SETTINGS.name] = setting_rows(units)
    rows[MATERIALS.name] = starter_materials(units)
    rows[CUTTING.name] = starter_cutting(units)
    return BookRows(units, rows)


def demo_rows(folder: Path, units: Units) -> BookRows:
    """The demo's rows from the text files of a folder, one file a page."""
    rows: dict[str, list[Row]] = {}
    chosen = {row["Setting"]: row["Value"] for row in _text_rows(folder, SETTINGS)}
    rows[SETTINGS.name] = [
        {**row, "Value": _number(chosen[row["Setting"]])} if row["Setting"] in chosen else row
        for row in setting_rows(units)
    ]
    rows[MATERIALS.name] = starter_materials(units)
    for page in ALL_PAGES:
        if page.name not in rows:
            rows[page.name] = [_typed(page, row) for row in _text_rows(folder, page)]
    return BookRows(units, rows)


def _text_rows(folder: Path, page: InputPage) -> list[dict[str, str]]:
    with (folder / f"{page.name.lower().replace(' ', '_')}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def starter_materials(units: Units) -> list[Row]:
    """Rows of the page Materials, densities in the book's units."""
    factor, places = (KG_M3_PER_LB_IN3, 4) if units is Units.INCH else (1.0, 0)
    return [
        {
            "Material": metal.name,
            "Gauge system": metal.gauge_series,
            "Density": round(metal.density / factor, places),
        }
        for metal in STARTERS
    ]


def starter_cutting(units: Units) -> list[Row]:
    """Rows of the page Cutting for the usual thicknesses, marked as what they are."""
    series = {metal.name: metal.gauge_series for metal in STARTERS}
    return [
        cutting_row(material, text, series[material], units)
        for material, texts in _STARTER_THICKNESSES[units].items()
        for text in texts
    ]


def cutting_row(material: str, text: str, series: str, units: Units) -> Row:
    """One starter row of the page Cutting."""
    rule = starter_rule(series, parse_thickness(text, series, units).mm, units)
    lengths = {"Kerf": rule.kerf, "Gap": rule.gap, "Margin": rule.margin, "Least hole": rule.least_hole,
               "Least web": rule.least_web}  # fmt: skip
    return {
        "Material": material,
        "Thickness": text,
        **{heading: round(mm / units.length_mm, 4) for heading, mm in lengths.items()},
        "Feed": round(rule.feed / units.length_mm, 4),
        "Pierce seconds": rule.pierce_seconds,
        "Pierce cost": rule.pierce_cost,
        "Hour cost": STARTER_HOUR_COST,
        "From": REMARK,
    }


def with_empty(page: InputPage, rows: BookRows, *, demo: bool) -> list[Row]:
    """A page's rows with the empty ones that the template adds."""
    filled = list(rows.of(page))
    if page is SETTINGS:
        return filled
    wanted = _on_whole_paper(page, rows.units, len(filled), SPARE_ROWS if demo or filled else EMPTY_ROWS)
    return filled + [{column.heading: None for column in page.columns}] * (wanted - len(filled))


def _on_whole_paper(page: InputPage, units: Units, filled: int, spare: int) -> int:
    """Rows of a table, without a few empty ones that would print on a sheet of paper of their own."""
    paper = rows_on_paper(print_setup(printed_widths(page), units), units, INPUT_ROW_POINTS)
    ends = paper - ROWS_ABOVE
    while ends < filled + LEAST_SPARE:
        ends += paper - ROWS_REPEATED
    beyond = filled + spare - ends
    return ends if 0 < beyond < SPARE_ROWS else filled + spare


def _typed(page: InputPage, row: dict[str, str]) -> Row:
    return {column.heading: _value(column, row.get(column.heading) or "") for column in page.columns}


def _value(column: InputColumn, text: str) -> Any:
    if not text:
        return None
    if column.holds is Holds.LENGTH:
        return _number(text)
    return _TYPED[column.holds](text) if column.holds in _TYPED else text


def _number(text: str) -> float | str:
    """A plain number as a number, `4 1/2` as the planner wrote it."""
    try:
        return float(text)
    except ValueError:
        return text


# Build the books that `sheetplan new` copies; the same rows give the same bytes.

NOTHING_RECORDED = "Nothing is recorded yet. Cuts, deliveries and finished parts come here once they are."

MADE = datetime.datetime(2000, 1, 1)
"""The date that the books say they were made: fixed, so that equal rows are equal bytes."""


def build_book(rows: BookRows, *, demo: bool) -> bytes:
    """A whole new book: the planner's pages with these rows, and empty result pages."""
    results = draw_pages(_result_pages(), rows.units, names=NAMED_COLUMNS)
    return splice_pages(_planner_pages(rows, demo=demo), results)


def _result_pages() -> tuple[ResultPage, ...]:
    """The result pages before the first plan.

    Only Problems has its table, which the message columns look into; the others get theirs with
    the first plan.
    """
    pages = [
        page if page.name == "Problems" else replace(page, lines=(NO_PLAN,), tables=())
        for page in empty_pages()
    ]
    steps = [ResultPage(name, name, (NOTHING_RECORDED,)) for name in STEP_PAGES]
    return (*pages[:-1], bare_quoted_page(), *steps, bare_month_page(), pages[-1])


def _places(book: Any, names: Sequence[str]) -> None:
    """The places of pages that the tool owns."""
    for name in names:
        book.add_worksheet(name)
        book.define_name(f"{quoted_page(name)}!{OWN_PAGE}", f"={quoted_page(name)}!$A$1")


def _tab_of(page: InputPage) -> str:
    if page in MONTH_PAGES:
        return style.TAB_MONTHS_END
    return style.TAB_MONTHLY if page in MONTHLY_PAGES else style.TAB_LASTING


def _planner_pages(rows: BookRows, *, demo: bool) -> bytes:
    """All pages but the results, which only get their places."""
    import xlsxwriter

    memory = io.BytesIO()
    book = xlsxwriter.Workbook(memory, {"in_memory": True, "strings_to_urls": False})
    book.set_properties({"title": "sheetplan workbook", "created": MADE})
    book.set_calc_mode("auto")
    look = Look(book, rows.units)
    draw_start(book, book.add_worksheet(START_PAGE), rows.units, look, demo=demo)
    _places(book, RESULT_PAGES)
    for page in (*MONTHLY_PAGES, *LASTING_PAGES, *MONTH_PAGES):
        sheet = book.add_worksheet(page.name)
        sheet.set_tab_color(_tab_of(page))
        draw_page(sheet, page, rows, with_empty(page, rows, demo=demo), look)
        if page is QUOTES:
            _places(book, (QUOTED_PAGE,))
        if page is MONTHLY_PAGES[-1]:
            _places(book, STEP_PAGES)
    _places(book, (MONTH_PAGE,))
    draw_gauges(book, book.add_worksheet(GAUGES_PAGE), rows.units, look)
    draw_shapes(book.add_worksheet(SHAPES_PAGE), rows.units, look)
    draw_lists(book, book.add_worksheet(LISTS_PAGE), rows, look)
    book.close()
    return memory.getvalue()
