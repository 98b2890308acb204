"""Where a page of several tables begins a new sheet of paper."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sheetplan.pages.values import Column, ResultPage, ResultTable
from sheetplan.trade.units import Units
from sheetplan.workbook.writing.grid import grid_of
from sheetplan.workbook.writing.page_writer import draw_pages
from sheetplan.workbook.writing.print_setup import (
    ROW_POINTS,
    ROWS_WITH_HEADINGS,
    SURE,
    Block,
    breaks,
    room_on_paper,
)


def page_of(*counts: int) -> ResultPage:
    """A page with tables of so many rows."""
    columns = (Column("A", width=60), Column("B", width=60), Column("C", width=60))
    tables = tuple(
        ResultTable(f"Table_{n}", columns, (("a", "b", "c"),) * count, f"Table {n}")
        for n, count in enumerate(counts)
    )
    return ResultPage("P", "Title", ("A line.",), tables)


def test_a_table_that_would_be_torn_begins_on_the_next_sheet() -> None:
    grid = grid_of(page_of(30, 25), Units.INCH)
    second = grid.tables[1]
    assert grid.breaks == (second.head_row - 1,)  # its caption goes along
    assert grid_of(page_of(5, 5), Units.INCH).breaks == ()


def test_a_table_longer_than_a_sheet_begins_where_it_stands_but_not_at_the_foot() -> None:
    grid = grid_of(page_of(5, 200), Units.INCH)
    assert (grid.breaks, grid.repeat_row) == ((), grid.tables[1].head_row)
    assert grid_of(page_of(200, 5), Units.INCH).repeat_row is None
    grid = grid_of(page_of(0, 200), Units.INCH)
    room = room_on_paper(grid.paper, Units.INCH) * SURE
    rows = int(room / ROW_POINTS)
    grid = grid_of(page_of(rows - 8, 200), Units.INCH)
    assert grid.breaks == (grid.tables[1].head_row - 1,)


def test_one_table_repeats_its_headings_instead() -> None:
    grid = grid_of(page_of(200), Units.INCH)
    assert (grid.breaks, grid.repeat_row) == ((), grid.tables[0].head_row)


def test_breaks_are_in_the_file_and_the_page_is_scaled_for_them() -> None:
    """Excel passes breaks over on a page that is fitted to the paper's width."""
    package = draw_pages([page_of(30, 25)], Units.INCH)
    sheet = package.read("xl/worksheets/sheet1.xml").decode()
    assert '<rowBreaks count="1"' in sheet
    assert "fitToPage" not in sheet
    assert 'scale="' in sheet
    alone = draw_pages([page_of(3, 3)], Units.INCH).read("xl/worksheets/sheet1.xml").decode()
    assert "rowBreaks" not in alone
    assert "fitToPage" in alone


@given(st.lists(st.integers(1, 60), min_size=1, max_size=6), st.floats(150.0, 900.0))
def test_no_block_that_fits_a_sheet_is_torn(counts: list[int], room: float) -> None:
    blocks, row = [], 3
    for count in counts:
        blocks.append(Block(row, row + 1, row + 1 + count))
        row += count + 3
    found = breaks(blocks, {}, room).rows
    starts = [0, *found]
    for block in blocks:
        start = max(one for one in starts if one <= block.first)
        rows = block.last - block.first + 1
        rows = rows if rows * ROW_POINTS <= room * SURE else 2 + ROWS_WITH_HEADINGS
        above = (block.first - start) * ROW_POINTS % (room * SURE)
        assert block.first in found or above + rows * ROW_POINTS <= room * SURE + 1e-6


def test_a_block_that_begins_just_after_what_is_sure_begins_a_new_sheet() -> None:
    """By the sure room it stands at the top of the next sheet; on paper its caption may be at the foot of the
    one before, with the headings on the next."""
    room = 1000.0
    full = Block(0, 1, round(SURE * room / ROW_POINTS) - 1)  # ends where the sure room does
    for gap in range(4):
        second = Block(full.last + 1 + gap, full.last + 2 + gap, full.last + 20)
        assert breaks([full, second], {}, room).rows == (second.first,), gap
    late = Block(full.last + 8, full.last + 9, full.last + 20)
    assert breaks([full, late], {}, room).rows == (), "so low it is on the next sheet in any program"
