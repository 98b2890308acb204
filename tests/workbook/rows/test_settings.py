"""The page Settings: shares in per cent, their starters, and what is refused."""

from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest

from sheetplan.app.new import template_path
from sheetplan.model import Settings, Weight
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import SETTINGS
from sheetplan.workbook.reading.cells import CellFault, share_of
from sheetplan.workbook.reading.grid import raw_table
from sheetplan.workbook.reading.job import read_job, read_month
from sheetplan.workbook.reading.settings import LIGHT, read_settings, settings_missed
from sheetplan.workbook.schema import SETTING_ROWS, SettingRow
from sheetplan.workbook.tables import BookTables, RawTable
from tests.nasty.books.plain import tables_of
from tests.workbook.test_reading import job_of, plain_rows, read
from tests.workbook.test_template import read_tables


def settings_table(lines: list[dict[str, Any]]) -> RawTable:
    grid = [(5 + number, [line["Setting"], line["Value"]]) for number, line in enumerate(lines)]
    return raw_table(SETTINGS, "Settings", 1, 4, ["Setting", "Value"], grid)


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


@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize("gone", SETTING_ROWS[1:], ids=lambda row: row.name)
def test_a_row_that_is_missing_is_told_once_with_what_stands_in_for_it(
    units: Units, gone: SettingRow
) -> None:
    """What only comes near is told at its row, and waited for where money or a cut hangs on it."""
    lines = [{"Setting": row.name, "Value": row.usual_in(units)} for row in SETTING_ROWS if row is not gone]
    table = settings_table(lines)
    settings, problems = read_settings(table)
    assert settings is not None
    assert problems == ()
    [told] = settings_missed(BookTables({**tables_of(plain_rows()).tables, "Settings": table}))
    assert (told.page, told.weight) == ("Settings", Weight.NOTE)
    assert told.what == f"The page Settings has no row {gone.name} (so: {gone.usual_said(units)})."
    table = settings_table([*lines, {"Setting": f"{gone.name}s", "Value": "7"}])
    [asked] = read_settings(table)[1]
    assert (asked.what, asked.row) == (f"There is no setting {gone.name}s.", 4 + len(SETTING_ROWS))
    assert f"Did you mean {gone.name}?" in asked.remedy
    assert (asked.weight is Weight.STOPS) == (gone.name not in LIGHT)


@pytest.mark.parametrize(("name", "said"), [
    ("Curve tolerance", "0.05 mm"), ("On hand counts at", "85%"), ("Datum corner", "lower left"),
    ("Lift limit", "as if it were empty"), ("Seed", "1"),
])  # fmt: skip
def test_what_stands_in_is_said_as_a_person_writes_it(name: str, said: str) -> None:
    assert next(row for row in SETTING_ROWS if row.name == name).usual_said(Units.MM) == said


def test_missing_rows_are_told_by_every_reading_of_a_book() -> None:
    """One note for all of them, without stopping anything; a row without a value leaves none."""
    tables = tables_of(plain_rows())
    table = tables.tables["Settings"]
    tables = replace(tables, tables={**tables.tables, "Settings": replace(table, rows=table.rows[:2])})
    job, problems = read_job(tables)
    assert job is not None
    [told] = [problem for problem in problems if "has no row" in problem.what]
    gone = [row.name for row in SETTING_ROWS if row.name not in ("Units", "Seed")]
    assert [name for name in gone if f"no row {name} (so: " not in told.what] == []
    assert told in read_month(tables)[2]


def test_rows_that_later_templates_brought_are_not_missed_in_an_older_book() -> None:
    path = Path(__file__).parents[2] / "app" / "earlier_templates" / "empty_in.xlsx"
    assert [p.what for p in read_job(read_tables(path))[1] if "has no row" in p.what] == []


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
