"""Books are read as they come: tables anywhere, columns in any order, cells of any kind."""

from __future__ import annotations

import time
import warnings
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.utils.cell import get_column_letter

from sheetplan.model import Problem, Weight
from sheetplan.workbook.columns import PARTS
from sheetplan.workbook.outcomes import BookUnreadable
from sheetplan.workbook.reading.book import MAX_ROWS, read_tables
from sheetplan.workbook.reading.job import read_job
from sheetplan.workbook.tables import BookTables, ErrorValue, NotComputed
from tests.nasty.books import troubled
from tests.nasty.books.plain import FIRST_ROW, HEAD_ROW, plain_rows, put_page, tables_of, write_book

MARK = [column.heading for column in PARTS.columns].index("Mark")
LAST = chr(ord("A") + len(PARTS.columns) - 1)
"""Letter of the last input column of the page Parts."""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "month.xlsx"


def values(tables: BookTables, page: str) -> list[dict[str, Any]]:
    """The filled cells of a page by lower-case heading."""
    return [
        {heading.lower(): cell.value for heading, cell in row.cells.items() if cell.value is not None}
        for row in tables.tables[page].rows
    ]


def notes(tables: BookTables) -> list[tuple[str, int | None, Weight]]:
    return [(p.page, p.row, p.weight) for p in tables.problems]


def test_a_plain_book_gives_what_was_written(path: Path) -> None:
    read = read_tables(write_book(path, plain_rows()))
    assert read.problems == ()
    assert {name: values(read, name) for name in plain_rows()} == {
        name: values(tables_of(plain_rows()), name) for name in plain_rows()
    }
    assert read.tables["Parts"].rows[0].cells["Width"].address == f"E{FIRST_ROW}"


def test_a_table_is_found_by_its_name_wherever_it_stands(path: Path) -> None:
    read = read_tables(troubled.parts_elsewhere(path, plain_rows()))
    parts = read.tables["Parts"]
    assert parts.page == "what we make"
    assert parts.heading_row == 21
    assert parts.rows[0].cells["Part"].address == "H22"
    job, problems = read_job(read)
    assert job is not None
    assert [problem.what for problem in problems] == [
        "Outside the table Parts, and not read: H61 (end of list)."
    ]


def test_columns_in_any_order_with_the_planners_own_among_them(path: Path) -> None:
    read = read_tables(troubled.columns_shuffled(path, plain_rows()))
    assert "WELDER" in {heading.upper() for heading in read.tables["Parts"].headings}
    job, problems = read_job(read)
    assert (job, ()) == read_job(tables_of(plain_rows()))
    said = "Not read, since the tool has no such heading on the page Parts: `Welder`."
    assert [problem.what for problem in problems] == [said]
    assert [problem.weight for problem in problems] == [Weight.NOTE]


def test_a_page_without_its_table_is_read_by_its_headings(path: Path) -> None:
    assert read_job(read_tables(troubled.table_gone(path, plain_rows()))) == read_job(tables_of(plain_rows()))


def test_a_page_with_neither_table_nor_headings_is_missing(path: Path) -> None:
    rows = plain_rows()
    write_book(path, {name: rows[name] for name in rows if name != "Stock"})
    book = openpyxl.load_workbook(path)
    book.create_sheet("Stock")["A1"] = "nothing here"
    book.save(path)
    assert "Stock" not in read_tables(path).tables


def test_a_table_of_another_name_on_the_page_is_taken(path: Path) -> None:
    write_book(path, plain_rows())
    troubled.patched(path, troubled.table_part(path, "Parts"), r'(d?isplayName|name)="Parts"', r'\1="Table9"')
    assert read_job(read_tables(path)) == read_job(tables_of(plain_rows()))


def test_blank_rows_are_passed_over(path: Path) -> None:
    rows = plain_rows()
    rows["Parts"][1:1] = [{}, {"Part": "  "}, {}]
    read = read_tables(write_book(path, rows))
    assert [row.number for row in read.tables["Parts"].rows] == [5, 9, 10]


