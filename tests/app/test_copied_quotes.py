"""The quotes given so far, in a copy of a book under another name: nothing is lost without a word."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.kept_quotes import kept_quotes, kept_rows, quotes_file
from tests.app.choice_book import choice_book
from tests.app.cut_book import fill
from tests.app.quote_book import quote


@pytest.fixture(scope="module")
def november(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with a quote that was answered."""
    path = choice_book(tmp_path_factory.mktemp("november"))
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [{"Quote": "Q-1", "Item": "stand", "Quantity": "1; 4"}])
    book.save(path)
    quote(path)
    return path


def listed(path: Path) -> list[tuple[object, ...]]:
    """The rows of all quotes given so far, as the page has them."""
    sheet = openpyxl.load_workbook(path)["Quoted"]
    (table,) = [table for table in sheet.tables.values() if table.name == "QuotesGiven"]
    return [tuple(cell.value for cell in row) for row in sheet[table.ref]][1:]


def copied(november: Path, folder: Path) -> Path:
    """The book alone, under another name, with another quote on its page."""
    path = folder / "december.xlsx"
    shutil.copy(november, path)
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [{"Quote": "Q-20", "Item": "PLATE", "Quantity": 2, "Order it": "no"}])
    book.save(path)
    return path


def test_a_copy_keeps_the_rows_of_its_page_and_says_where_the_rest_is(november: Path, tmp_path: Path) -> None:
    before = listed(november)
    assert [row[2:4] for row in before] == [("Q-1", 1), ("Q-1", 4)]
    path = copied(november, tmp_path)
    outcome = quote(path)
    assert [row[2] for row in listed(path)] == ["Q-20", "Q-1", "Q-1"]
    assert listed(path)[1:] == before, "to the letter and the cent"
    (said,) = [line for line in outcome.said if "does not know" in line]
    assert said.startswith("Quoted lists 2 prices that december.quotes.json does not know")
    assert [row.quote for row in kept_rows(path)] == ["Q-1", "Q-1"]
    again = quote(path)
    assert listed(path)[1:] == before
    assert not [line for line in again.said if "does not know" in line], "it is kept now"


def test_in_the_book_itself_nothing_is_said(november: Path) -> None:
    outcome = quote(november)
    assert outcome.said == ()
    assert kept_rows(november) == ()


def test_a_row_that_was_changed_on_the_page_is_told(november: Path, tmp_path: Path) -> None:
    path = copied(november, tmp_path)
    book = openpyxl.load_workbook(path)
    sheet = book["Quoted"]
    row = max(cell.row for cell in sheet["C"] if cell.value == "Q-1")
    assert sheet.cell(row, 4).value == 4
    sheet.cell(row, 5).value = "about 60"
    book.save(path)
    outcome = quote(path)
    assert any(line.startswith("1 row of the quotes given so far") for line in outcome.said)
    assert [row[2:4] for row in listed(path)] == [("Q-20", 2), ("Q-1", 1)]


def test_prices_of_an_older_file_stay_as_they_were_told(november: Path, tmp_path: Path) -> None:
    """158.574 and 30 per cent came to 206.15 where the cost was not rounded first."""
    path = tmp_path / "old.xlsx"
    values = json.loads(quotes_file(november).read_text(encoding="utf-8"))
    (one,) = values["quotes"]
    del one["counts_from"], one["unstated"]
    for answer in one["answers"]:
        for name in ("at_least", "told"):
            del answer[name]
    costs = {"metal": 158.574, "machine": 0.0, "consumables": 0.0, "hands": 0.0, "scrap": 0.0}
    one["answers"][0] |= {"alone": one["answers"][0]["alone"] | costs, "mark_up": 0.3, "by_month": False}
    quotes_file(path).write_text(json.dumps(values), encoding="utf-8")
    (old,) = kept_quotes(path)
    assert old.answers[0].price_each == 206.15
