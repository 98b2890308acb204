from sheetplan.workbook.reading.grid import find_heading_row, raw_table, until_gap
from tests.nasty.books.plain import page

KITS = page("Kits")


def test_the_heading_row_is_the_one_that_names_most_columns() -> None:
    rows = [
        (1, ["Kits of the month", None, None]),
        (2, ["Kit", "how many", None]),
        (4, ["our", " KIT ", "part", "Quantity"]),
        (5, ["", "cleat set", "CB-100", 1]),
    ]
    found = find_heading_row(KITS, rows)  # type: ignore[arg-type]
    assert found is not None
    assert found[0] == 4


def test_a_page_of_other_things_has_no_heading_row() -> None:
    assert find_heading_row(KITS, [(1, ["Kit"]), (2, [1, 2, 3]), (3, [])]) is None


def test_rows_blank_in_all_input_columns_are_dropped_whatever_else_they_hold() -> None:
    rows = [(5, ["", None, "  ", "my own note"]), (6, ["cleat set", None, None, None])]
    table = raw_table(KITS, "Kits", 3, 4, ["Kit", "Part", "Quantity", "Welder"], rows)  # type: ignore[arg-type]
    assert [row.number for row in table.rows] == [6]
    assert table.rows[0].cells["Welder"].address == "F6"


def test_of_two_equal_headings_the_first_cell_is_kept() -> None:
    table = raw_table(KITS, "Kits", 1, 1, ["Kit", "Kit"], [(2, ["first", "second"])])
    assert table.headings == ("Kit", "Kit")
    assert table.rows[0].cells["Kit"].value == "first"


def test_a_gap_ends_the_rows() -> None:
    rows = [(1, ["a"]), (2, [None]), (3, ["b"]), (4, [None]), (5, [" "]), (6, ["far away"])]
    assert [number for number, _ in until_gap(rows, 2)] == [1, 2, 3, 4]  # type: ignore[arg-type]
