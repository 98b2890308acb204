"""Runs started by a book that is open in Excel."""

import shutil
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.new import new_book, template_path
from sheetplan.cli import excel
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts import excel as host
from tests.workbook.hosts.excel_engine import opened

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The demo, open in the Excel of the tests, with a mistake and asking for a check."""
    new_book(tmp_path / "harbour.xlsx", demo=True, units=Units.INCH)
    plain = openpyxl.load_workbook(tmp_path / "harbour.xlsx")
    plain["Orders"]["C6"] = "ten"
    plain.save(tmp_path / "harbour.xlsx")
    made = opened(tmp_path / "harbour.xlsx")
    made.names["sheetplan_run"].refers_to_range.value = "Check the book"
    monkeypatch.setattr(host, "calling_book", lambda: made)
    return made


def test_the_book_chooses_the_run_and_the_status_bar_is_given_back(book: Any) -> None:
    excel.main()
    problems = book.impl.plain["Problems"]
    said = [str(cell.value) for row in problems.iter_rows() for cell in row if cell.value]
    assert any("C6" in text for text in said)
    assert any("Checked only" in text for text in said)
    statuses = book.app.impl.statuses
    assert statuses[0].startswith("sheetplan 0%")
    assert statuses[-1] is False
    assert book.app.impl.alerts == []
    assert "Check the book: " in str(book.names["sheetplan_said"].refers_to_range.value)


def test_a_run_that_fails_says_so_in_a_box_without_program_text(book: Any) -> None:
    book.names["sheetplan_run"].refers_to_range.value = "Plan the month"
    for row in book.impl.plain["Orders"].iter_rows(min_row=5):
        for cell in row:
            cell.value = None
    excel.main()
    assert len(book.app.impl.alerts) == 1
    assert book.app.impl.alerts[0].startswith("No plan was made")
    assert "Traceback" not in book.app.impl.alerts[0]


def test_without_an_excel_there_is_a_sentence(tmp_path: Path) -> None:
    shutil.copy(template_path(demo=True, units=Units.INCH), tmp_path / "harbour.xlsx")
    with pytest.raises(SystemExit, match="No Excel started this run"):
        excel.main()
