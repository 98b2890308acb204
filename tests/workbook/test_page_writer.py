import io
import math
import zipfile

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.pages.values import Column, Kind, Link, ResultPage, ResultTable
from sheetplan.trade.units import Units
from sheetplan.workbook.text import clean_text
from sheetplan.workbook.writing.grid import NAMED_COLUMNS, PROBLEM_KEYS, PROBLEM_MESSAGES
from sheetplan.workbook.writing.page_writer import draw_pages
from tests.workbook.sample_pages import all_pages, made_page, plan_page, problems_page


def drawn(*pages: ResultPage, units: Units = Units.INCH, home: str | None = None) -> openpyxl.Workbook:
    """The pages as another library reads them."""
    data = draw_pages(pages, units, names=NAMED_COLUMNS, home=home).to_bytes()
    return openpyxl.load_workbook(io.BytesIO(data), rich_text=True)


def test_same_pages_same_bytes() -> None:
    assert draw_pages(all_pages(), Units.INCH).to_bytes() == draw_pages(all_pages(), Units.INCH).to_bytes()


def test_tables_are_real_and_formats_follow_kind_and_units() -> None:
    sheet = drawn(plan_page())["Plan"]
    table = sheet.tables["PlanSheets"]
    assert [c.name for c in table.tableColumns][:3] == ["Gauge", "Sheets", "Sheet length, in"]
    assert table.tableStyleInfo is None or not table.tableStyleInfo.name
    first = sheet[table.ref][1]
    assert [c.number_format for c in first] == [
        "@",
        "#,##0",
        "#,##0.000",
        "#,##0.0",
        "#,##0.00",
        "#,##0.0",
        "#,##0.00",
        "0.0%",
        '[h]" h "mm" min"',
        "@",
    ]
    millimetres = drawn(plan_page(), units=Units.MM)["Plan"]
    assert millimetres[table.ref][1][2].number_format == "#,##0.0"
    assert millimetres[table.ref][1][2].value == 2438.4


def test_the_total_stands_below_the_table_and_not_in_it() -> None:
    sheet = drawn(plan_page(rows=3))["Plan"]
    last = sheet[sheet.tables["PlanSheets"].ref][-1]
    total = sheet.cell(last[0].row + 1, 1)
    assert last[0].value == "mild steel 3 ga"
    assert total.value == "All gauges"
    assert total.font.b
    assert not last[0].font.b


@pytest.mark.parametrize("text", ["=1+1", "+49 30", "-5 left", "@here", '=HYPERLINK("x")'])
def test_text_that_looks_like_a_formula_is_marked_as_text(text: str) -> None:
    page = ResultPage(
        "P",
        text,
        (text,),
        (
            ResultTable(
                "T",
                (Column(text), Column("n", Kind.COUNT)),
                ((text, text), (Link(text, "#Mine!A1"), 1)),
                text,
            ),
        ),
    )
    sheet = drawn(page)["P"]
    marked = [c for row in sheet.iter_rows() for c in row if c.value == text]
    assert len(marked) == 7
    assert all(c.data_type == "s" and c.quotePrefix for c in marked)


@pytest.mark.parametrize(
    "text", ["3/8", "10-12", "007", "1E5", "12345678901234567890", "TRUE", "http://x.example"]
)
def test_text_that_looks_like_a_number_stays_text(text: str) -> None:
    page = ResultPage("P", "t", (), (ResultTable("T", (Column("a"),), ((text,),)),))
    cell = drawn(page)["P"]["A4"]
    assert (cell.value, cell.data_type, cell.number_format) == (text, "s", "@")


AWKWARD = st.text(st.characters(codec=None), max_size=60) | st.sampled_from(
    ["_x0041_", "<&>\"'", "]]>", " lead", "trail ", "a\nb", "\x00\x1f", "x" * 40_000, "\ud800", "🔩"]
)


@settings(max_examples=40, deadline=None)
@given(st.lists(AWKWARD, min_size=1, max_size=5))
def test_any_text_comes_back_as_it_went_in(texts: list[str]) -> None:
    page = ResultPage(
        "P", "t", (), (ResultTable("T", (Column("a", wrap=True),), tuple((t,) for t in texts)),)
    )
    sheet = drawn(page)["P"]
    assert [(sheet.cell(4 + i, 1).value or "") for i in range(len(texts))] == [clean_text(t) for t in texts]


def test_numbers_that_are_none_show_as_errors_and_do_not_stop_the_writing() -> None:
    page = ResultPage(
        "P", "t", (), (ResultTable("T", (Column("a", Kind.MONEY),), ((math.nan,), (math.inf,))),)
    )
    sheet = drawn(page)["P"]
    assert [sheet["A4"].data_type, sheet["A5"].data_type] == ["f", "f"]  # =#NUM! and the like


