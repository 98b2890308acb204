"""The page Start leads a newcomer through the month, and is where runs in the open book are chosen."""

from typing import Any

import openpyxl
import pytest

from sheetplan.trade.units import Units
from sheetplan.workbook.live_runs import RUN_LABELS, run_of
from sheetplan.workbook.new_book import template_path
from sheetplan.workbook.result_names import MONTH, RUN, SAID
from sheetplan.workbook.template_start import NO_RUN, STEPS

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")


@pytest.fixture(params=[(False, Units.INCH), (True, Units.MM)])
def book(request: pytest.FixtureRequest) -> openpyxl.Workbook:
    demo, units = request.param
    return openpyxl.load_workbook(template_path(demo=demo, units=units))


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
