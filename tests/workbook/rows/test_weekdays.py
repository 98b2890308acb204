"""Days of the week and hours of cutting as the book writes them; lead days of sheets."""

import pytest

from sheetplan.app.new import template_path
from sheetplan.model import Settings, Weight
from sheetplan.trade.units import Units
from sheetplan.workbook.reading.cells import CellFault, weekdays_of
from tests.workbook.test_reading import job_of, plain_rows, read
from tests.workbook.test_template import read_tables


@pytest.mark.parametrize(("written", "days"), [
    ("Monday to Friday", (0, 1, 2, 3, 4)), ("Mon to Fri", (0, 1, 2, 3, 4)), ("mo-fr", (0, 1, 2, 3, 4)),
    ("Mon – Thu, Sat", (0, 1, 2, 3, 5)), ("Sat and Sun", (5, 6)), ("Fri to Mon", (0, 4, 5, 6)),
    ("tues; thurs.", (1, 3)), ("every day", (0, 1, 2, 3, 4, 5, 6)), ("Daily", (0, 1, 2, 3, 4, 5, 6)),
    ("Mondays", (0,)), ("Wed", (2,)), ("Tue, Mon, Tue", (0, 1)),
])  # fmt: skip
def test_days_however_they_are_written(written: str, days: tuple[int, ...]) -> None:
    assert weekdays_of(written) == days


@pytest.mark.parametrize("written", ["weekdays", "Mon to", "M", "Mon to Wed to Fri", ",", 5, "Mon to Fry"])
def test_what_is_no_day_is_refused(written: str | int) -> None:
    with pytest.raises(CellFault) as fault:
        weekdays_of(written)
    assert "Monday to Friday" in fault.value.remedy


def test_hours_and_days_in_the_book() -> None:
    rows = plain_rows()
    rows["Settings"] += [
        {"Setting": "Cutting hours", "Value": 7.5}, {"Setting": "Cutting days", "Value": "Mon to Sat"}
    ]  # fmt: skip
    settings = job_of(rows).settings
    assert (settings.cutting_hours, settings.cutting_days) == (7.5, (0, 1, 2, 3, 4, 5))


@pytest.mark.parametrize(
    ("name", "value"), [("Cutting hours", 25), ("Cutting hours", 0.1), ("Cutting days", "no")]
)
def test_hours_and_days_that_cannot_be_are_named(name: str, value: object) -> None:
    rows = plain_rows()
    rows["Settings"].append({"Setting": name, "Value": value})
    job, [problem] = read(rows)
    assert job is None
    assert (problem.page, problem.cell) == ("Settings", "B7")


def test_books_without_the_rows_take_the_starters() -> None:
    settings = job_of(plain_rows()).settings
    assert (settings.cutting_hours, settings.cutting_days) == (6.0, (0, 1, 2, 3, 4))
    assert (Settings().cutting_hours, Settings().cutting_days) == (6.0, (0, 1, 2, 3, 4))


@pytest.mark.parametrize("units", Units)
def test_the_books_that_are_shipped_hold_the_starters_and_say_whose_figure_it_is(units: Units) -> None:
    rows = read_tables(template_path(demo=False, units=units)).tables["Settings"].rows
    held = {row.cells["Setting"].value: row for row in rows}
    assert held["Cutting hours"].cells["Value"].value == 6
    assert held["Cutting days"].cells["Value"].value == "Mon to Fri"
    assert "common practice, no source" in str(held["Cutting hours"].cells["What it does"].value)


def test_lead_days_of_a_sheet() -> None:
    rows = plain_rows()
    assert job_of(rows).stock[0].lead_days is None
    rows["Stock"][0]["Lead days"] = 5
    assert job_of(rows).stock[0].lead_days == 5


@pytest.mark.parametrize("value", ["a week", 10_000, -1])
def test_lead_days_that_cannot_be_read_leave_no_sheet_out(value: object) -> None:
    rows = plain_rows()
    rows["Stock"][0]["Lead days"] = value
    job, [problem] = read(rows)
    assert job is not None
    assert job.stock[0].lead_days is None
    assert (problem.page, problem.weight) == ("Stock", Weight.NOTE)
