"""A month's end from a whole book, in inches and in millimetres: what is read is what is written."""

import shutil
from collections import defaultdict
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.month import MonthOutcome, month_json, month_named, month_of
from sheetplan.app.new import template_path
from sheetplan.money.month import MonthLine
from sheetplan.planning import quiet
from sheetplan.trade.units import Units

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")

QUARTER = ("2026-09", "2026-10", "2026-11")
each_unit = pytest.mark.parametrize("units", Units)


def balanced(folder: Path, units: Units, month: str) -> MonthOutcome:
    book = folder / "harbour.xlsx"
    if not book.exists():
        shutil.copy(template_path(demo=True, units=units), book)
    return month_of(book, month, report=quiet)


@pytest.fixture(scope="module", params=Units)
def november(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Units, MonthOutcome]:
    """The demo's last month, balanced once for all tests that only look."""
    folder = tmp_path_factory.mktemp("november")
    return folder / "harbour.xlsx", request.param, balanced(folder, request.param, "2026-11")


def table(book: Path, page: str, name: str) -> list[dict[str, Any]]:
    """Rows of a table as they stand in the file, stored values."""
    sheet = openpyxl.load_workbook(book, data_only=True)[page]
    heads, *rows = [[cell.value for cell in row] for row in sheet[sheet.tables[name].ref]]
    return [dict(zip(heads, row, strict=True)) for row in rows]


def head(text: str, units: Units) -> str:
    return f"{text}, {units.weight}"


@each_unit
def test_the_demo_quarter_balances(units: Units, tmp_path: Path) -> None:
    for month in QUARTER:
        outcome = balanced(tmp_path, units, month)
        assert outcome.problems == ()
        assert outcome.metals is not None
        assert outcome.gauges is not None
        total = outcome.metals.total
        assert total.counted
        for line in (*outcome.metals.lines, *outcome.gauges.lines, total):
            weight_in = line.start + line.bought
            out = line.split.parts + line.split.bad + line.split.skeleton + line.split.kerf + line.end
            assert out + line.not_recorded == pytest.approx(weight_in, rel=1e-9)
            money_out = line.good_cost + line.bad_cost + line.end_value + line.cost_not_recorded
            assert money_out == pytest.approx(line.start_value + line.bought_cost, rel=1e-9)
        assert 0.05 < (total.scale_waste_share or 0.0) < 0.2
        assert total.split.waste_share > (total.scale_waste_share or 0.0), "the scales never see the kerf"


@each_unit
def test_what_is_not_recorded_is_found(units: Units, tmp_path: Path) -> None:
    """In October of the demo a sheet of the most used gauge went without a cut on record."""
    outcome = balanced(tmp_path, units, "2026-10")
    assert outcome.gauges is not None
    lost = {line.gauge: line.not_recorded for line in outcome.gauges.lines if line.not_recorded > 1.0}
    assert list(lost) == ["mild steel 10 ga" if units is Units.INCH else "mild steel 3 mm"]
    weight, = lost.values()
    # A 48 x 96 in sheet of 10 ga: 32 ft2 of 0.1345 in at 490 lb/ft3 (AISC Manual) is 175.7 lb;
    # 1250 x 2500 x 3 mm at 7850 kg/m3 (EN 1991-1-1, table A.4) is 73.6 kg.
    assert weight / units.weight_kg == pytest.approx(175.7 if units is Units.INCH else 73.6, rel=2e-3)
    sheet = openpyxl.load_workbook(tmp_path / "harbour.xlsx")["Month"]
    said = [str(cell.value) for cell in sheet["A"] if cell.value and "not recorded" in str(cell.value)]
    assert any("mild steel, not recorded" in line and "record the cuts" in line for line in said)


