"""Cuts recorded and taken back in an open book: book, file and rack change together, or nothing does."""

import datetime
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.live import run_live
from sheetplan.app.rack import folder
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import TAKEN_BACK, rack_of, read_steps
from sheetplan.app.rack.looking import look
from sheetplan.planning.progress import never
from sheetplan.workbook.hosts.excel import ExcelBook
from tests.app.cut_book import cell, copied, planned_book, record_cut, state
from tests.workbook.hosts.excel_engine import opened

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"))


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def place(plain: Any, page: str, key: str, heading: str) -> Any:
    """The cell in the row that starts with a name, under a heading."""
    sheet = plain[page]
    head = next(row for row in sheet.iter_rows() if any(c.value == heading for c in row))
    column = next(c.column for c in head if c.value == heading)
    row = next(r[0].row for r in sheet.iter_rows(min_row=head[0].row + 1) if r[0].value == key)
    return sheet.cell(row, column)


def marked(book: Path, layout: str = "L1", times: object = 1) -> Any:
    """The book open in the Excel of the tests, with a mark that nobody has saved."""
    made = opened(book)
    place(made.impl.plain, "Layouts", layout, "Cut now").value = times
    return made


def run(excel: Any, what: str) -> bool:
    return run_live(ExcelBook(excel), what, never)


def rack_state(book: Path) -> dict[str, str]:
    return {name: digest for name, digest in state(book.parent).items() if name.startswith("rack/")}


def said(excel: Any) -> str:
    return str(excel.impl.names("sheetplan_said").refers_to_range.raw_value)


def test_a_live_cut_is_saved_and_leaves_the_rack_that_a_closed_one_leaves(book: Path, tmp_path: Path) -> None:
    other = copied(book, tmp_path / "other")
    record_cut(other, CutAsked("L1", 1), today=datetime.date.today())
    excel = marked(book)
    assert run(excel, "cut")
    [step], [closed] = read_steps(rack_of(book)).values(), read_steps(rack_of(other)).values()
    assert (step.pieces, step.left, step.from_stock, step.credits, step.weights) == (
        closed.pieces, closed.left, closed.from_stock, closed.credits, closed.weights,
    )  # fmt: skip
    assert set(rack_state(book)) == set(rack_state(other))
    tag = step.left[0]
    for page, key, heading in (
        ("Stock", "MS10", "On hand"),
        ("Remnants", tag, "State"),
        ("Remnants", tag, "Width"),
        ("Layouts", "L1", "Cut so far"),
        ("Layouts", "L1", "Cut now"),
        ("Cut log", 1, "Good pieces"),
    ):
        assert cell(book, page, key, heading) == cell(other, page, key, heading), f"{page} {heading}"
    assert "The workbook was saved." in said(excel)
    assert step.left[0] in excel.app.impl.alerts[-1]


def test_what_was_otherwise_is_recorded_from_the_open_book(book: Path) -> None:
    excel = marked(book)
    place(excel.impl.plain, "Layouts", "L1", "How").value = "only BRACE; date 2026-11-02; by Ann"
    assert run(excel, "cut")
    [step] = read_steps(rack_of(book)).values()
    assert (step.date, step.by, set(step.pieces)) == ("2026-11-02", "Ann", {"BRACE"})
    assert "Stopped half way: 10 x PLATE not cut" in said(excel)
    assert cell(book, "Layouts", "L1", "How") is None
    assert run(excel, "undo")
    assert not read_steps(rack_of(book))


def test_closed_without_saving_the_book_says_what_the_rack_says(book: Path) -> None:
    """The step counts once the file is saved, so what the person drops by closing is not the step."""
    excel = marked(book)
    assert run(excel, "cut")
    place(excel.impl.plain, "Stock", "MS10", "On hand").value = 99  # typed since, never saved
    seen = look(book)
    assert seen.problems == ()
    assert seen.told == ""
    assert cell(book, "Stock", "MS10", "On hand") == 2


def test_undo_gives_book_and_rack_as_they_were(book: Path) -> None:
    before = rack_state(book)
    excel = marked(book)
    assert run(excel, "cut")
    assert run(excel, "undo")
    # A tag may stand on the sheet already, so that it was given is all that stays.
    after = rack_state(book)
    after.pop(f"rack/{TAKEN_BACK}")
    assert after == before
    assert cell(book, "Stock", "MS10", "On hand") == 3
    assert cell(book, "Layouts", "L1", "Cut so far") == 0
    assert not read_steps(rack_of(book))
    assert "Step 1 was taken back" in said(excel)
    assert not run(excel, "undo")
    assert "Nothing is recorded" in excel.app.impl.alerts[-1]