def test_formulas_give_their_stored_results_and_errors_are_told_apart(path: Path) -> None:
    def change(book: Any, sheet: Any) -> None:
        sheet.write_formula(HEAD_ROW, 4, "=2*3", None, 6)
        sheet.write_formula(HEAD_ROW, 5, "=NA()", None, "#N/A")
        sheet.write_formula(HEAD_ROW, 1, '=""', None, "")
        sheet.write_formula(HEAD_ROW + 1, 4, "=1/3+1", None, "")
        sheet.write_boolean(HEAD_ROW, MARK, True)

    troubled.with_parts_sheet(path, plain_rows(), change)
    # Excel marks an empty result as text; XlsxWriter leaves both cells as if nobody had computed them.
    part = troubled.sheet_part(path, "Parts")
    troubled.patched(path, part, r'<c r="B5"><f>""</f>', r'<c r="B5" t="str"><f>""</f>')
    first, second = read_tables(path).tables["Parts"].rows[:2]
    assert first.cells["Width"].value == 6
    assert first.cells["Length"].value == ErrorValue("#N/A")
    assert first.cells["Description"].value is None
    assert first.cells["Mark"].value is True
    assert second.cells["Width"].value == NotComputed()


def test_a_book_saved_without_results_says_so_cell_by_cell(path: Path) -> None:
    write_book(path, plain_rows())
    book = openpyxl.load_workbook(path)
    book["Orders"]["C5"] = "=2+3"
    book.save(path)
    job, problems = read_job(read_tables(path))
    assert job is None
    assert [(p.page, p.cell) for p in problems] == [("Orders", "C5")]
    assert "save it there" in problems[0].remedy


def test_merged_cells_are_named(path: Path) -> None:
    rows = plain_rows()
    rows["Kits"][1]["Kit"] = None
    write_book(path, rows)
    book = openpyxl.load_workbook(path)
    book["Kits"].merge_cells("A5:A6")
    book.save(path)
    job, problems = read_job(read_tables(path))
    assert job is None
    assert any(p.page == "Kits" and p.cell == "A5" and "A5:A6 are merged" in p.what for p in problems)
    assert any(p.page == "Kits" and p.cell == "A6" and p.weight is Weight.STOPS for p in problems)


def test_merged_cells_above_the_table_are_nobodys_business(path: Path) -> None:
    troubled.with_parts_sheet(path, plain_rows(), lambda book, sheet: sheet.merge_range("A1:F2", "Parts"))
    assert read_tables(path).problems == ()


def test_hidden_rows_are_read_and_mentioned(path: Path) -> None:
    def change(book: Any, sheet: Any) -> None:
        sheet.set_row(HEAD_ROW, None, None, {"hidden": True})
        sheet.set_row(HEAD_ROW + 2, None, None, {"hidden": True})
        sheet.set_row(200, None, None, {"hidden": True})

    read = read_tables(troubled.with_parts_sheet(path, plain_rows(), change))
    assert len(read.tables["Parts"].rows) == 3
    assert notes(read) == [("Parts", 5, Weight.NOTE)]
    assert "Rows 5, 7 are hidden" in read.problems[0].what


def test_rows_right_below_a_table_are_read_where_they_are_whole(path: Path) -> None:
    def change(book: Any, sheet: Any) -> None:
        sheet.write_row(HEAD_ROW + 3, 0, ["CB-102", "", "mild steel", "10 ga", 3, 4])
        sheet.write_row(HEAD_ROW + 4, 0, ["Total", "", "", "", "", 26])
        sheet.write_row(HEAD_ROW + 6, 0, ["CB-103", "", "mild steel", "10 ga", 3, 4])

    read = read_tables(troubled.with_parts_sheet(path, plain_rows(), change))
    names = [row.cells["Part"].value for row in read.tables["Parts"].rows]
    assert names == ["CB-100", "CB-101", "SP-704", "CB-102", "CB-103"]
    assert notes(read) == [("Parts", 8, Weight.LEFT_OUT), ("Parts", 11, Weight.NOTE)]
    assert "Read: 8. Not read" in read.problems[0].what
    assert "Row 11 is some blank rows below the table Parts, not in it. Read all the same." in (
        read.problems[1].what
    )


