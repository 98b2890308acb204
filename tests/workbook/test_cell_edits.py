"""Single cells written in place: only their bytes change, whoever wrote the book."""

import datetime
import io

import openpyxl
import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from sheetplan.workbook.package.cells import BookEdit
from tests.nasty.worst_book import worst_book
from tests.workbook.books import changed, parts_of, read

TABLE = ("Tag", "Width", "Note")


def book(rows: int = 3, spare: int = 1, total: bool = False) -> bytes:
    memory = io.BytesIO()
    made = xlsxwriter.Workbook(memory, {"in_memory": True})
    sheet = made.add_worksheet("Rack")
    data = [[f"R-{i}", i, "=[@Width]*2"] for i in range(rows)]
    columns = [{"header": "Tag"}, {"header": "Width"}, {"header": "Note", "formula": "=[@Width]*2"}]
    if total:
        columns[0]["total_string"] = "sum"
    sheet.add_table(2, 1, 2 + rows + spare + total, 3,
                    {"name": "Rack", "columns": columns, "data": data, "total_row": total})  # fmt: skip
    sheet.data_validation(3, 1, 2 + rows + spare, 1, {"validate": "length", "criteria": "<", "value": 9})
    made.close()
    return memory.getvalue()


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["A1", "B4", "C5", "Z9", "AB40"]),
    st.one_of(
        st.integers(-(10**9), 10**9), st.floats(-1e9, 1e9),
        st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=20),
    ),
)
def test_any_value_is_read_back(address: str, value: object) -> None:
    edit = BookEdit(book())
    assert edit.set("Rack", address, value)
    assert read(edit.done())["Rack"][address].value == value


def test_text_never_becomes_a_formula() -> None:
    edit = BookEdit(book())
    edit.set("Rack", "A1", "=1+1")
    cell = read(edit.done())["Rack"]["A1"]
    assert (cell.value, cell.data_type) == ("=1+1", "s")


def test_only_the_cells_meant_change() -> None:
    before = book()
    edit = BookEdit(before)
    edit.set("Rack", "C4", 77)
    old, new = parts_of(before), parts_of(edit.done())
    assert [name for name in old if old[name] != new[name]] == ["xl/worksheets/sheet1.xml"] == [*edit.touched]
    sheet = "xl/worksheets/sheet1.xml"
    assert new[sheet] == old[sheet].replace(b'<c r="C4"><v>0</v></c>', b'<c r="C4"><v>77</v></c>')
    edit = BookEdit(edit.done())
    edit.set("Rack", "C4", 0)
    assert edit.done() == before


def test_the_stated_block_reaches_every_cell() -> None:
    """Readers that believe the block which a page states find the new cells too."""
    edit = BookEdit(book())
    edit.set("Rack", "F40", "far")
    sheet = openpyxl.load_workbook(io.BytesIO(edit.done()), read_only=True)["Rack"]
    assert sheet.calculate_dimension() == "B3:F40"
    assert [row[-1] for row in sheet.iter_rows(values_only=True)][-1] == "far"


@pytest.mark.parametrize("stated", [b"", b"x", b"A1:A1:A1", b"C5"])
def test_a_page_that_states_no_block_is_written_all_the_same(stated: bytes) -> None:
    sheet = "xl/worksheets/sheet1.xml"
    edit = BookEdit(changed(book(), sheet, b'<dimension ref="B3:D7"', b'<dimension ref="' + stated + b'"'))
    edit.set("Rack", "F40", "far")
    assert read(edit.done())["Rack"]["F40"].value == "far"


def test_a_formula_stays() -> None:
    before = book()
    edit = BookEdit(before)
    assert not edit.set("Rack", "D4", 5)
    assert edit.done() == before


def test_rows_go_into_blank_ones_then_the_table_grows() -> None:
    edit = BookEdit(book(rows=3, spare=1))
    rows = [edit.add_row("Rack", {"Tag": f"N-{i}", "Width": i}, ("Tag", "Width")) for i in range(3)]
    assert rows == [7, 8, 9]
    sheet = read(edit.done())["Rack"]
    assert sheet.tables["Rack"].ref == "B3:D9"
    assert sheet["D9"].value == sheet["D6"].value
    assert [str(v.sqref) for v in sheet.data_validations.dataValidation] == ["B4:B9"]


def test_no_row_is_pressed_in_where_there_is_no_room() -> None:
    assert BookEdit(book(spare=0, total=True)).add_row("Rack", {"Tag": "N"}, ("Tag",)) is None
    edit = BookEdit(book(spare=0))
    edit.set("Rack", "C7", "mine")
    before = edit.done()
    edit = BookEdit(before)
    assert edit.add_row("Rack", {"Tag": "N"}, ("Tag",)) is None
    assert edit.done() == before
    assert edit.add_row("Nowhere", {"Tag": "N"}, ("Tag",)) is None


def test_a_sheet_with_prefixes_and_without_addresses() -> None:
    part = "xl/worksheets/sheet1.xml"
    plain = parts_of(book())[part]
    bare = plain.replace(b'<c r="B4" t="s">', b'<c t="s">').replace(b'<row r="4"', b"<row")
    data = changed(book(), part, plain, bare.replace(b"<row", b"<row", 1))
    edit = BookEdit(data)
    edit.set("Rack", "A1", datetime.date(2026, 1, 1).isoformat())
    assert read(edit.done())["Rack"]["A1"].value == "2026-01-01"


def test_the_ugliest_book_keeps_every_other_part() -> None:
    before = worst_book()
    names = openpyxl.load_workbook(io.BytesIO(before), read_only=True).sheetnames
    edit = BookEdit(before)
    edit.set(names[0], "XFD1048576", "far away")
    old, new = parts_of(before), parts_of(edit.done())
    assert {name for name in old if old[name] != new[name]} == edit.touched
    assert len(edit.touched) == 1


def test_a_declared_document_type_is_refused() -> None:
    from sheetplan.workbook.package.splice import MayNotAlter

    part = "xl/worksheets/sheet1.xml"
    data = changed(book(), part, b"<worksheet ", b'<!DOCTYPE x [<!ENTITY a "b">]><worksheet ')
    with pytest.raises(MayNotAlter):
        BookEdit(data).set("Rack", "A1", 1)


@pytest.mark.parametrize("late", [False, True])
def test_a_day_is_a_day_where_the_cell_shows_days_and_text_elsewhere(late: bool) -> None:
    """In a book that counts from 1900 and in one that counts from 1904, as openpyxl reads them."""
    plain = openpyxl.Workbook()
    if late:
        plain.epoch = CALENDAR_MAC_1904
    sheet = plain.active
    assert sheet is not None
    sheet["A1"].number_format, sheet["A2"].number_format = "yyyy-mm-dd", "d mmm"
    sheet["A3"].number_format, sheet["A4"].number_format = "0.00", "mm-dd-yy"
    memory = io.BytesIO()
    plain.save(memory)
    day = datetime.date(2026, 12, 4)
    edit = BookEdit(memory.getvalue())
    for address in ("A1", "A2", "A3", "A4", "B9"):
        edit.set("Sheet", address, day)
    cells = read(edit.done())["Sheet"]
    for address in ("A1", "A2", "A4"):
        assert cells[address].value == datetime.datetime(2026, 12, 4), address
    assert (cells["A3"].value, cells["B9"].value) == ("2026-12-04", "2026-12-04")
