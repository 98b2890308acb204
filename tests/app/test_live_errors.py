"""What goes wrong in an open book is a sentence in it, with the log's path where there is one."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sheetplan.app import live
from sheetplan.app.live import run_live
from sheetplan.app.new import new_book
from sheetplan.planning.progress import never
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.excel import ExcelBook
from tests.app.cut_book import copied, planned_book
from tests.workbook.hosts import excel_engine
from tests.workbook.hosts.excel_engine import opened

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"), plan_it=False)


@pytest.fixture
def excel(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A book open in the Excel of the tests, in a folder of its own; home is a folder of the test."""
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("USERPROFILE", str(home))
    return opened(copied(made, tmp_path / "shop"))


def told(excel: Any) -> str:
    """The one sentence, in the box and on the page Start alike."""
    [alert] = excel.app.impl.alerts
    noted = str(excel.names["sheetplan_said"].refers_to_range.value)
    assert noted.endswith(alert)
    assert "Traceback" not in alert
    assert alert.endswith(".")
    return str(alert)


def emptied(excel: Any, page: str) -> None:
    for row in excel.impl.plain[page].iter_rows(min_row=5):
        for cell in row:
            cell.value = None


def bad_row(excel: Any) -> None:
    excel.impl.plain["Orders"]["C5"].value = "ten"


def no_stock(excel: Any) -> None:
    emptied(excel, "Stock")


def no_orders(excel: Any) -> None:
    emptied(excel, "Orders")


@pytest.mark.parametrize("spoil", [bad_row, no_stock, no_orders])
def test_what_stops_a_plan_is_told_and_stands_on_problems(excel: Any, spoil: Callable[[Any], None]) -> None:
    spoil(excel)
    assert not run_live(ExcelBook(excel), "plan", never)
    assert told(excel).startswith("No plan was made: ")
    problems = [c.value for row in excel.impl.plain["Problems"].iter_rows() for c in row if c.value]
    assert any("stop" in str(value) for value in problems)
    assert not (Path(excel.fullname).parent / "layouts").exists()


@pytest.mark.parametrize("run", ["plan", "cut"])
def test_a_folder_that_is_gone_is_told(excel: Any, run: str) -> None:
    folder = Path(excel.fullname).parent
    shutil.rmtree(folder)
    assert not run_live(ExcelBook(excel), run, never)
    said = told(excel)
    assert not folder.exists(), "it may be a drive that was taken off, so it is not made anew"
    if run == "plan":
        assert "no longer there" in said
        log = Path.home() / "yard.sheetplan.log"
        assert str(log) in said
        assert "FileNotFoundError" in log.read_text()


def test_a_page_that_is_locked_is_told(excel: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: Any) -> None:
        raise RuntimeError("The cell is protected")

    monkeypatch.setattr(excel_engine.Sheet, "clear", refuse)
    assert not run_live(ExcelBook(excel), "check", never)
    assert "Excel would not take the cells and pages (RuntimeError: The cell is protected)" in told(excel)


def test_a_start_page_that_is_locked_hides_no_sentence(excel: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Any, sentence: str) -> None:
        raise RuntimeError("The cell is protected")

    monkeypatch.setattr(ExcelBook, "note", refuse)
    no_orders(excel)
    assert not run_live(ExcelBook(excel), "plan", never)
    assert excel.app.impl.alerts[0].startswith("No plan was made")


def test_a_fault_of_ours_names_its_log(excel: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("x")

    monkeypatch.setattr(live, "plan_on", broken)
    assert not run_live(ExcelBook(excel), "plan", never)
    log = Path(excel.fullname).with_name("yard.sheetplan.log")
    assert str(log) in told(excel)
    assert "ZeroDivisionError" in log.read_text()


def test_a_month_that_is_none_is_told(excel: Any) -> None:
    excel.names["sheetplan_month"].refers_to_range.value = "'13/2026"
    assert not run_live(ExcelBook(excel), "month", never)
    assert told(excel).startswith("13/2026 is no month")


def test_a_month_twice_has_its_charts_once(tmp_path: Path) -> None:
    excel = opened(new_book(tmp_path / "harbour.xlsx", demo=True, units=Units.INCH))
    excel.names["sheetplan_month"].refers_to_range.value = "'2026-11"
    for _ in range(2):
        assert run_live(ExcelBook(excel), "month", never)
        images = excel.impl.plain["Month"]._images
        assert [image.name for image in images] == ["sheetplan picture 1", "sheetplan picture 2"]
    assert all(image.place["width"] > 300 for image in images)
    assert images[0].place["top"] + images[0].place["height"] < images[1].place["top"]
    assert excel.app.impl.alerts == []
