from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
import xlsxwriter

from sheetplan.workbook.reading import grid
from sheetplan.workbook.reading.grid import Box, SheetMarks, sheet_marks, sheet_places


def book(path: Path) -> Path:
    with xlsxwriter.Workbook(path) as made:
        first = made.add_worksheet("one & only")
        first.add_table(2, 1, 5, 3, {"name": "Alpha", "columns": [{"header": h} for h in ("a", "b", "c")]})
        first.add_table(2, 6, 9, 6, {"name": "Beta", "total_row": True, "columns": [{"header": "d"}]})
        first.merge_range("B12:C14", "merged")
        first.set_row(7, None, None, {"hidden": True})
        made.add_chartsheet("a chart").set_chart(chart(made))
        made.add_worksheet("plain")
    return path


def chart(made: xlsxwriter.Workbook) -> object:
    bars = made.add_chart({"type": "column"})
    bars.add_series({"values": "='one & only'!$B$4:$B$6"})
    return bars


def test_worksheets_and_their_tables(tmp_path: Path) -> None:
    with zipfile.ZipFile(book(tmp_path / "b.xlsx")) as package:
        places = sheet_places(package)
    assert [place.name for place in places] == ["one & only", "plain"]
    alpha, beta = places[0].tables
    assert (alpha.name, alpha.box, alpha.names) == ("Alpha", Box(2, 3, 4, 6), ("a", "b", "c"))
    assert (beta.has_heading_row, beta.has_total_row, alpha.has_total_row) == (True, True, False)
    assert places[1].tables == ()


def test_merged_blocks_and_hidden_rows(tmp_path: Path) -> None:
    with zipfile.ZipFile(book(tmp_path / "b.xlsx")) as package:
        one, plain = sheet_places(package)
        assert sheet_marks(package, one.part) == SheetMarks((Box(2, 12, 3, 14),), frozenset({8}))
        assert sheet_marks(package, plain.part) == SheetMarks()


def test_a_huge_sheet_is_not_searched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(grid, "MAX_SCANNED_BYTES", 10)
    with zipfile.ZipFile(book(tmp_path / "b.xlsx")) as package:
        assert sheet_marks(package, sheet_places(package)[0].part) == SheetMarks()


def test_boxes_meet_where_they_share_a_cell() -> None:
    box = Box(2, 2, 4, 4)
    assert box.meets(Box(4, 4, 9, 9))
    assert not box.meets(Box(5, 2, 9, 4))
    assert not box.meets(Box(2, 5, 4, 9))
