"""Books and racks of earlier versions go on: what they did not write yet is taken as it then was."""

import json
import shutil
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.close import close_month
from sheetplan.app.cut import record_cut, record_marked
from sheetplan.app.cut_asked import CutAsked
from sheetplan.app.parts import PartsAsked, record_parts
from sheetplan.app.rack import look
from sheetplan.app.undo import undo_cut
from tests.app.choice_book import planned
from tests.app.cut_book import DAY, cell, copied, fill, plan
from tests.app.test_finished_parts import free, wanted
from tests.app.test_orders_under_way import plan_again

TEMPLATES = Path(__file__).parent / "earlier_templates"
METAL = {"Material": "mild steel", "Thickness": "10 ga"}
LATER = ("together", "kind", "found", "lines", "asked", "bad_for", "shown", "closed")
"""What steps of the first form did not say."""


def older(folder: Path) -> None:
    """The folder as an earlier version left it: its files without what they have learnt to say since."""
    for path in folder.glob("rack/steps/*.json"):
        step = {key: value for key, value in json.loads(path.read_text()).items() if key not in LATER}
        for one in step["credits"]:
            del one["date"]
        path.write_text(json.dumps({**step, "format": 1}))
    for path in folder.glob("layouts/plan-*/choices.json"):
        kept = json.loads(path.read_text())
        for name in ("gauges_from", "highest", "to_pay"):
            del kept[name]
        for gauge in kept["gauges"]:
            for layout in gauge["layouts"]:
                del layout["of_plan"]
        path.write_text(json.dumps(kept))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of an earlier template, planned, two of its three sheets cut, one piece of them bad."""
    folder = tmp_path_factory.mktemp("made")
    path = folder / "yard.xlsx"
    shutil.copy(TEMPLATES / "empty_in.xlsx", path)
    book = openpyxl.load_workbook(path)
    fill(book, "Parts", [{"Part": "PLATE", **METAL, "Width": 22, "Length": 40}])
    fill(book, "Orders", [{"Order": "H-1", "Item": "PLATE", "Quantity": 12}])
    fill(book, "Stock", [{"Sheet": "MS10", **METAL, "Width": 48, "Length": 96, "On hand": 3, "Price": 140}])
    book.save(path)
    plan(path)
    record_cut(path, CutAsked("L1", times=2, bad={"PLATE": 1}), today=DAY)
    older(folder)
    return path


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def test_what_was_cut_is_known_and_the_rest_is_planned(book: Path) -> None:
    """By hand: 4 plates a sheet, two sheets, one bad: 7 of 12 are cut, 5 are wanted."""
    assert "Since" not in [c.value for row in openpyxl.load_workbook(book)["Orders"].iter_rows() for c in row]
    assert not check_book(book).stops
    assert list(record_marked(book, today=DAY)) == []  # a page Record that is not there tells of no cut
    assert wanted(book) == {"H-1": 5}
    assert look(book).problems == ()
    after = planned(plan_again(book))
    assert [one.repeats for group in after.groups for one in group.layouts if one.tag == "L1"] == [1]
    assert cell(book, "Stock", "MS10", "On hand") == 1


def test_its_steps_are_taken_back_and_its_tickets_recorded(book: Path) -> None:
    plan_again(book)
    done = record_cut(book, CutAsked("L1"), today=DAY)
    assert done.step.pieces == {"PLATE": 4}
    undo_cut(book)
    undo_cut(book)
    assert wanted(book) == {"H-1": 12}
    assert cell(book, "Stock", "MS10", "On hand") == 3


def test_its_month_is_closed_and_its_parts_are_counted(book: Path) -> None:
    record_parts(book, PartsAsked({"PLATE": 2}), today=DAY)
    before = wanted(book), free(book)
    close_month(book, "2026-11", today=DAY)
    assert (wanted(book), free(book)) == before == ({"H-1": 3}, {"PLATE": 2})
    orders = [row[0].value for row in openpyxl.load_workbook(book)["Orders"].iter_rows()]
    assert orders.count("H-1") == 1