def test_rows_far_below_a_table_are_read_or_named_and_so_are_lone_cells(path: Path) -> None:
    last = len(PARTS.columns) - 1
    beside = f"{get_column_letter(last + 3)}{HEAD_ROW + 2}"

    def change(book: Any, sheet: Any) -> None:
        sheet.write_row(HEAD_ROW + 20, 0, ["Ask Ben about the hinges"])
        sheet.write(HEAD_ROW - 1, last + 1, "Own column")
        sheet.write(HEAD_ROW + 1, last + 1, "of the planner's")
        sheet.write(HEAD_ROW + 1, last + 2, 7)
        sheet.write_row(HEAD_ROW + 900, 0, ["CB-104", "", "mild steel", "10 ga", 3, 4])
        sheet.write_row(HEAD_ROW + 902, 0, ["CB-105", "", "mild steel"])

    read = read_tables(troubled.with_parts_sheet(path, plain_rows(), change))
    names = [row.cells["Part"].value for row in read.tables["Parts"].rows]
    assert names == ["CB-100", "CB-101", "SP-704", "CB-104"]
    note, lone = read.problems
    assert (note.weight, lone.weight) == (Weight.LEFT_OUT, Weight.NOTE)
    assert f"and not read: {beside} (7), A{HEAD_ROW + 21} (Ask Ben about the hinges)." in lone.what
    row = HEAD_ROW + 901
    assert f"Read: {row}. Not read, for want of needed cells: {row + 2}." in note.what


def test_a_row_of_totals_is_no_row(path: Path) -> None:
    write_book(path, plain_rows())
    book = openpyxl.load_workbook(path)
    table = book["Orders"].tables["Orders"]
    table.ref, table.totalsRowCount = "A4:E7", 1
    book["Orders"]["A7"], book["Orders"]["C7"] = "Total", 12
    book.save(path)
    read = read_tables(path)
    assert len(read.tables["Orders"].rows) == 2
    assert read.problems == ()


def test_a_table_without_a_heading_row_goes_by_its_own_names(path: Path) -> None:
    write_book(path, plain_rows())
    part = troubled.table_part(path, "Kits")
    troubled.patched(path, part, r'ref="A4:C6"(.*?)<autoFilter.*?/>', r'ref="A5:C6" headerRowCount="0"\1')
    read = read_tables(path)
    assert values(read, "Kits") == values(tables_of(plain_rows()), "Kits")


def test_stored_dimensions_are_not_believed(path: Path) -> None:
    write_book(path, plain_rows())
    part = troubled.sheet_part(path, "Parts")
    troubled.patched(path, part, r'<dimension ref="[^"]*"/>', '<dimension ref="A1"/>')
    assert read_job(read_tables(path)) == read_job(tables_of(plain_rows()))


@pytest.mark.parametrize("reference", [f"A4:{LAST}1048576", f"A4:{LAST}{MAX_ROWS + 5}"])
def test_a_table_over_a_whole_page_is_refused_at_once(path: Path, reference: str) -> None:
    write_book(path, plain_rows())
    part = troubled.table_part(path, "Parts")
    troubled.patched(path, part, f'ref="A4:{LAST}7"', f'ref="{reference}"')
    begun = time.process_time()
    read = read_tables(path)
    assert time.process_time() - begun < 2
    assert notes(read) == [("Parts", None, Weight.STOPS)]
    job, problems = read_job(read)
    assert job is None
    assert [p.page for p in problems] == ["Parts"], "one message, not one for each thing that is not found"


