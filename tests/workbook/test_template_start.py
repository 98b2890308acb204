"""The page Start leads a newcomer through the month, and is where runs in the open book are chosen."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.new import template_path
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.trade.units import Units
from sheetplan.workbook.port import RUN_LABELS, run_of
from sheetplan.workbook.template.start import NO_RUN, NOTHING_YET, STEPS
from sheetplan.workbook.writing.grid import MONTH, RUN, SAID
from tests.app.cut_book import DAY, planned_book, record_cut
from tests.workbook.books import shipped
from tests.workbook.recalculating import recalculated
from tests.workbook.rendering import needs_libreoffice

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")


@pytest.fixture(params=[(False, Units.INCH), (True, Units.MM)])
def book(request: pytest.FixtureRequest) -> openpyxl.Workbook:
    demo, units = request.param
    return shipped(demo, units)


def named(book: openpyxl.Workbook, name: str) -> Any:
    page, _, address = book.defined_names[name].attr_text.rpartition("!")
    return book[page.strip("'")][address.replace("$", "")]


def test_the_steps_come_in_the_order_of_work() -> None:
    said = " ".join(STEPS)
    commands = ("check", "plan", "cut", "undo", "month")
    places = [said.index(f"sheetplan {command} BOOK.xlsx") for command in commands]
    assert places == sorted(places)


def test_the_page_claims_nothing_that_stops_being_true(book: openpyxl.Workbook) -> None:
    texts = [str(cell.value).lower() for row in book["Start"].iter_rows() for cell in row if cell.value]
    assert not [text for text in texts if "empty book" in text]


def test_a_run_is_chosen_from_the_runs_that_there_are(book: openpyxl.Workbook) -> None:
    cell = named(book, RUN)
    assert run_of(cell.value) == "plan"
    [rule] = [v for v in book["Start"].data_validations.dataValidation if cell.coordinate in str(v.sqref)]
    assert rule.formula1.strip('"').split(",") == list(RUN_LABELS.values())
    assert [run_of(label) for label in RUN_LABELS.values()] == list(RUN_LABELS)


def test_a_month_is_text_and_the_last_run_has_its_place(book: openpyxl.Workbook) -> None:
    """Typed into a cell that is no text, 2026-11 becomes the first of November."""
    assert named(book, MONTH).number_format == "@"
    assert named(book, MONTH).value is None
    assert named(book, SAID).value == NO_RUN


@needs_libreoffice
def test_the_page_shows_the_plans_figures_and_how_much_of_it_is_cut(tmp_path: Path) -> None:
    """Worked out by a spreadsheet program on opening, from the pages that the plan and the cut wrote."""
    book = planned_book(tmp_path, plates=33)
    plan = openpyxl.load_workbook(book)["Plan"]
    first = recalculated(book, tmp_path / "planned")["Start"]
    shown = {first.cell(3, at).value: first.cell(4, at).value for at in range(1, 9)}
    assert shown["Sheets to buy"] == plan["B5"].value
    assert shown["Yield"] == pytest.approx(plan["G5"].value)
    pay = next(value for label, value in shown.items() if str(label).startswith("To pay"))
    assert pay == plan["A5"].value
    times = sum(row[1].value for row in openpyxl.load_workbook(book)["Layouts"].iter_rows() if is_layout(row))
    assert times > 1
    bars = {row[0].value: row[1].value for row in first.iter_rows(max_row=12)}
    assert bars["Cut: sheets"] == f"{'·' * 20}  0 of {times} sheets"
    record_cut(book, CutAsked("L1", times=1), today=DAY)
    bars = {row[0].value: row[1].value for row in recalculated(book, tmp_path / "cut")["Start"].iter_rows()}
    filled = 20 // times
    assert bars["Cut: sheets"] == f"{'■' * filled}{'·' * (20 - filled)}  1 of {times} sheets"
    assert str(bars["Cut: pieces"]).endswith(" pieces")
    assert "  0 of" not in str(bars["Cut: pieces"])


def is_layout(row: Sequence[Any]) -> bool:
    return str(row[0].value).startswith("L") and isinstance(row[1].value, int)


@needs_libreoffice
@pytest.mark.parametrize("demo", [True, False])
def test_before_the_first_plan_no_figure_is_shown(demo: bool, tmp_path: Path) -> None:
    book = template_path(demo=demo, units=Units.MM)
    start = recalculated(book, tmp_path)["Start"]
    assert {start.cell(4, at).value for at in range(1, 9)} == {NOTHING_YET}
    told = {row[0].value: row[1].value for row in start.iter_rows(max_row=12)}
    assert {told[f"Cut: {what}"] for what in ("sheets", "pieces", "minutes")} == {NOTHING_YET}