def test_links_are_relative_with_forward_slashes_and_cells_of_the_book_stay_inside() -> None:
    table = ResultTable(
        "T",
        (Column("a", width=30),),
        (
            (Link("drawing", "layouts/plan-A/L 1 #2.dxf"),),
            (Link("row", "#Cut log!B7"),),
            (Link("bad", "http://x"),),
        ),
    )
    package = draw_pages((ResultPage("P", "t", (), (table,)),), Units.INCH)
    relations = package.read("xl/worksheets/_rels/sheet1.xml.rels").decode()
    assert 'Target="layouts/plan-A/L%201%20%232.dxf" TargetMode="External"' in relations
    sheet = openpyxl.load_workbook(io.BytesIO(package.to_bytes()))["P"]
    assert sheet["A5"].hyperlink.location == "'Cut log'!B7"
    assert sheet["A6"].hyperlink is None
    assert [sheet[f"A{i}"].value for i in (4, 5, 6)] == ["drawing", "row", "bad"]


def test_in_a_book_of_their_own_pages_link_back_to_the_planners_book() -> None:
    table = ResultTable("T", (Column("a"),), ((Link("row", "#Parts!B7"),), (Link("here", "#P!A1"),)))
    sheet = drawn(ResultPage("P", "t", (), (table,)), home="jobs of May.xlsx")["P"]
    assert sheet["A4"].hyperlink.target == "jobs%20of%20May.xlsx"
    assert sheet["A4"].hyperlink.location == "Parts!B7"
    assert sheet["A5"].hyperlink.location == "P!A1"
    assert not sheet["A5"].hyperlink.target


def test_pictures_stand_in_their_cells_at_the_size_asked_for() -> None:
    sheet = drawn(*all_pages())["Layouts"]
    first = sheet.tables["LayoutList"].ref
    head = sheet[first][0][0].row
    assert len(sheet._images) == 6
    emu_per_point = 12700  # ECMA-376 part 1, 20.1.10.16
    for number, image in enumerate(sheet._images):
        start, end = image.anchor._from, image.anchor.to
        assert (start.row, start.col) == (head + number, 1)
        assert (end.row, end.col) == (head + number, 1)
        assert (end.rowOff - start.rowOff) / emu_per_point == pytest.approx(120, abs=1)
        assert (end.colOff - start.colOff) / emu_per_point == pytest.approx(240, abs=1)
        assert sheet.row_dimensions[head + number + 1].height > 120


def test_print_set_up() -> None:
    book = drawn(*all_pages())
    plan, made = book["Plan"], book["Made"]
    assert (plan.page_setup.orientation, made.page_setup.orientation) == ("landscape", "portrait")
    assert plan.sheet_properties.pageSetUpPr.fitToPage
    assert plan.page_setup.fitToHeight == 0
    assert plan.print_title_rows == "$6:$6"
    assert plan.freeze_panes == "A7"
    assert "&P" in plan.oddFooter.right.text
    assert plan.page_setup.paperSize == 1
    assert drawn(plan_page(), units=Units.MM)["Plan"].page_setup.paperSize == 9


def test_a_short_table_has_no_filter_buttons() -> None:
    book = drawn(plan_page(rows=12), made_page())
    assert book["Plan"].tables["PlanSheets"].autoFilter is not None
    assert book["Made"].tables["MadeOrders"].autoFilter is None


def test_names_over_the_problem_columns() -> None:
    book = drawn(problems_page(("Parts!7", "a"), ("Orders!9", "b")))
    assert book.defined_names[PROBLEM_KEYS].attr_text == "Problems!$A$4:$A$5"
    assert book.defined_names[PROBLEM_MESSAGES].attr_text == "Problems!$B$4:$B$5"
    empty = drawn(problems_page())
    assert empty.defined_names[PROBLEM_KEYS].attr_text == "Problems!$A$5:$A$5"


def test_an_impossible_table_name_is_not_passed_over() -> None:
    page = ResultPage("P", "t", (), (ResultTable("no good", (Column("a"),), ()),))
    with pytest.warns(UserWarning, match="no good"), pytest.raises(ValueError, match="no good"):
        draw_pages((page,), Units.INCH)


def test_many_rows_are_drawn_in_a_moment() -> None:
    rows = tuple((f"P{i}", i, 25.4 * i) for i in range(5000))
    table = ResultTable("T", (Column("a"), Column("n", Kind.COUNT), Column("l", Kind.LENGTH)), rows)
    data = draw_pages((ResultPage("P", "t", (), (table,)),), Units.INCH).to_bytes()
    assert openpyxl.load_workbook(io.BytesIO(data))["P"].max_row == 5003
    assert zipfile.ZipFile(io.BytesIO(data)).testzip() is None
