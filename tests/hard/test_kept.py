"""What spoilt books have broken once, each kept as a case of its own."""

import datetime
import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.workbook.package import guard
from sheetplan.workbook.package.guard import judge
from tests.hard import hostile
from tests.hard.spoiling import Parts, book_of, parts_of
from tests.nasty.books.plain import plain_rows, write_book


def planned(book: Path) -> PlanOutcome:
    today = datetime.date(2026, 11, 25)
    return plan_book(
        book, PlanAsked(today, seconds=0.1, seed=1), stop=lambda: False, report=lambda _: None, workers=1
    )


def twice_planned(folder: Path) -> Parts:
    """Parts of a book that holds our pages."""
    book = folder / "first.xlsx"
    book.write_bytes(hostile.sound())
    planned(book)
    return parts_of(book.read_bytes())


def test_damage_that_reading_does_not_meet_sends_the_results_to_a_book_beside(tmp_path: Path) -> None:
    parts = twice_planned(tmp_path)
    name = next(name for name in parts if name.startswith("xl/drawings/_rels/sheetplan_"))
    parts[name] = parts[name].replace(b'="', b"=", 1)
    book = tmp_path / "b.xlsx"
    book.write_bytes(book_of(parts))
    before = book.read_bytes()
    outcome = planned(book)
    assert book.read_bytes() == before
    assert outcome.book == tmp_path / "b results.xlsx"
    cells = (cell for row in openpyxl.load_workbook(outcome.book)["Plan"].iter_rows() for cell in row)
    assert any("damaged inside" in str(cell.value) for cell in cells)


def test_lists_that_would_take_minutes_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    book = tmp_path / "b.xlsx"
    book.write_bytes(hostile.sound())
    assert judge(book) is None
    monkeypatch.setattr(guard, "MAX_WHOLE_BYTES", 1000)
    problem = judge(book)
    assert problem is not None
    assert "lists of texts" in problem.what


@pytest.mark.parametrize("make", [hostile.one_row, hostile.one_cell])
def test_an_endless_row_is_refused_before_it_is_read(tmp_path: Path, make: Callable[[int], bytes]) -> None:
    book = tmp_path / "b.xlsx"
    book.write_bytes(make(20))
    problem = judge(book)
    assert problem is not None
    assert "A row of a page takes more than 16 MB" in problem.what
    book.write_bytes(make(10))
    assert judge(book) is None


def test_pages_and_pictures_do_not_count_as_lists(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "MAX_WHOLE_BYTES", 1024**2)
    data = hostile.in_sheet(b'<row r="99"><c r="A99"><v>1</v></c></row>' * 40_000)
    memory = io.BytesIO(data)
    with zipfile.ZipFile(memory, "a") as package:
        package.writestr("xl/media/image1.png", bytes(2 * 1024**2))
    book = tmp_path / "b.xlsx"
    book.write_bytes(memory.getvalue())
    assert judge(book) is None


def test_windows_line_ends_in_cells_are_line_ends(tmp_path: Path) -> None:
    from sheetplan.workbook.reading.book import read_tables

    parts = hostile.parts()
    strings = parts["xl/sharedStrings.xml"]
    parts["xl/sharedStrings.xml"] = strings.replace(b">CB-100<", b">CB-100_x000D_\n<")
    book = tmp_path / "b.xlsx"
    book.write_bytes(book_of(parts))
    names = [row.cells["Part"].value for row in read_tables(book).tables["Parts"].rows]
    assert "CB-100\r\n" in names
    assert "CB-100" in (planned(book).plan or pytest.fail("no plan")).job.parts


def test_check_says_what_would_stop_the_plan_about_the_folder(tmp_path: Path) -> None:
    rows = plain_rows()
    rows["Settings"].append({"Setting": "Output folder", "Value": "../out"})
    book = write_book(tmp_path / "b.xlsx", rows)
    checked = check_book(book)
    assert checked.stops
    assert [p.what for p in checked.problems] == [p.what for p in planned(book).problems]


def test_a_text_that_looks_like_an_escape_stays_what_it_is(tmp_path: Path) -> None:
    """``_x0007_`` typed in a cell is seven letters and no bell; a package escapes its first underscore."""
    rows = plain_rows()
    rows["Orders"][0]["Order"] = "_x0007_"
    book = write_book(tmp_path / "b.xlsx", rows)
    for _ in range(2):
        outcome = planned(book)
        assert outcome.plan is not None
        assert outcome.plan.job.orders[0].name == "_x0007_"
    texts = parts_of(book.read_bytes())
    assert not any(b">_x0007_<" in data for data in texts.values()), "an unescaped one would be a bell"
    assert any(b"_x005F_x0007_" in data for name, data in texts.items() if "sheetplan_" in name)
