import os
import threading
from pathlib import Path

import openpyxl
import pytest

from sheetplan.trade.units import Units
from sheetplan.workbook.outcomes import BookChanged, BookError, BookInUse, BookUnreadable, NotWritten
from sheetplan.workbook.package.guard import fingerprint
from sheetplan.workbook.package.parts import main, parse
from sheetplan.workbook.package.saving import backup_of, results_beside
from sheetplan.workbook.writing import closed
from sheetplan.workbook.writing.closed import put_pages
from tests.nasty.worst_book import worst_book
from tests.workbook.books import changed, parts_of, plain_book
from tests.workbook.sample_pages import all_pages, plan_page, problems_page

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
PAGES = all_pages()


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "jobs.xlsx"
    path.write_bytes(plain_book("Mine"))
    return path


def names(folder: Path) -> list[str]:
    return sorted(os.listdir(folder))


def test_three_runs_on_the_worst_book(tmp_path: Path) -> None:
    path = tmp_path / "jobs.xlsx"
    before = worst_book()
    path.write_bytes(before)
    sizes = []
    for run in range(3):
        pages = (plan_page(f"Run {run}"), *PAGES[1:])
        assert put_pages(path, pages, Units.INCH, fingerprint(path)).book == path
        sizes.append(sum(map(len, parts_of(path.read_bytes()).values())))
        after = parts_of(path.read_bytes())
        ours = {
            "xl/workbook.xml",
            "xl/_rels/workbook.xml.rels",
            "[Content_Types].xml",
            "xl/styles.xml",
            "xl/calcChain.xml",
        }
        assert {n for n, data in parts_of(before).items() if after.get(n) != data} <= ours
    assert sizes[1] == sizes[2]
    assert names(tmp_path) == [".jobs.backup.json", "jobs.backup.xlsx", "jobs.xlsx"]


def test_the_backup_is_the_book_before_the_last_write(book: Path) -> None:
    first = book.read_bytes()
    put_pages(book, PAGES, Units.INCH, fingerprint(book))
    assert backup_of(book).read_bytes() == first
    second = book.read_bytes()
    put_pages(book, (*PAGES[:1], problems_page()), Units.INCH, fingerprint(book))
    assert backup_of(book).read_bytes() == second
    assert names(book.parent) == [".jobs.backup.json", "jobs.backup.xlsx", "jobs.xlsx"]


def test_writing_the_same_again_touches_nothing(book: Path) -> None:
    put_pages(book, PAGES, Units.INCH, fingerprint(book))
    backup, stamp = backup_of(book).read_bytes(), book.stat().st_mtime_ns
    put_pages(book, PAGES, Units.INCH, fingerprint(book))
    assert (backup_of(book).read_bytes(), book.stat().st_mtime_ns) == (backup, stamp)


def test_a_book_saved_meanwhile_is_left_alone(book: Path) -> None:
    seen = fingerprint(book)
    book.write_bytes(plain_book("Changed"))
    with pytest.raises(BookChanged, match="saved by somebody else"):
        put_pages(book, PAGES, Units.INCH, seen)
    assert openpyxl.load_workbook(book).sheetnames == ["Changed"]
    assert names(book.parent) == ["jobs.xlsx"]


