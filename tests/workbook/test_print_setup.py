"""Every page of the book fits its paper at a size that can be read."""

from collections import Counter
from math import hypot
from pathlib import Path

import openpyxl
import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.app.new import template_path
from sheetplan.pages.values import Column, Kind, ResultPage, ResultTable
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.columns import ALL_PAGES, PARTS
from sheetplan.workbook.schema import MESSAGE, InputPage
from sheetplan.workbook.template.formulas import HEAD_ROW
from sheetplan.workbook.template.page import printed_widths
from sheetplan.workbook.writing.grid import grid_of
from sheetplan.workbook.writing.print_setup import (
    LEAST_SCALE,
    NARROWED_TO,
    PrintSetup,
    most_characters,
    points_wide,
    print_setup,
    rows_on_paper,
)
from tests.workbook.books import shipped
from tests.workbook.rendering import converted, needs_carlito, needs_libreoffice

each_unit = pytest.mark.parametrize("units", list(Units))


@given(st.lists(st.floats(4, 80), min_size=1, max_size=30), st.sampled_from(list(Units)))
def test_no_page_is_printed_smaller_than_can_be_read(widths: list[float], units: Units) -> None:
    setup = print_setup(widths, units)
    assert LEAST_SCALE <= setup.scale <= 1.0
    # Letter is 8.5 x 11 in, A4 210 x 297 mm (ISO 216); 0.4 in stay free at either side.
    short, long = (8.5, 11.0) if units is Units.INCH else (210 / 25.4, 297 / 25.4)
    room = ((long if setup.landscape else short) - 0.8) * 72 * setup.across
    assert points_wide(widths) * setup.scale <= room + 0.01


@each_unit
def test_narrow_pages_stand_upright_and_wide_ones_take_a_second_sheet_of_paper(units: Units) -> None:
    assert print_setup([40.0], units) == PrintSetup(False, 1, 1.0)
    wide = print_setup([20.0] * 15, units)
    assert (wide.landscape, wide.across) == (True, 2)
    assert rows_on_paper(print_setup([40.0], units), units) in (46, 49)


@each_unit
def test_text_that_wraps_is_narrowed_until_the_page_fits(units: Units) -> None:
    count = Column("Count", Kind.COUNT, 9)
    columns = (Column("Text", width=90, wrap=True), Column("More", width=60, wrap=True), *[count] * 10)
    tables = (ResultTable("T", some, ()) for some in (columns, columns[2:]))
    grid, narrow = (grid_of(ResultPage("P", "t", (), (table,)), units) for table in tables)
    assert grid.paper.across == 1
    assert sum(grid.widths) <= most_characters(len(columns), units)
    assert grid.widths[0] > grid.widths[1] > NARROWED_TO
    assert grid.widths[2:] == narrow.widths


@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
@each_unit
@pytest.mark.parametrize("page", ALL_PAGES, ids=lambda page: page.name)
def test_input_pages_fit_one_sheet_across_and_leave_the_messages_out(page: InputPage, units: Units) -> None:
    assert print_setup(printed_widths(page), units).across == 1
    book = shipped(True, units)
    headings = [cell.value for cell in book[page.name][HEAD_ROW + 1]]
    place = f"'{page.name}'" if " " in page.name else page.name
    # openpyxl knows no print area of whole columns, so the package itself is asked.
    last = openpyxl.utils.get_column_letter(len(printed_widths(page)))
    assert f"{place}!$A:${last}" in defined_names(template_path(demo=True, units=units))
    assert MESSAGE in headings[len(printed_widths(page)) :]
    if page is PARTS:
        assert headings[len(printed_widths(page)) - 1] == page.columns[-1].heading


def defined_names(path: Path) -> str:
    import zipfile

    with zipfile.ZipFile(path) as package:
        return package.read("xl/workbook.xml").decode()


@needs_libreoffice
@needs_carlito
@pytest.mark.slow
@each_unit
def test_every_printed_page_of_the_demo_can_be_read(units: Units, tmp_path: Path) -> None:
    pdf = pypdf.PdfReader(converted(template_path(demo=True, units=units), "pdf", tmp_path / "out"))
    for page in pdf.pages:
        size = commonest_size(page)
        assert size >= LEAST_SCALE * style.BODY_SIZE - 0.05, (page.extract_text()[:60], size)


def commonest_size(page: pypdf.PageObject) -> float:
    """The size in points of most of the type on a page."""
    sizes: Counter[float] = Counter()

    def note(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        sizes[round(size * hypot(tm[0], tm[1]) * hypot(cm[0], cm[1]), 1)] += len(text.strip())

    page.extract_text(visitor_text=note)
    return sizes.most_common(1)[0][0]
