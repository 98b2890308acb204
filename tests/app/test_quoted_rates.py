"""Empty rates: a cost that they leave out is told by cell; metal without a price has no price."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.check import check_tables
from sheetplan.app.kept_quotes import quotes_json
from sheetplan.app.quote import QuoteOutcome
from sheetplan.cli.printing import print_quotes
from sheetplan.model import Weight
from sheetplan.trade.thickness import Thickness
from sheetplan.workbook.reading.book import read_tables
from sheetplan.workbook.reading.job import rate_cells
from tests.app.choice_book import choice_book
from tests.app.cut_book import fill
from tests.app.quote_book import quote

RATES = {
    "Minutes to load": 4, "Minutes to square": 1, "Minutes to unload": 6, "Minutes to clean": 1,
    "Hand hour cost": 45, "Mark-up": 0.25,
}  # fmt: skip


def book_with(
    path: Path, settings: Mapping[str, Any], cutting: Mapping[str, Any], prices: Mapping[str, Any]
) -> Path:
    """The small book with values in Settings, in the rows of Cutting of its gauges, and in Stock."""
    choice_book(path.parent).rename(path)
    book = openpyxl.load_workbook(path)
    for row in book["Settings"].iter_rows(min_row=5):
        if row[0].value in settings or row[0].value in RATES:
            row[1].value = (RATES | {**settings})[row[0].value]
    heads = {cell.value: cell.column for cell in book["Cutting"][4]}
    for row in book["Cutting"].iter_rows(min_row=5):
        if row[0].value == "mild steel" and row[1].value in ("10 ga", '1/4"', "1/4 in", "1/4"):
            for heading, value in cutting.items():
                row[heads[heading] - 1].value = value
    heads = {cell.value: cell.column for cell in book["Stock"][4]}
    for row in book["Stock"].iter_rows(min_row=5):
        if row[0].value in prices:
            row[heads["Price"] - 1].value = prices[row[0].value]
    fill(book, "Quotes", [{"Quote": "Q-1", "Item": "stand", "Quantity": 1},
                          {"Quote": "Q-2", "Item": "PLATE", "Quantity": 2}])  # fmt: skip
    book.save(path)
    return path


@pytest.mark.parametrize(("settings", "cutting", "told"), [
    ({}, {}, []),
    ({}, {"Feed": None}, ["Feed (Cutting!H"]),
    ({}, {"Pierce seconds": None}, ["Pierce seconds (Cutting!I"]),
    ({}, {"Hour cost": None}, ["Hour cost (Cutting!S"]),
    ({"Machine hour cost": 0}, {"Hour cost": None}, []),
    ({"Machine hour cost": 85}, {"Hour cost": None}, []),
    ({}, {"Hour cost": 0}, []),
    ({}, {"Pierce cost": None}, ["Pierce cost (Cutting!O"]),
    ({}, {"Pierce cost": 0}, []),
    ({}, {"Pierce cost": None, "Set cost": 18, "Pierces a set": 400}, []),
    ({"Hand hour cost": None}, {}, ["Hand hour cost (Settings!B"]),
    ({"Hand hour cost": 0}, {}, []),
    ({"Minutes to square": None}, {}, ["Minutes to square (Settings!B"]),
    ({"Minutes to square": 0, "Minutes to clean": 0}, {}, []),
    ({"Mark-up": None}, {}, ["Mark-up (Settings!B"]),
    ({"Mark-up": 0}, {}, []),
])  # fmt: skip
def test_an_empty_cell_is_told_and_a_typed_nothing_is_not(
    tmp_path: Path, settings: dict[str, Any], cutting: dict[str, Any], told: list[str]
) -> None:
    path = book_with(tmp_path / "rates.xlsx", settings, cutting, {})
    tables = read_tables(path)
    job = check_tables(tables).job
    assert job is not None
    gauge: tuple[str, Thickness] = job.parts["RIB"].material, job.parts["RIB"].thickness
    cells = rate_cells(tables, job.settings)
    found = cells.unstated([gauge], None)
    assert [one.cell.startswith(start) for one, start in zip(found, told, strict=True)] == [True] * len(told)
    by_row = [one for one in cells.unstated([gauge], 0.3) if one.cell.startswith("Mark-up")]
    assert by_row == [], "the row says its own"
    assert not cells.without_price(gauge, job.stock)


@pytest.mark.parametrize(("price", "cells"), [(None, 2), (0, 0)])
def test_sheets_without_a_price_are_none_and_a_price_of_nothing_is_one(
    tmp_path: Path, price: int | None, cells: int
) -> None:
    path = book_with(tmp_path / "rates.xlsx", {}, {}, {"BUY": price, "OWN": price})
    tables = read_tables(path)
    job = check_tables(tables).job
    assert job is not None
    plate = job.parts["PLATE"]
    found = rate_cells(tables, job.settings).without_price((plate.material, plate.thickness), job.stock)
    assert len(found) == cells
    assert all(cell.startswith("Price (Stock!I") for cell in found)


def test_page_console_and_file_say_the_same_and_false_prices_are_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A plate has no price, as its sheets have none; a stand has one, which leaves out the hands."""
    path = book_with(tmp_path / "rates.xlsx", {"Hand hour cost": None}, {}, {"BUY": None, "OWN": None})
    outcome: QuoteOutcome = quote(path)
    assert [one.line.name for one in outcome.quotes] == ["Q-1"]
    assert [path.name.split()[0] for path in outcome.files] == ["Q-1"]
    assert outcome.left_out == 1, "the exit code is that of rows left out"
    (wrong,) = [one for one in outcome.problems if one.page == "Quotes"]
    assert wrong.cell == "B6"
    assert wrong.what == (
        "Q-2 is not priced, since its metal has no price: Price (Stock!I5), Price (Stock!I6)."
    )
    print_quotes(outcome)
    console = capsys.readouterr().out.splitlines()
    sheet = openpyxl.load_workbook(path)["Quoted"]
    lines = [str(row[0].value) for row in sheet.iter_rows(max_col=1) if row[0].value is not None]
    (said,) = [line for line in console if line.startswith("Not in the price of Q-1: Hand hour cost")]
    assert said in lines
    (empty,) = quotes_json(outcome.quotes, outcome.units)["quotes"][0]["unstated"]
    assert f"Not in the price of Q-1: {empty['cell']} {empty['what']}. {empty['remedy']}" == said
    assert any("Quotes!B6: Q-2 is not priced" in line for line in lines)


@pytest.mark.parametrize(("setting", "cutting", "told"), [
    (85, {}, True),
    (None, {}, False),
    (85, {"Hour cost": None}, False),
])  # fmt: skip
def test_a_machine_hour_that_no_row_uses_is_named_with_the_rows_that_have_their_own(
    tmp_path: Path, setting: int | None, cutting: dict[str, Any], told: bool
) -> None:
    path = book_with(tmp_path / "rates.xlsx", {"Machine hour cost": setting}, cutting, {})
    found = [one for one in check_tables(read_tables(path)).problems if one.page == "Settings"]
    assert len(found) == told
    if told:
        (note,) = found
        heads = [cell.value for cell in openpyxl.load_workbook(path)["Settings"]["A"]]
        assert note.row == heads.index("Machine hour cost") + 1
        assert note.cell == f"B{note.row}"
        assert note.weight is Weight.NOTE
        own = re.search(r"its own Hour cost \((S\d+), (S\d+)\)", note.what)
        assert own, note.what
        sheet = openpyxl.load_workbook(path)["Cutting"]
        assert [sheet[cell].value for cell in own.groups()] == [90, 90]