def test_a_book_saved_in_the_last_moment_is_left_alone(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = fingerprint(book)

    def save_and_pass(*_: object) -> None:
        book.write_bytes(plain_book("Changed"))

    monkeypatch.setattr(closed, "judge_written", save_and_pass)
    with pytest.raises(BookChanged):
        put_pages(book, PAGES, Units.INCH, seen)
    assert openpyxl.load_workbook(book).sheetnames == ["Changed"]


def test_a_book_opened_in_the_last_moment_is_left_alone(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = book.read_bytes()
    monkeypatch.setattr(closed, "judge_written", lambda *_: book.with_name("~$jobs.xlsx").touch())
    with pytest.raises(BookInUse, match="Excel"):
        put_pages(book, PAGES, Units.INCH, fingerprint(book))
    assert book.read_bytes() == before


@pytest.mark.parametrize("mark", [".~lock.jobs.xlsx#", "~$jobs.xlsx"])
def test_an_open_book_is_left_alone(book: Path, mark: str) -> None:
    before = book.read_bytes()
    book.with_name(mark).touch()
    with pytest.raises(BookInUse, match="nothing was written"):
        put_pages(book, PAGES, Units.INCH, fingerprint(book))
    assert book.read_bytes() == before
    assert names(book.parent) == sorted([mark, "jobs.xlsx"])


def test_a_book_that_has_gone(book: Path) -> None:
    seen = fingerprint(book)
    book.unlink()
    with pytest.raises(BookUnreadable, match="no file"):
        put_pages(book, PAGES, Units.INCH, seen)
    assert names(book.parent) == []


def test_a_link_to_the_book_stays_a_link(book: Path) -> None:
    link = book.with_name("link.xlsx")
    link.symlink_to(book)
    assert put_pages(link, PAGES, Units.INCH, fingerprint(link)).book == book
    assert link.is_symlink()
    assert "Plan" in openpyxl.load_workbook(link).sheetnames


LOCKED = changed(
    worst_book(), "xl/workbook.xml", b"<bookViews>", b'<workbookProtection lockStructure="1"/><bookViews>'
)


def test_results_of_a_locked_book_go_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "jobs of May.xlsx"
    path.write_bytes(LOCKED)
    written = put_pages(path, PAGES, Units.INCH, fingerprint(path))
    assert path.read_bytes() == LOCKED
    assert written.book == results_beside(path) == tmp_path / "jobs of May results.xlsx"
    assert written.refused is not None
    assert "locked" in written.refused.what
    beside = openpyxl.load_workbook(written.book)
    assert beside.sheetnames == ["Plan", "Layouts", "Made", "Problems"]
    assert "jobs of May.xlsx, which was left as it is" in beside["Plan"]["A2"].value
    assert "structure is locked" in beside["Plan"]["A2"].value
    link = next(c.hyperlink for row in beside["Layouts"].iter_rows() for c in row if c.value == "CB-100")
    assert (link.target, link.location) == ("jobs%20of%20May.xlsx", "Parts!A6")
    again = put_pages(path, PAGES[:1], Units.INCH, fingerprint(path))
    assert openpyxl.load_workbook(again.book).sheetnames == beside.sheetnames, "other pages stay"
    assert names(tmp_path) == ["jobs of May results.xlsx", "jobs of May.xlsx"]


def test_an_open_results_book_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "jobs.xlsx"
    path.write_bytes(LOCKED)
    (tmp_path / "~$jobs results.xlsx").touch()
    with pytest.raises(BookInUse, match=r"jobs results\.xlsx"):
        put_pages(path, PAGES, Units.INCH, fingerprint(path))


def test_a_splice_that_goes_astray_is_caught_before_it_counts(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    true = closed.splice_pages
    for fault, words in (
        (
            lambda data: changed(data, "xl/worksheets/sheet1.xml", b"A1", b"A2"),
            "altered: xl/worksheets/sheet1.xml",
        ),
        (lambda data: data[:-200], "damaged"),
        (
            lambda data: changed(data, "xl/worksheets/sheetplan_sheet1.xml", b"of the month", b"of no month"),
            "does not show its title",
        ),
        (
            lambda data: changed(data, "xl/workbook.xml", b'name="Plan"', b'name="Plam"'),
            "altered",
        ),
        (
            lambda data: changed(data, "xl/workbook.xml", b"<sheets>", b"<sheets"),
            "cannot be read back",
        ),
    ):
        monkeypatch.setattr(closed, "splice_pages", lambda d, p, fault=fault: fault(true(d, p)))
        before = book.read_bytes()
        with pytest.raises(NotWritten, match=words):
            put_pages(book, PAGES, Units.INCH, fingerprint(book))
        assert book.read_bytes() == before
        assert names(book.parent) == ["jobs.xlsx"]


def test_eight_runs_at_once_leave_one_whole_book(book: Path) -> None:
    seen = fingerprint(book)
    outcomes: list[str] = []

    def run(number: int) -> None:
        try:
            put_pages(book, (plan_page(f"Run {number}", 3),), Units.INCH, seen)
            outcomes.append(f"Run {number}")
        except BookError as error:
            outcomes.append(type(error).__name__)

    threads = [threading.Thread(target=run, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    winners = [o for o in outcomes if o.startswith("Run")]
    assert len(winners) == 1
    assert set(outcomes) - set(winners) <= {"BookInUse", "BookChanged"}
    assert openpyxl.load_workbook(book)["Plan"]["A1"].value == winners[0]
    assert names(book.parent) == [".jobs.backup.json", "jobs.backup.xlsx", "jobs.xlsx"]


def test_errors_carry_a_problem_that_can_be_shown(book: Path) -> None:
    book.with_name("~$jobs.xlsx").touch()
    with pytest.raises(BookError) as caught:
        put_pages(book, PAGES, Units.INCH, fingerprint(book))
    problem = caught.value.problem
    assert problem.page == "jobs.xlsx"
    assert problem.what.endswith(".")
    assert problem.remedy.endswith(".")
    root = parse(parts_of(book.read_bytes())["xl/workbook.xml"])
    assert len(list(root.iter(main("sheet")))) == 1