def test_a_table_over_all_columns_is_read_as_far_as_it_matters(path: Path) -> None:
    rows = plain_rows()
    rows["Parts"] = [{**rows["Parts"][0], "Part": f"P-{n}"} for n in range(2000)] + rows["Parts"]
    write_book(path, rows)
    part = troubled.table_part(path, "Parts")
    troubled.patched(path, part, f'ref="A4:{LAST}2007"', 'ref="A4:XFD2007"')
    begun = time.process_time()
    assert read_job(read_tables(path)) == read_job(tables_of(rows))
    assert time.process_time() - begun < 15


def test_days_counted_from_1904(path: Path) -> None:
    job, problems = read_job(read_tables(troubled.date_1904(path, plain_rows())))
    assert problems == ()
    assert job is not None
    assert job.orders[0].due == "2026-12-04"


def test_five_thousand_rows_are_read_quickly(path: Path) -> None:
    troubled.long_book(path, 5000)
    begun = time.process_time()
    job, problems = read_job(read_tables(path))
    assert time.process_time() - begun < 20
    assert problems == ()
    assert job is not None
    assert len(job.parts) == len(job.orders) == 5000


def test_a_book_that_falls_apart_is_one_plain_error(path: Path) -> None:
    write_book(path, plain_rows())
    whole = path.read_bytes()
    for damaged in (b"", b"not a zip", whole[: len(whole) // 2], whole[:-30]):
        path.write_bytes(damaged)
        with pytest.raises(BookUnreadable) as caught:
            read_tables(path)
        assert isinstance(caught.value.problem, Problem)


@pytest.mark.parametrize("part", ["xl/workbook.xml", "xl/_rels/workbook.xml.rels", "_rels/.rels", "a sheet"])
def test_a_part_that_is_no_xml_is_one_plain_error(path: Path, part: str) -> None:
    write_book(path, plain_rows())
    name = troubled.sheet_part(path, "Parts") if part == "a sheet" else part
    troubled.patched(path, name, r".*", "<worksheet><sheetData><row")
    with pytest.raises(BookUnreadable):
        read_tables(path)


def test_two_tables_on_one_sheet_do_not_run_into_each_other(path: Path) -> None:
    import xlsxwriter

    rows = plain_rows()
    with xlsxwriter.Workbook(path) as book:
        both = book.add_worksheet("everything")
        put_page(both, "Kits", rows["Kits"], at=(0, 0))
        put_page(both, "Orders", rows["Orders"], at=(3, 0))
        for name in rows:
            if name not in ("Kits", "Orders"):
                put_page(book.add_worksheet(name), name, rows[name])
    read = read_tables(path)
    assert read.problems == ()
    assert values(read, "Kits") == values(tables_of(rows), "Kits")
    job, problems = read_job(read)
    assert job is not None
    assert problems == ()
    with zipfile.ZipFile(path) as package:
        assert package.testzip() is None


def test_a_day_beyond_the_calendar_is_a_problem_and_no_warning_on_the_screen(path: Path) -> None:
    write_book(path, plain_rows())
    book = openpyxl.load_workbook(path)
    book["Orders"]["D5"].value = 99_999_999
    book["Orders"]["D5"].number_format = "yyyy-mm-dd"
    book.save(path)
    with warnings.catch_warnings(record=True) as seen:
        warnings.simplefilter("always")
        tables = read_tables(path)
    assert seen == []
    assert any("Due shows #VALUE!" in problem.what for problem in read_job(tables)[1])


def test_orders_two_rows_below_the_tables_end_are_read_and_told(path: Path) -> None:
    write_book(path, plain_rows())
    book = openpyxl.load_workbook(path)
    for column, value in enumerate(("H-3", "CB-100", 4), 1):
        book["Orders"].cell(FIRST_ROW + 4, column).value = value  # after the last, two rows are blank
    book.save(path)
    job, problems = read_job(read_tables(path))
    assert job is not None
    assert [(order.name, order.quantity) for order in job.orders] == [("H-1", 5), ("H-2", 7), ("H-3", 4)]
    assert [problem.what for problem in problems] == [
        "Row 9 is some blank rows below the table Orders, not in it. Read all the same."
    ]
