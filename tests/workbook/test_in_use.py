import os
import subprocess
import sys
from pathlib import Path

import pytest

from sheetplan.workbook.outcomes import BookInUse
from sheetplan.workbook.package.guard import only_writer, open_elsewhere

HOLD = """
import sys, time
from pathlib import Path
from sheetplan.workbook.package.guard import only_writer
with only_writer(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "jobs of May.xlsx"
    path.write_bytes(b"book")
    return path


def test_a_book_that_nobody_has_is_free(book: Path) -> None:
    assert open_elsewhere(book) is None
    assert open_elsewhere(book.with_name("none.xlsx")) is None
    assert book.read_bytes() == b"book"


def test_libreoffice_and_who_and_since_when(book: Path) -> None:
    # The form of the file as LibreOffice 7.4 wrote it here.
    book.with_name(".~lock.jobs of May.xlsx#").write_text(
        ",Foreman,bench-2,04.05.2026 08:00,file:///home/foreman/.config/libreoffice/4;"
    )
    problem = open_elsewhere(book)
    assert problem is not None
    assert "open in LibreOffice (Foreman, since 04.05.2026 08:00)" in problem.what
    assert ".~lock.jobs of May.xlsx#" in problem.remedy


def test_excel_and_who(book: Path) -> None:
    book.with_name("~$jobs of May.xlsx").write_bytes(
        b"\x07Foreman" + b" " * 47 + "Foreman".encode("utf-16-le")
    )
    problem = open_elsewhere(book)
    assert problem is not None
    assert "open in Excel (Foreman)" in problem.what


@pytest.mark.parametrize("data", [b"", b"\xff\x00\x01", b"\x05\x01\x02\x03\x04\x05"])
def test_an_odd_owner_file_still_counts(book: Path, data: bytes) -> None:
    book.with_name("~$jobs of May.xlsx").write_bytes(data)
    problem = open_elsewhere(book)
    assert problem is not None
    assert "open in Excel" in problem.what


def test_a_book_reached_by_a_link_is_looked_up_where_it_lies(book: Path, tmp_path: Path) -> None:
    away = tmp_path / "away"
    away.mkdir()
    (away / "link.xlsx").symlink_to(book)
    book.with_name(".~lock.jobs of May.xlsx#").write_text(",,,,;")
    assert open_elsewhere(away / "link.xlsx") is not None


def test_a_book_marked_read_only_is_respected_even_by_an_administrator(book: Path) -> None:
    book.chmod(0o444)
    problem = open_elsewhere(book)
    assert problem is not None
    assert "read-only" in problem.what


def test_two_writers_at_once(book: Path) -> None:
    with only_writer(book), pytest.raises(BookInUse, match="Another run"), only_writer(book):
        pass
    with only_writer(book):
        pass
    assert [p.name for p in book.parent.iterdir()] == [book.name]


def test_another_process_holds_the_right_until_it_dies(book: Path) -> None:
    child = subprocess.Popen([sys.executable, "-c", HOLD, str(book)], stdout=subprocess.PIPE, text=True)
    try:
        assert child.stdout is not None
        assert child.stdout.readline() == "held\n"
        with pytest.raises(BookInUse), only_writer(book):
            pass
    finally:
        child.kill()
        child.wait()
    with only_writer(book):
        pass
    assert [p.name for p in book.parent.iterdir()] == [book.name]


def test_a_mark_removed_under_way_does_not_let_two_in(book: Path) -> None:
    mark = book.with_name(f".{book.name}.sheetplan-writing")
    with only_writer(book):
        assert mark.exists()
        os.unlink(mark)
        with only_writer(book):  # a mark that somebody deleted by hand no longer excludes anybody
            assert mark.exists()