def test_the_page_agrees_with_the_planners_own_rows(november: tuple[Path, Units, MonthOutcome]) -> None:
    """To the cent and the pound: sums of the input pages beside the page Month, as stored in the file."""
    book, units, _ = november
    paid = sum(row["Paid"] for row in table(book, "Purchases", "Purchases")
               if row["Date"] and str(row["Date"]).startswith("2026-11"))  # fmt: skip
    scrap: dict[str, float] = defaultdict(float)
    for row in table(book, "Scrap log", "ScrapLog"):
        if row["Date"] and str(row["Date"]).startswith("2026-11"):
            scrap[row["Material"]] += row["Weight"]
    money = table(book, "Month", "MonthMoney")
    assert sum(row["Paid"] for row in money) == pytest.approx(paid, abs=1e-9)
    metals = {row["Metal"]: row for row in table(book, "Month", "MonthMetals")}
    for metal, weight in scrap.items():
        assert metals[metal][head("Scrap weighed", units)] == pytest.approx(weight, abs=1e-9)
    by_size: dict[str, float] = defaultdict(float)
    for row in table(book, "Purchases", "Purchases"):
        if row["Date"] and str(row["Date"]).startswith("2026-11"):
            by_size[row["Material"]] += row["Weight by size"]
    for metal, weight in by_size.items():
        assert metals[metal][head("Bought", units)] == pytest.approx(weight, rel=1e-6)
    trend = table(book, "Month", "MonthTrend")
    assert [row["Month"] for row in trend] == list(QUARTER)
    gauges = table(book, "Month", "MonthGauges")
    for heading in ("Used up", "Good parts", "Skeleton", "Kerf"):
        one, other = (
            sum(row[head(heading, units)] for row in rows) for rows in (metals.values(), gauges)
        )
        assert one == pytest.approx(other, abs=1e-9)
    assert trend[-1][head("Used up", units)] == pytest.approx(sum(r[head("Used up", units)] for r in gauges))


def test_stored_values_are_not_rounded(november: tuple[Path, Units, MonthOutcome]) -> None:
    book, units, outcome = november
    assert outcome.gauges is not None
    rows = {row["Gauge"]: row for row in table(book, "Month", "MonthGauges")}
    stored = [rows[line.gauge]["Yield"] for line in outcome.gauges.lines]
    assert stored == [pytest.approx(line.split.yield_share, rel=1e-15) for line in outcome.gauges.lines]
    assert all(share != round(share, 4) for share in stored)
    for line in outcome.gauges.lines:
        used = rows[line.gauge][head("Used up", units)]
        assert used == pytest.approx(line.used_up / units.weight_kg, rel=1e-15)


def test_charts_follow_the_tables(november: tuple[Path, Units, MonthOutcome]) -> None:
    sheet = openpyxl.load_workbook(november[0])["Month"]
    months, gauges = sheet._charts
    assert len(months.ser) == 3
    assert len(gauges.ser) == 3
    first, last = sheet.tables["MonthTrend"].ref.split(":")
    assert months.ser[0].cat.strRef.f == f"Month!$A${int(first[1:]) + 1}:$A${last[1:]}"


def test_three_months_leave_the_other_pages_as_they_were(tmp_path: Path) -> None:
    before = None
    for month in QUARTER:
        balanced(tmp_path, Units.INCH, month)
        book = openpyxl.load_workbook(tmp_path / "harbour.xlsx", data_only=True)
        shown = {
            sheet.title: [[cell.value for cell in row] for row in sheet.iter_rows()]
            for sheet in book.worksheets
            if sheet.title not in ("Month", "Problems")
        }
        assert before is None or shown == before
        before = shown


def test_a_faulty_row_is_told_on_its_row_and_left_out(tmp_path: Path) -> None:
    balanced(tmp_path, Units.INCH, "2026-11")
    path = tmp_path / "harbour.xlsx"
    book = openpyxl.load_workbook(path)
    book["Scrap log"]["C5"] = "heavy"
    book.save(path)
    outcome = balanced(tmp_path, Units.INCH, "2026-09")
    (problem,) = outcome.problems
    assert (problem.page, problem.cell) == ("Scrap log", "C5")
    problems = openpyxl.load_workbook(path)["Problems"]
    assert any("Scrap log!C5" in str(cell.value) for row in problems.iter_rows() for cell in row)


def test_json_is_in_the_books_units(november: tuple[Path, Units, MonthOutcome]) -> None:
    _, units, outcome = november
    record = month_json(outcome)
    assert outcome.metals is not None
    total: MonthLine = outcome.metals.total
    assert record["month"] == "2026-11"
    assert record["total"]["used_up"] == pytest.approx(total.used_up / units.weight_kg)
    assert {line["name"] for line in record["metals"]} == {line.gauge for line in outcome.metals.lines}


@pytest.mark.parametrize("text", ["2026-13", "2026-00", "13.2026", "November", "", "26-11"])
def test_what_is_no_month(text: str) -> None:
    assert month_named(text) is None


@pytest.mark.parametrize(
    "text", ["2026-11", "11.2026", "11/2026", "2026/11", "2026-11-01", "01.11.2026", " 2026-11 ", "2026.11"]
)
def test_a_month_is_understood_as_people_and_programs_write_it(text: str) -> None:
    assert month_named(text) == "2026-11"
