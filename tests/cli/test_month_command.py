"""`sheetplan month` as a person and as a script meet it."""

import json
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.new import new_book
from sheetplan.trade.units import Units
from tests.cli.running import run

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    return new_book(tmp_path / "harbour.xlsx", demo=True, units=Units.INCH).parent


def test_a_month_is_printed_written_and_given_as_json(demo: Path) -> None:
    result = run("month", "harbour.xlsx", "2026-10", "--json", "october.json", folder=demo)
    assert result.returncode == 0, result.stdout + result.stderr
    assert "2026-10, weights in lb" in result.stdout
    assert "mild steel, not recorded: 175.8 lb more. " in result.stdout
    record = json.loads((demo / "october.json").read_text())
    assert record["month"] == "2026-10"
    assert openpyxl.load_workbook(demo / "harbour.xlsx")["Month"]["A1"].value == "Month's end: 2026-10"


@pytest.mark.parametrize("month", ["2026-13", "november"])
def test_what_is_no_month_is_a_wrong_command_line(demo: Path, month: str) -> None:
    before = (demo / "harbour.xlsx").read_bytes()
    result = run("month", "harbour.xlsx", month, folder=demo)
    assert result.returncode == 2
    assert "is not a month" in result.stderr
    assert (demo / "harbour.xlsx").read_bytes() == before


def test_a_book_whose_units_are_not_said_cannot_be_balanced(demo: Path) -> None:
    path = demo / "harbour.xlsx"
    book = openpyxl.load_workbook(path)
    book["Settings"]["B5"] = None
    book.save(path)
    result = run("month", "harbour.xlsx", "2026-10", folder=demo)
    assert result.returncode == 1
    assert "could not be balanced" in result.stdout
