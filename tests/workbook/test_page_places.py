"""New pages of ours come to their places among those that a book has already."""

import io
from pathlib import Path

import openpyxl
import pytest

from sheetplan.pages.values import OWNED_PAGES, RESULT_PAGES, ResultPage
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.calc import write_message
from sheetplan.workbook.hosts.excel import ExcelBook
from sheetplan.workbook.package.parts import Package, main, parse
from sheetplan.workbook.package.splice import place_of, splice_pages
from sheetplan.workbook.writing.grid import grid_of
from sheetplan.workbook.writing.page_writer import draw_pages
from tests.workbook.hosts.excel_engine import opened

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
BEFORE = tuple(name for name in RESULT_PAGES if name != "Cutting order")


@pytest.mark.parametrize(("there", "place"), [
    (("Orders", "Plan", "Buy", "Layouts"), 3),
    (("Layouts", "Buy", "Orders"), 2),
    (("Plan", "Orders", "Layouts"), 1),
    (("Orders", "layouts", "Made"), 1),
    (("Orders", "Notes"), 2),
    ((), 0),
])  # fmt: skip
def test_the_page_follows_what_it_follows_in_a_new_book(there: tuple[str, ...], place: int) -> None:
    assert place_of("Cutting order", there) == place


def test_a_page_that_is_not_ours_goes_to_the_end() -> None:
    assert place_of("Notes", ("Plan", "Buy")) == 2


def test_pages_added_one_by_one_stand_as_in_a_new_book() -> None:
    there: list[str] = []
    for name in sorted(OWNED_PAGES):
        there.insert(place_of(name, there), name)
    assert tuple(there) == OWNED_PAGES


def spliced(data: bytes, *names: str) -> bytes:
    pages = [ResultPage(name, name, ("text",)) for name in names]
    return splice_pages(data, Package.of_bytes(draw_pages(pages, Units.INCH).to_bytes()))


def test_a_book_of_before_gets_the_page_after_buy_and_what_counts_sheets_counts_on() -> None:
    book = openpyxl.Workbook()
    book.active.title = "Orders"
    memory = io.BytesIO()
    book.save(memory)
    old = openpyxl.load_workbook(io.BytesIO(spliced(memory.getvalue(), *BEFORE)))
    notes = old.create_sheet("Notes")
    notes["A1"] = "mine"
    notes.print_title_rows = "1:1"
    notes.defined_names["spot"] = openpyxl.workbook.defined_name.DefinedName("spot", attr_text="Notes!$A$1")
    old.active = old.sheetnames.index("Notes")
    memory = io.BytesIO()
    old.save(memory)
    data = spliced(memory.getvalue(), *RESULT_PAGES)
    new = openpyxl.load_workbook(io.BytesIO(data))
    assert new.sheetnames == ["Orders", *RESULT_PAGES, "Notes"]
    assert new.active.title == "Notes"
    assert new["Notes"].print_title_rows == "$1:$1"
    assert new["Notes"].defined_names["spot"].attr_text == "Notes!$A$1"
    root = parse(Package.of_bytes(data).read("xl/workbook.xml"))
    names = root.iter(main("definedName"))
    marks = [int(e.get("localSheetId", "-1")) for e in names if e.get("name") == "sheetplan_page"]
    assert sorted(marks) == list(range(1, 1 + len(RESULT_PAGES)))
    assert spliced(data, *RESULT_PAGES) == data


@pytest.mark.parametrize(("there", "order"), [
    (("Orders", *BEFORE, "Notes"), ["Orders", *RESULT_PAGES, "Notes"]),
    (("Layouts", "Notes"), ["Plan", "Buy", "Cutting order", "Layouts", *RESULT_PAGES[4:], "Notes"]),
    (("Notes",), ["Notes", *RESULT_PAGES]),
])  # fmt: skip
def test_an_open_book_gets_pages_in_their_places(
    there: tuple[str, ...], order: list[str], tmp_path: Path
) -> None:
    plain = openpyxl.Workbook()
    plain.active.title = there[0]
    for name in there[1:]:
        plain.create_sheet(name)
    plain.save(tmp_path / "yard.xlsx")
    book = opened(tmp_path / "yard.xlsx")
    host = ExcelBook(book)
    host.read()
    host.write([ResultPage(name, name, ("text",)) for name in RESULT_PAGES], Units.INCH)
    assert book.impl.plain.sheetnames == order


def test_calc_is_told_which_pages_a_new_one_stands_between() -> None:
    message = write_message([grid_of(ResultPage("Cutting order", "Days"), Units.INCH)], Units.INCH)
    [page] = message["write"]["pages"]
    assert page["follows"] == ["Buy", "Plan"]
    assert page["precedes"][:2] == ["Layouts", "Made"]


def test_a_book_that_showed_its_first_page_goes_on_showing_it() -> None:
    book = openpyxl.Workbook()
    book.active.title = "Layouts"
    book.views[0].activeTab = None
    memory = io.BytesIO()
    book.save(memory)
    new = openpyxl.load_workbook(io.BytesIO(spliced(memory.getvalue(), "Buy")))
    assert new.sheetnames == ["Buy", "Layouts"]
    assert new.active.title == "Layouts"
