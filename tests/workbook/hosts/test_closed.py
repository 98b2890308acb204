from pathlib import Path

import pytest

from sheetplan.planning.progress import Progress
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.closed import ClosedBook
from sheetplan.workbook.outcomes import BookChanged, BookInUse, BookUnreadable
from tests.nasty.worst_book import worst_book
from tests.workbook.books import changed, plain_book
from tests.workbook.sample_pages import plan_page

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "jobs.xlsx"
    path.write_bytes(worst_book())
    return path


def test_reading_then_writing(book: Path) -> None:
    host = ClosedBook(book)
    assert set(host.read().tables) >= {"Parts", "Orders", "Stock"}
    assert host.write((plan_page(),), Units.INCH) == book


def test_why_the_results_are_elsewhere_is_said(book: Path) -> None:
    lock = b'<workbookProtection lockStructure="1"/><bookViews>'
    book.write_bytes(changed(worst_book(), "xl/workbook.xml", b"<bookViews>", lock))
    heard: list[Progress] = []
    host = ClosedBook(book, heard.append)
    host.read()
    assert host.write((plan_page(),), Units.INCH).name == "jobs results.xlsx"
    assert "structure is locked" in heard[-1].sentence
    assert "jobs results.xlsx" in heard[-1].sentence


def test_a_book_saved_between_reading_and_writing_is_left_alone(book: Path) -> None:
    host = ClosedBook(book)
    host.read()
    book.write_bytes(plain_book("Other"))
    with pytest.raises(BookChanged):
        host.write((plan_page(),), Units.INCH)


def test_open_and_unreadable_books_are_not_read(book: Path) -> None:
    book.with_name("~$jobs.xlsx").touch()
    with pytest.raises(BookInUse):
        ClosedBook(book).read()
    book.with_name("~$jobs.xlsx").unlink()
    book.write_bytes(b"Part,Quantity\n")
    with pytest.raises(BookUnreadable, match="text file"):
        ClosedBook(book).read()


def test_writing_unread_is_a_fault_of_the_program(book: Path) -> None:
    with pytest.raises(RuntimeError):
        ClosedBook(book).write((plan_page(),), Units.INCH)


def test_sentences_are_printed(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ClosedBook(book).tell("hello")
    assert capsys.readouterr().out == "hello\n"
