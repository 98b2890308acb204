"""Runs on a host that plays along: whatever happens becomes a sentence."""

import shutil
from collections.abc import Sequence
from pathlib import Path

import pytest

from sheetplan.app import live
from sheetplan.app.live import run_live, stop_file
from sheetplan.app.new import template_path
from sheetplan.app.plan import CheckFailed
from sheetplan.pages.values import ResultPage
from sheetplan.planning.progress import Progress, never
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.calc import CalcBook
from sheetplan.workbook.outcomes import BookChanged, book_problem
from sheetplan.workbook.port import BookState, Edits, LiveEdit
from sheetplan.workbook.tables import BookTables
from tests.workbook.hosts.calc_end import CalcEnd, request


class PlayedHost:
    """A host that remembers what it was told."""

    def __init__(self, folder: Path, error: Exception | None = None) -> None:
        self.path = folder / "jobs.xlsx"
        self.error = error
        self.said: list[str] = []
        self.noted: list[str] = []
        self.wanted: dict[str, str] = {}
        self.pages: list[ResultPage] = []
        self.as_open = BookState()

    def read(self) -> BookTables:
        if self.error is not None:
            raise self.error
        return BookTables({})

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        self.pages += pages
        return self.path

    def touched(self) -> bool | None:
        return None

    def state(self) -> BookState:
        return self.as_open

    def progress(self, progress: Progress) -> None:
        assert progress.sentence

    def tell(self, sentence: str) -> None:
        self.said.append(sentence)

    def note(self, sentence: str) -> None:
        self.noted.append(sentence)

    def asked(self, name: str) -> str:
        return self.wanted.get(name, "")

    def edit(self) -> LiveEdit:
        raise NotImplementedError

    def change(self, edits: Edits, pages: Sequence[ResultPage], units: Units, *, save: bool) -> None:
        raise NotImplementedError


def test_an_empty_book_is_told_and_its_problems_are_written(tmp_path: Path) -> None:
    host = PlayedHost(tmp_path)
    assert not run_live(host, "plan", never)
    assert host.said[0].startswith("No plan was made")
    assert [page.name for page in host.pages] == ["Problems"]


def test_a_check_writes_the_page_problems_alone(tmp_path: Path) -> None:
    host = PlayedHost(tmp_path)
    assert not run_live(host, "check", never)
    assert [page.name for page in host.pages] == ["Problems"]
    assert any("Checked only" in line for line in host.pages[0].lines)


@pytest.mark.parametrize(
    ("error", "words", "log"),
    [
        (
            BookChanged(book_problem(Path("jobs.xlsx"), "It was changed.", "Run it again.")),
            "It was changed. Run",
            False,
        ),
        (PermissionError(13, "Permission denied", "layouts"), "layouts: Permission denied", True),
        (CheckFailed(("overlap",)), "did not pass the independent check", True),
        (ZeroDivisionError("x"), "Something went wrong in sheetplan", True),
    ],
)
def test_errors_are_sentences_and_our_faults_have_a_log(
    tmp_path: Path, error: Exception, words: str, log: bool
) -> None:
    host = PlayedHost(tmp_path, error)
    assert not run_live(host, "plan", never)
    assert words in host.said[0]
    assert host.said[0] in host.noted[-1]
    assert "Traceback" not in host.noted[-1]
    written = tmp_path / "jobs.sheetplan.log"
    assert written.exists() == log
    if log:
        assert str(written) in host.said[0]
        assert type(error).__name__ in written.read_text()


def test_a_month_of_an_empty_book_is_told(tmp_path: Path) -> None:
    host = PlayedHost(tmp_path)
    assert not run_live(host, "month", never)
    assert "not balanced" in host.said[0]
    assert [page.name for page in host.pages] == ["Problems"]


def test_a_month_of_the_demo_is_balanced_on_an_open_book(tmp_path: Path) -> None:
    book = Path(shutil.copy(template_path(demo=True, units=Units.INCH), tmp_path / "harbour.xlsx"))
    end = CalcEnd()
    assert run_live(CalcBook(request(book, "month"), end.lines(), end), "month", never)
    assert set(end.pages) == {"Month", "Problems"}


def test_every_run_says_what_it_writes() -> None:
    assert list(live.WRITES) == list(live.RUNS)


def test_a_book_that_cannot_be_written_is_refused_before_it_is_read(tmp_path: Path) -> None:
    host = PlayedHost(tmp_path, ZeroDivisionError("reading is work already"))
    for state, words in (
        (BookState(read_only=True), "open for reading only"),
        (BookState(planners=frozenset({"Problems"})), "The page Problems is your own"),
    ):
        host.as_open = state
        assert not run_live(host, "plan", never)
        assert words in host.said[-1]
    host.path, host.as_open = tmp_path / "jobs.ods", BookState()
    for run in set(live.RUNS) - {"check"}:
        assert not run_live(host, run, never)
        assert "file of the kind .ods" in host.said[-1]


def test_a_check_of_another_kind_of_file_says_so_first(tmp_path: Path) -> None:
    host = PlayedHost(tmp_path)
    host.path = tmp_path / "jobs.ods"
    assert not run_live(host, "check", never)
    assert "file of the kind .ods" in host.noted[-1]
    assert "file of the kind .ods" in str(host.pages[0].tables[0].rows[0])


def test_an_unknown_run_is_told(tmp_path: Path) -> None:
    host = PlayedHost(tmp_path)
    assert not run_live(host, "dance", never)
    assert "no run called dance" in host.said[0]


def test_a_stop_file_ends_the_search_once(tmp_path: Path) -> None:
    book = tmp_path / "jobs.xlsx"
    stop = live._either(never, stop_file(book))
    assert not stop()
    stop_file(book).touch()
    assert stop()
    assert stop()
    assert not stop_file(book).exists()
    assert live._either(lambda: True, stop_file(book))()
