"""What is said of rows of the page Quotes, by quote, check and plan, and of other pages that prices need."""

from __future__ import annotations

import datetime
from pathlib import Path

import ezdxf
import openpyxl
import pytest
from pypdf import PdfReader

from sheetplan.app.check import check_book
from sheetplan.app.quote import quote_book
from sheetplan.cli.printing import print_quotes
from sheetplan.model import Weight
from sheetplan.planning.progress import quiet
from tests.app.choice_book import choice_book, run
from tests.app.cut_book import DAY, fill
from tests.app.quote_book import quote

ROWS = [
    {"Quote": "Q-1", "Item": "stnad", "Quantity": "2"},
    {"Quote": "Q-2", "Item": "stand", "Quantity": "0"},
    {"Quote": "Q-3", "Item": "PLATE", "Quantity": "1; 2", "Order it": "9"},
    {"Quote": "Q-4", "Drawing": "none.dxf", "Material": "mild steel", "Thickness": "10 ga", "Quantity": "1"},
    {"Quote": "Q-5", "Item": "gone", "Quantity": "2", "Order it": "ordered 2 on 2026-11-01"},
    {"Quote": "Q-6", "Item": "stand", "Quantity": "2", "Order it": "ordered 2 on 2026-11-01"},
]


def asking(folder: Path, price: object = 100) -> Path:
    """The small book with rows of Quotes and the price of a sheet of plates."""
    path = choice_book(folder)
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", ROWS)
    heads = {cell.value: cell.column for cell in book["Stock"][4]}
    book["Stock"].cell(5, heads["Price"]).value = price
    book.save(path)
    return path


def lines(path: Path, page: str) -> list[str]:
    """Each row of a page as one text."""
    return ["|".join(str(cell.value) for cell in row if cell.value is not None)
            for row in openpyxl.load_workbook(path)[page].iter_rows()]  # fmt: skip


def test_check_and_plan_name_what_is_wrong_on_quotes_and_wait_for_none_of_it(tmp_path: Path) -> None:
    path = asking(tmp_path)
    checked = check_book(path, DAY)
    assert not checked.stops
    cells = {one.cell: one.weight for one in checked.problems if one.page == "Quotes"}
    assert cells == {
        "B5": Weight.LEFT_OUT, "G6": Weight.NOTE, "L7": Weight.NOTE, "C8": Weight.LEFT_OUT,
    }, "what is ordered already is asked nothing"  # fmt: skip
    outcome = run(path)
    assert outcome.plan is not None
    listed = [line for line in lines(path, "Problems") if line.startswith("Quotes!")]
    assert [line.partition("|")[0] for line in listed] == ["Quotes!B5", "Quotes!C8", "Quotes!G6", "Quotes!L7"]


def test_a_name_that_is_ordered_already_is_told_by_check_as_by_quote(tmp_path: Path) -> None:
    path = asking(tmp_path)
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [*ROWS, {"Quote": "Q-6", "Item": "PLATE", "Quantity": "3"}])
    book.save(path)
    checked = check_book(path, DAY)
    (told,) = [one for one in checked.problems if one.page == "Quotes" and one.row == 11]
    assert "Q-6 stands on row 10 already" in told.what
    assert told in quote(path).problems


def test_a_heading_of_quotes_that_is_missing_stops_no_plan(tmp_path: Path) -> None:
    path = asking(tmp_path)
    book = openpyxl.load_workbook(path)
    book["Quotes"].cell(4, 7).value = "Zzz"
    book.save(path)
    checked = check_book(path, DAY)
    assert not checked.stops
    assert any("column Quantity is missing" in one.what for one in checked.problems)


def test_a_row_that_is_left_out_elsewhere_stands_at_the_head_of_the_prices(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = asking(tmp_path, price="1,350")
    outcome = quote(path)
    # The two rows of Quotes, the mark and the row of Stock: any of them gives exit code 5.
    assert outcome.left_out == 4
    page = lines(path, "Quoted")
    head = page[: next(k for k, line in enumerate(page) if line.startswith("Quote|"))]
    assert "1 row of other pages is left out, which may change any price." in head
    assert [line.startswith("Stock!I5: Price `1,350` can be read as") for line in head].count(True) == 1
    assert "To put right on the page Quotes, 3 places:" in head
    assert "To look at on the page Quotes, 1 place:" in head
    assert [line.startswith("Quotes!G6: Nothing is asked for") for line in head].count(True) == 1
    (mark,) = [line for line in head if line.startswith("Quotes!L7: ")]
    assert mark.endswith("It is no order until then."), "its row is priced"
    assert {"Q-2", "Q-3"} == {one.line.name for one in outcome.quotes}
    problems = [line.partition("|")[0] for line in lines(path, "Problems")]
    assert {"Stock!I5", "Quotes!B5", "Quotes!C8", "Quotes!G6", "Quotes!L7"} <= {*problems}
    print_quotes(outcome)
    console = capsys.readouterr().out
    assert "3 places of the page Quotes could not be used" in console
    assert "1 row of other pages is left out" in console


def test_the_customer_gets_size_metals_and_days_from_the_next_day_of_cutting_on(tmp_path: Path) -> None:
    """Quoted on a Friday evening, nothing can be cut before Monday."""
    path = choice_book(tmp_path)
    drawing = ezdxf.new(units=ezdxf.units.MM)
    drawing.modelspace().add_lwpolyline([(0, 0), (152.4, 0), (152.4, 101.6), (0, 101.6)], close=True)
    drawing.saveas(tmp_path / "mm.dxf")
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [
        {"Quote": "Q-1", "Item": "stand", "Quantity": "1"},
        {"Quote": "Q-2", "Drawing": "mm.dxf", "Material": "mild steel", "Thickness": "10 ga", "Quantity": 2},
    ])  # fmt: skip
    book.save(path)
    friday = datetime.date(2026, 11, 27)
    outcome = quote_book(path, today=friday, seconds=0.5, report=quiet)
    stand, drawn = outcome.quotes
    assert stand.described == "set of 3 pieces of mild steel 1/4 in: 1 x BASE, 2 x RIB"
    assert drawn.described == "4 x 6 in, mild steel 10 ga"
    for one in outcome.quotes:
        assert one.counts_from == "2026-11-30"
        assert all(answer.finish >= one.counts_from for answer in one.answers)
    said = " ".join(PdfReader(tmp_path / "quotes" / "Q-2 2026-11-27.pdf").pages[0].extract_text().split())
    assert "Item: mm, 4 x 6 in, mild steel 10 ga" in said
    assert "if it is ordered before cutting begins on 2026-11-30" in said


def test_where_nothing_is_asked_a_row_left_out_elsewhere_is_no_fault_of_the_quotes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = choice_book(tmp_path)
    book = openpyxl.load_workbook(path)
    heads = {cell.value: cell.column for cell in book["Stock"][4]}
    book["Stock"].cell(5, heads["Price"]).value = "1,350"
    book.save(path)
    outcome = quote(path)
    assert outcome.left_out == 0
    print_quotes(outcome)
    assert "The page Quotes asks for nothing." in capsys.readouterr().out


def test_where_all_rows_are_bad_it_does_not_say_that_nothing_is_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = choice_book(tmp_path)
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", ROWS[:1])
    book.save(path)
    outcome = quote(path)
    print_quotes(outcome)
    console = capsys.readouterr().out
    assert "asks for nothing" not in console
    assert "No row of the page Quotes could be priced." in console
