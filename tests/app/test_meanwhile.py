"""Cells edited while a plan is made: those that it does not depend on are kept, and the plan is written."""

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app import plan
from sheetplan.app.plan import PlanAsked, plan_on
from sheetplan.model import Job
from sheetplan.planning import RunOptions, continuing
from sheetplan.planning.order_book import Before
from sheetplan.planning.progress import Progress, never
from sheetplan.workbook.hosts.closed import ClosedBook
from sheetplan.workbook.hosts.excel import ExcelBook
from sheetplan.workbook.outcomes import BookChanged
from sheetplan.workbook.port import Host
from tests.app.cut_book import copied, planned_book
from tests.workbook.hosts.excel_engine import opened

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
DAY = datetime.date(2026, 11, 2)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"), plan_it=False)


def once(edit: Callable[[], None]) -> Callable[[Progress], None]:
    """A report that edits the book when the layouts are checked, after all was read."""
    left = [edit]

    def report(progress: Progress) -> None:
        if left and progress.sentence.startswith("Checking"):
            left.pop()()

    return report


def in_file(path: Path, page: str, cell: str, value: object) -> None:
    book = openpyxl.load_workbook(path)
    book[page][cell] = value
    book.save(path)


def closed(path: Path, page: str, cell: str, value: object) -> tuple[Host, Callable[[], Any]]:
    host = ClosedBook(path, once(lambda: in_file(path, page, cell, value)))
    return host, lambda: openpyxl.load_workbook(path)


def excel(path: Path, page: str, cell: str, value: object) -> tuple[Host, Callable[[], Any]]:
    book = opened(path)

    class Edited(ExcelBook):
        def progress(self, progress: Progress) -> None:
            report(progress)

    def edit() -> None:
        book.impl.plain[page][cell].value = value

    report = once(edit)
    return Edited(book), lambda: book.impl.plain


HOSTS = {"closed": closed, "excel": excel}


@pytest.mark.parametrize("name", HOSTS)
def test_a_description_is_kept_and_the_plan_is_written(name: str, made: Path, tmp_path: Path) -> None:
    host, book = HOSTS[name](copied(made, tmp_path / "shop"), "Parts", "B5", "mooring plate")
    outcome = plan_on(host, PlanAsked(DAY, seconds=0.1, seed=1), stop=never, workers=1)
    assert outcome.plan is not None
    assert book()["Parts"]["B5"].value == "mooring plate"
    assert any(outcome.mark in str(cell.value) for row in book()["Plan"].iter_rows() for cell in row)


@pytest.mark.parametrize("name", HOSTS)
@pytest.mark.parametrize(("page", "cell", "value"), [("Orders", "C5", 7), ("Stock", "D5", 60)])
def test_what_a_plan_depends_on_is_named_and_nothing_is_written(
    name: str, page: str, cell: str, value: object, made: Path, tmp_path: Path
) -> None:
    path = copied(made, tmp_path / "shop")
    host, book = HOSTS[name](path, page, cell, value)
    with pytest.raises(BookChanged, match=f"{page} {cell} changed while the run was under way"):
        plan_on(host, PlanAsked(DAY, seconds=0.1, seed=1), stop=never, workers=1)
    assert book()[page][cell].value == value
    assert not book()["Plan"].tables


def test_a_plan_that_is_overtaken_goes_on_from_what_was_found(
    made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the host tells of edits, the next plan starts from the layouts that were found by then."""
    path = copied(made, tmp_path / "shop")
    edited: list[bool] = []

    def edit() -> None:
        in_file(path, "Orders", "C5", 4)
        edited.append(True)

    class Told(ClosedBook):
        def touched(self) -> bool:
            return edited == [True] and not edited.append(False)

    begun: list[Before] = []
    searched = continuing.continued

    def continued(job: Job, before: Before, options: RunOptions, **how: Any) -> Any:
        begun.append(before)
        return searched(job, before, options, **how)

    monkeypatch.setattr(continuing, "continued", continued)
    monkeypatch.setattr(plan, "LOOK_SECONDS", 0.0)
    monkeypatch.setattr(plan, "QUIET_SECONDS", 0.0)
    outcome = plan_on(
        Told(path, once(edit)), PlanAsked(DAY, seconds=0.1, seed=1), stop=never, workers=1
    )  # fmt: skip
    assert outcome.plan is not None
    assert [bool(before.uncut) for before in begun] == [False, True]
    made_now = [layout for one in outcome.plan.groups for layout in one.layouts]
    assert sum(layout.repeats * len(layout.placements) for layout in made_now) == 3 * 4 + 4
    assert [layout.tag for layout in made_now] == [f"L{n}" for n in range(1, len(made_now) + 1)]
