"""The page Settings: shares in per cent, their starters, and what is refused."""

from dataclasses import fields

import pytest

from sheetplan.model import Settings, Weight
from sheetplan.trade.units import Units
from sheetplan.workbook.new_book import template_path
from sheetplan.workbook.reading.cells import CellFault, share_of
from tests.workbook.test_reading import job_of, plain_rows, read
from tests.workbook.test_template import read_tables

SHARES = {"On hand counts at": "on_hand_share", "Remnants count at": "remnant_share"}


@pytest.mark.parametrize(("written", "share"), [
    (85, 0.85), (85.0, 0.85), (0.85, 0.85), ("85", 0.85), ("85 %", 0.85), ("85%", 0.85), ("0.85", 0.85),
    ("85 per cent", 0.85), ("85 percent", 0.85), ("62,5 %", 0.625), (62.5, 0.625),
    (0, 0.0), (100, 1.0), (1, 1.0), ("1 %", 0.01), ("0.5 %", 0.005), ("100 %", 1.0), (10, 0.1),
])  # fmt: skip
def test_a_share_however_it_is_written(written: object, share: float) -> None:
    assert share_of(written) == pytest.approx(share)  # type: ignore[arg-type]


@pytest.mark.parametrize(("written", "says"), [
    (101, "more than 100%"), ("120 %", "more than 100%"), (-5, "negative"), ("-5 %", "negative"),
    (2, "2% or as 200%"), (1.2, "1.2% or as 120%"), ("most of it", "not a number"),
    (True, "not a number"), ("%", "not a number"),
])  # fmt: skip
def test_what_is_no_share_is_refused(written: object, says: str) -> None:
    with pytest.raises(CellFault) as fault:
        share_of(written)  # type: ignore[arg-type]
    assert says in fault.value.what
    assert fault.value.remedy


@pytest.mark.parametrize(("name", "field"), SHARES.items())
def test_a_share_in_the_book(name: str, field: str) -> None:
    rows = plain_rows()
    rows["Settings"].append({"Setting": name, "Value": "40 %"})
    assert getattr(job_of(rows).settings, field) == pytest.approx(0.4)
    rows["Settings"][-1]["Value"] = 140
    job, problems = read(rows)
    assert job is None
    (problem,) = problems
    assert (problem.page, problem.cell, problem.weight) == ("Settings", "B7", Weight.STOPS)
    assert "`140` is more than 100%" in problem.what
    assert problem.remedy == "Write 0% to 100%, such as 85%."


def test_books_without_the_rows_take_the_starters() -> None:
    settings = job_of(plain_rows()).settings
    assert (settings.on_hand_share, settings.remnant_share) == (0.85, 0.6)
    known = {field.name: field.default for field in fields(Settings)}
    assert (known["on_hand_share"], known["remnant_share"]) == (0.85, 0.6)


@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize("demo", [False, True])
def test_the_books_that_are_shipped_hold_the_starters(demo: bool, units: Units) -> None:
    rows = read_tables(template_path(demo=demo, units=units)).tables["Settings"].rows
    held = {row.cells["Setting"].value: row.cells["Value"].value for row in rows}
    assert {name: held[name] for name in SHARES} == {"On hand counts at": 0.85, "Remnants count at": 0.6}
