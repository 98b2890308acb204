"""Native charts under result tables: they point at the table's cells and come along with a splice."""

import io
import re
from dataclasses import replace

import openpyxl
import pytest

from sheetplan.pages.drawing import marks
from sheetplan.pages.values import Chart, ChartKind, Column, Kind, ResultPage, ResultTable
from sheetplan.trade.units import Units
from sheetplan.workbook.package.parts import Package
from sheetplan.workbook.package.splice import splice_pages
from sheetplan.workbook.writing.grid import grid_of
from sheetplan.workbook.writing.page_writer import draw_pages
from tests.nasty.worst_book import worst_book
from tests.workbook.books import parts_of

CHART = Chart("Metal by gauge", ChartKind.STACKED, "Gauge", ("Parts", "Waste"), "Weight")
COLUMNS = (
    Column("Gauge"), Column("Sheets", Kind.COUNT), Column("Parts", Kind.WEIGHT), Column("Waste", Kind.WEIGHT)
)  # fmt: skip
ROWS = (("10 ga", 3, 100.0, 12.5), ("1/4 in", 1, 50.0, None), ("14 ga", 2, 30.0, 4.0))


def page(rows: tuple = ROWS, chart: Chart | None = CHART, name: str = "Plan") -> ResultPage:
    table = ResultTable("PlanGauges", COLUMNS, rows, "By gauge", ("Total", 6, 180.0, 16.5), chart)
    return ResultPage(name, "The plan", ("A line.",), (table,), notes=("A note.",))


def chart_xml(package: Package) -> str:
    names = [name for name in package.names if "/charts/" in name]
    assert len(names) == 1
    return package.read(names[0]).decode()


def test_a_chart_takes_labels_and_values_from_the_table() -> None:
    package = draw_pages((page(),), Units.INCH)
    xml = chart_xml(package)
    sheet = openpyxl.load_workbook(io.BytesIO(package.to_bytes()))["Plan"]
    first, last = re.findall(r"\d+", sheet.tables["PlanGauges"].ref)
    rows = f"${int(first) + 1}:$%s${last}"
    assert re.findall(r"<c:f>(.*?)</c:f>", xml) == [
        f"Plan!$C${first}", f"Plan!$A{rows % 'A'}", f"Plan!$C{rows % 'C'}",
        f"Plan!$D${first}", f"Plan!$A{rows % 'A'}", f"Plan!$D{rows % 'D'}",
    ]  # fmt: skip
    (chart,) = sheet._charts
    assert chart.grouping == "stacked"
    assert "Weight, lb" in xml


def test_series_are_told_apart_by_fill_edge_and_legend() -> None:
    xml = chart_xml(draw_pages((page(),), Units.MM))
    plain, hatched = marks.CHART_FILLS[:2]
    assert f'<a:solidFill><a:srgbClr val="{plain.colour.lstrip("#")}"/>' in xml
    assert '<a:pattFill prst="wdUpDiag">' in xml
    assert hatched.hatched
    assert xml.count(marks.EDGE.lstrip("#")) >= 2
    assert "<c:legend>" in xml
    assert "Weight, kg" in xml


@pytest.mark.parametrize("kind", ChartKind)
def test_the_chart_stands_in_a_row_of_its_own_under_the_table(kind: ChartKind) -> None:
    grid = grid_of(page(chart=replace(CHART, kind=kind)), Units.INCH)
    (chart,) = grid.charts
    assert dict(grid.heights)[chart.row] == chart.height
    assert all(cell.row != chart.row for cell in grid.cells)
    assert chart.row > grid.tables[0].last_row + 1, "the total stands between"
    assert max(cell.row for cell in grid.cells) > chart.row, "the notes follow"


def test_bars_grow_with_the_rows_and_stay_within_a_row() -> None:
    bars = replace(CHART, kind=ChartKind.STACKED_BARS)
    heights = [grid_of(page(ROWS[:1] * n, bars), Units.INCH).charts[0].height for n in (3, 8, 90)]
    assert heights == sorted(heights)
    assert heights[0] < heights[1]
    assert heights[2] <= 409


def test_an_empty_table_has_no_chart() -> None:
    assert grid_of(page(rows=()), Units.INCH).charts == ()
    assert grid_of(page(chart=None), Units.INCH).charts == ()


def test_a_page_whose_name_needs_quotes() -> None:
    assert "'Month end'!$A" in chart_xml(draw_pages((page(name="Month end"),), Units.INCH))


@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
def test_charts_come_along_with_a_splice_and_three_runs_are_stable() -> None:
    before = worst_book()
    own = {name for name in parts_of(before) if "/chart" in name or "/drawing" in name}
    book, seen = before, []
    for rows in (ROWS, ROWS[:2], ROWS):
        book = splice_pages(book, draw_pages((page(rows),), Units.INCH))
        parts = parts_of(book)
        assert all(parts[name] == parts_of(before)[name] for name in own), "the planner's charts stay"
        ours = sorted(name for name in parts if "sheetplan_chart" in name)
        assert len(ours) == 1
        types = parts["[Content_Types].xml"].decode()
        assert types.count(f'PartName="/{ours[0]}"') == 1
        seen.append(book)
    assert seen[0] == seen[2], "the same pages give the same book"
    (chart,) = openpyxl.load_workbook(io.BytesIO(book))["Plan"]._charts
    assert chart.ser[0].val.numRef.f.startswith("Plan!$C$")


def test_a_chart_that_goes_leaves_nothing_behind() -> None:
    with_chart = splice_pages(worst_book(), draw_pages((page(),), Units.INCH))
    without = parts_of(splice_pages(with_chart, draw_pages((page(chart=None),), Units.INCH)))
    assert not [name for name in without if "sheetplan_chart" in name or "sheetplan_drawing" in name]
    assert b"sheetplan_chart" not in without["[Content_Types].xml"]