def test_a_book_that_cannot_be_saved_keeps_book_file_and_rack_as_they_were(book: Path) -> None:
    before, file = rack_state(book), book.read_bytes()
    excel = marked(book)
    excel.impl.refuses_saving = "the disk is full"
    assert not run(excel, "cut")
    assert book.read_bytes() == file
    assert rack_state(book) == before
    plain = excel.impl.plain
    assert place(plain, "Stock", "MS10", "On hand").value == 3
    assert place(plain, "Layouts", "L1", "Cut now").value == 1
    assert place(plain, "Layouts", "L1", "Cut so far").value in (0, None)
    assert not [row for row in plain["Remnants"].iter_rows(min_row=5) if row[0].value]
    assert "0 cuts recorded" in plain["Cut log"]["A2"].value
    assert "could not save the workbook (OSError: the disk is full)" in excel.app.impl.alerts[0]
    assert "Nothing was recorded." in excel.app.impl.alerts[0]
    excel.impl.refuses_saving = ""
    assert run(excel, "cut")
    assert look(book).problems == ()


@pytest.mark.parametrize("saved", [True, False])
def test_a_run_that_dies_at_the_worst_moment_is_finished_or_dropped_by_the_next(
    book: Path, monkeypatch: pytest.MonkeyPatch, saved: bool
) -> None:
    before = rack_state(book)
    excel = marked(book)
    if not saved:
        monkeypatch.setattr(ExcelBook, "_save", lambda self: (_ for _ in ()).throw(Killed()))
        monkeypatch.setattr(shutil, "rmtree", lambda *a, **k: None)  # the process is gone: it tidies nothing
    monkeypatch.setattr(folder, "_finish", lambda *a: (_ for _ in ()).throw(Killed()))
    with pytest.raises(Killed):
        run(excel, "cut")
    assert (rack_of(book) / ".unfinished" / "journal.json").exists()
    monkeypatch.undo()
    seen = look(book)
    assert seen.problems == ()
    if saved:
        assert "has now been finished" in seen.told
        assert read_steps(rack_of(book)).keys() == {1}
        assert cell(book, "Stock", "MS10", "On hand") == 2
    else:
        assert "it was dropped" in seen.told
        assert rack_state(book) == before


class Killed(BaseException):
    """What ends a process; nothing catches it."""


def test_a_table_without_a_blank_row_grows(book: Path) -> None:
    excel = marked(book)
    plain = excel.impl.plain
    table = plain["Remnants"].tables["Remnants"]
    top, bottom = (int("".join(c for c in end if c.isdigit())) for end in table.ref.split(":"))
    for row in range(top + 1, bottom + 1):
        plain["Remnants"].cell(row, 1).value = f"S-{row}"
        plain["Remnants"].cell(row, 2).value = "mild steel"
    assert run(excel, "cut")
    [tag] = read_steps(rack_of(book))[1].left
    assert cell(book, "Remnants", tag, "State") == "in rack"
    saved = openpyxl.load_workbook(book)["Remnants"]
    assert saved.tables["Remnants"].ref.endswith(str(bottom + 1))
    assert saved.cell(bottom + 1, 1).value == tag
    assert str(saved.cell(bottom + 1, saved.max_column).value).startswith("=IFERROR(")


def test_a_formula_is_never_written_over(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path / "shop")
    excel = marked(book)
    there = place(excel.impl.plain, "Stock", "MS10", "On hand")
    excel.impl.formulas["Stock", there.coordinate] = ("=2+1", 3)
    assert run(excel, "cut")
    assert there.value == 3
    assert "a formula stands there" in excel.app.impl.alerts[-1]


@pytest.mark.parametrize(
    ("prepare", "words"),
    [
        (lambda plain: setattr(place(plain, "Layouts", "L1", "Cut now"), "value", None), "nothing is marked"),
        (lambda plain: setattr(place(plain, "Layouts", "L1", "Cut now"), "value", "yes"), "whole number"),
        (lambda plain: setattr(place(plain, "Layouts", "L1", "Cut now"), "value", 40), "planned"),
        (
            lambda plain: setattr(place(plain, "Stock", "MS10", "Width"), "value", "wide"),
            "on the page Problems",
        ),
    ],
)
def test_what_may_not_be_recorded_is_a_sentence(
    book: Path, prepare: Callable[[Any], None], words: str
) -> None:
    before, file = rack_state(book), book.read_bytes()
    excel = marked(book)
    prepare(excel.impl.plain)
    assert not run(excel, "cut")
    [alert] = excel.app.impl.alerts
    assert words in alert
    assert words in said(excel)
    assert "Traceback" not in alert
    assert rack_state(book) == before
    assert book.read_bytes() == file


def test_the_cuts_before_a_refused_one_stand(tmp_path: Path) -> None:
    book = planned_book(tmp_path, plates=33)
    excel = marked(book)
    place(excel.impl.plain, "Layouts", "L2", "Cut now").value = 40
    assert not run(excel, "cut")
    assert read_steps(rack_of(book)).keys() == {1}
    [alert] = excel.app.impl.alerts
    assert "Step 1: L1" in alert
    assert "Nothing more was recorded." in alert
    assert look(book).problems == ()
