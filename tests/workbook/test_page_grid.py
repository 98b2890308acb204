import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.pages.values import Column, Kind, Link, Picture, ResultPage, ResultTable
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.writing.grid import MAX_ROW_POINTS, GridCell, Role, grid_of, headings_of
from sheetplan.workbook.writing.print_setup import WIDEST_BY_CONTENT, column_widths, text_width
from tests.nasty.worst_book import png
from tests.workbook.sample_pages import LONG, all_pages, made_page, plan_page


def at(cells: tuple[GridCell, ...], row: int, column: int) -> GridCell:
    return next(cell for cell in cells if (cell.row, cell.column) == (row, column))


def test_no_two_cells_share_a_place_and_nothing_of_the_page_is_lost() -> None:
    for page in all_pages():
        grid = grid_of(page, Units.INCH)
        places = [(cell.row, cell.column) for cell in grid.cells]
        assert len(set(places)) == len(places)
        assert [c.value for c in grid.cells if c.role is Role.LINE] == list(page.lines)
        for table, placed in zip(page.tables, grid.tables, strict=True):
            assert placed.last_row - placed.head_row == max(1, len(table.rows))
            for i, row in enumerate(table.rows, start=placed.head_row + 1):
                for j, value in enumerate(row):
                    cell = at(grid.cells, i, j)
                    shown = value.text if isinstance(value, Link) else value
                    assert (
                        (cell.picture is value)
                        if isinstance(value, Picture)
                        else (cell.value == shown or isinstance(shown, float | int))
                    )


def test_numbers_are_in_the_books_units() -> None:
    inch, mm = (grid_of(plan_page(), units) for units in (Units.INCH, Units.MM))
    head = inch.tables[0].head_row
    row = head + 1
    # Exact: 2438.4 mm is 96 in, 58.5 kg over 0.45359237 (NIST SP 811, appendix B.8).
    assert at(inch.cells, row, 2).value == pytest.approx(96.0)
    assert at(inch.cells, row, 5).value == pytest.approx(58.5 / 0.45359237)
    assert at(mm.cells, row, 2).value == 2438.4
    assert at(mm.cells, row, 5).value == 58.5
    assert at(inch.cells, head, 2).value == "Sheet length, in"
    assert at(mm.cells, head, 4).value == "Area, m2"


def test_stacked_tables_share_columns_as_wide_as_the_widest_need() -> None:
    grid = grid_of(made_page(), Units.INCH)
    assert grid.widths[0] == 26
    assert len(grid.tables) == 2
    assert grid.tables[0].last_row < grid.tables[1].head_row
    assert grid.frozen_rows == 0
    assert grid.repeat_row is None


def test_one_table_has_its_headings_frozen_and_repeated() -> None:
    grid = grid_of(plan_page(), Units.INCH)
    assert grid.frozen_rows == grid.tables[0].head_row + 1
    assert grid.repeat_row == grid.tables[0].head_row
    many_lines = ResultPage("Plan", "t", ("line",) * 20, plan_page().tables)
    assert grid_of(many_lines, Units.INCH).frozen_rows == 0


@given(
    st.lists(st.floats(-1e12, 1e12) | st.integers(-(10**9), 10**9), min_size=1, max_size=4),
    st.sampled_from([k for k in Kind if k not in (Kind.TEXT, Kind.PICTURE)]),
    st.sampled_from(list(Units)),
)
def test_no_number_is_wider_than_its_column(values: list[float], kind: Kind, units: Units) -> None:
    page = ResultPage("P", "t", (), (ResultTable("T", (Column("n", kind, 1),), tuple((v,) for v in values)),))
    width = column_widths(page, units)[0]
    code = style.number_format(kind, units)
    decimals = len(code.partition(";")[0].rstrip("%").partition(".")[2])
    sign = "+" if code.startswith("+") else ""
    for value in values:
        shown = style.shown(value, kind, units) * (100 if kind is Kind.SHARE else 1)
        text = f"{shown:{sign},.{decimals}f}" if "," in code else f"{shown:.{decimals}f}%"
        assert len(text) <= width


def test_long_text_wraps_and_its_row_grows() -> None:
    table = ResultTable("T", (Column("short", width=10), Column("n", Kind.COUNT)), ((LONG, 1), ("a", 2)))
    grid = grid_of(ResultPage("P", "t", (), (table,)), Units.INCH)
    heights = dict(grid.heights)
    first = grid.tables[0].head_row + 1
    assert grid.widths[0] == WIDEST_BY_CONTENT
    assert at(grid.cells, first, 0).wrap
    assert heights[first] >= 14 * text_width(LONG) / WIDEST_BY_CONTENT
    assert first + 1 not in heights


def test_a_picture_has_room_and_one_too_tall_is_made_smaller_in_proportion() -> None:
    big, small = (
        Picture(png(4, 8, (0, 0, 0)), 400.0, 800.0, "big"),
        Picture(png(4, 4, (0, 0, 0)), 80.0, 60.0, "x"),
    )
    table = ResultTable("T", (Column("p", Kind.PICTURE),), ((big,), (small,)))
    grid = grid_of(ResultPage("P", "t", (), (table,)), Units.INCH)
    first = grid.tables[0].head_row + 1
    heights = dict(grid.heights)
    fitted = at(grid.cells, first, 0).picture
    assert fitted is not None
    assert fitted.height < heights[first] == MAX_ROW_POINTS
    assert fitted.width / fitted.height == pytest.approx(0.5)
    assert at(grid.cells, first + 1, 0).picture == small
    assert heights[first + 1] > 60
    assert grid.widths[0] * 5.25 > 400  # 7 pixels a character at 96 to the inch


def test_headings_are_unique_and_never_empty() -> None:
    table = ResultTable("T", (Column("a"), Column("A"), Column(""), Column("b\nc"), Column("a")), ())
    assert headings_of(table, Units.INCH) == ("a", "A 2", "Column 3", "b c", "a 3")
