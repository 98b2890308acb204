"""Whatever the command `cut` can be told, the book can say: in a row of Record, and beside a mark on Layouts.

Each is compared with the command, closed and in an open book (the stand-in for Excel; real Calc in
`tests.workbook.hosts.test_calc_for_real`).
"""

import datetime
from dataclasses import replace
from inspect import signature
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.live import run_live
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut import record_cuts, record_marked, record_marked_live
from sheetplan.app.rack.cut_asked import SAID_BY, CutAsked, Way, asked_otherwise, cuts_in_rows
from sheetplan.app.rack.folder import rack_of, read_steps
from sheetplan.cli.step_commands import cut
from sheetplan.model import Weight
from sheetplan.rack.step import Step
from sheetplan.workbook.columns import RECORD
from sheetplan.workbook.hosts.excel import ExcelBook
from sheetplan.workbook.reading.book import read_tables
from tests.app.cut_book import DAY, cell, copied, fill, plan, planned_book, write
from tests.workbook.hosts.excel_engine import opened

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
EARLIER = "{earlier}"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A book with an earlier plan and another sheet; the earlier plan's mark."""
    book = planned_book(tmp_path_factory.mktemp("made"))
    plain = openpyxl.load_workbook(book)
    metal = {"Material": "mild steel", "Thickness": "10 ga"}
    fill(plain, "Stock", [
        {"Sheet": "MS10", **metal, "Width": 48, "Length": 96, "On hand": 3, "Price": 140},
        {"Sheet": "WIDE", **metal, "Width": 60, "Length": 120, "On hand": 2, "Price": 900},
    ])  # fmt: skip
    plain.save(book)
    earlier = plan(book)
    write(book, "Orders", "H-2", "Quantity", 6)
    assert plan(book) != earlier
    return book, earlier


KEPT = "keep as it is"
CROPPED = "crop to a rectangle"
DAY_SAID = datetime.date(2026, 11, 20)

OPTIONS: dict[str, tuple[CutAsked, str, dict[str, object]]] = {
    "as planned": (CutAsked("L2", 1), "", {"Sheets": 1}),
    "all that is left": (CutAsked("L2"), "", {}),
    "another sheet": (CutAsked("L2", 1, on="WIDE"), "on WIDE", {"Sheets": 1, "Cut from": "WIDE"}),
    "a day": (CutAsked("L2", 1, date=DAY_SAID), "date 2026-11-20",
              {"Sheets": 1, "Cut on": datetime.datetime(2026, 11, 20)}),
    "stopped half way": (CutAsked("L2", 1, only=("BRACE", "PLATE#1,2")), "only BRACE, PLATE#1,2",
                         {"Pieces cut": "BRACE, PLATE#1,2"}),
    "bad pieces": (CutAsked("L2", 1, bad={"PLATE": 2, "BRACE": 1}), "bad PLATE=2, BRACE=1",
                   {"Sheets": 1, "Bad pieces": "PLATE=2, BRACE=1"}),
    "who": (CutAsked("L2", 1, by="Ann"), "by Ann", {"Sheets": 1, "Cut by": "Ann"}),
    "heat": (CutAsked("L2", 1, heat="A 17/3"), "heat A 17/3", {"Sheets": 1, "Heat": "A 17/3"}),
    "cropped": (CutAsked("L2", 1, crop=True), "crop", {"Sheets": 1, "What is left": CROPPED}),
    "kept": (CutAsked("L2", 1, crop=False), "as it is", {"Sheets": 1, "What is left": KEPT}),
    "more than planned": (CutAsked("L2", 2, again=True), "again", {"Sheets": 2, "Beyond plan": "yes"}),
    "an earlier ticket": (CutAsked(f"{EARLIER}-L1", 1), f"ticket {EARLIER}-L1",
                          {"Ticket": f"{EARLIER}-L1", "Sheets": 1}),
    "a remark": (CutAsked("L2", 1, note="bevelled torch"), "note bevelled torch",
                 {"Sheets": 1, "Note": "bevelled torch"}),
    "several": (CutAsked("L2", 1, on="WIDE", by="Ann", bad={"PLATE": 1}), "by Ann; on WIDE; bad PLATE=1",
                {"Sheets": 1, "Cut from": "WIDE", "Cut by": "Ann", "Bad pieces": "PLATE=1"}),
}  # fmt: skip
"""What the command is told, what stands in How, and what stands in a row of Record (ticket L2)."""


@pytest.mark.parametrize("name", OPTIONS)
def test_a_mark_says_what_the_command_says(name: str) -> None:
    asked, how, _ = OPTIONS[name]
    assert asked_otherwise(CutAsked("L2", asked.times), how) == asked


def test_who_cut_it_is_said_by_the_row_or_else_by_the_command(made: tuple[Path, str], tmp_path: Path) -> None:
    row = {"Ticket": f"{shown_plan(made[0])}-L2", "Sheets": 1, "Beyond plan": "yes"}
    book = with_rows(copied(made[0], tmp_path / "shop"), [row, {**row, "Cut by": "Ann"}])
    assert [one.step.by for one in record_marked(book, today=DAY, by="Joe")] == ["Joe", "Ann"]


def test_rows_and_a_mark_are_recorded_as_the_command_would(made: tuple[Path, str], tmp_path: Path) -> None:
    """All options at once, one after the other: each step works on the rack as the one before leaves it."""
    source, earlier = made
    shown = f"{shown_plan(source)}-L2"
    asked = [
        replace(one, layout=shown if one.layout == "L2" else one.layout.replace(EARLIER, earlier), again=True)
        for one, _, _ in OPTIONS.values()
    ]
    rows = [
        {"Ticket": shown, **row, "Beyond plan": "yes"} for _, _, row in OPTIONS.values()
    ]  # fmt: skip
    rows = [{**row, "Ticket": str(row["Ticket"]).replace(EARLIER, earlier)} for row in rows]
    told = [one.step for one in record_cuts(copied(source, tmp_path / "told"), asked, today=DAY)]
    assert len(told) == len(OPTIONS)
    closed = with_rows(copied(source, tmp_path / "closed"), rows)
    assert [bare(one.step) for one in record_marked(closed, today=DAY)] == [bare(one) for one in told]
    # An open book gives the same cells (`tests/workbook/hosts/test_contract.py`): a few rows are enough.
    live = with_rows(copied(source, tmp_path / "live"), rows[::5])
    told = [one.step for one in record_cuts(copied(source, tmp_path / "told of few"), asked[::5], today=DAY)]
    host = ExcelBook(opened(live))
    assert [bare(one.step) for one in record_marked_live(host, today=DAY)] == [bare(one) for one in told]
    for book in (closed, live):
        assert cuts_in_rows(read_tables(book)) == ((), ())  # what is recorded is cleared
    write(closed, "Layouts", "L2", "Cut now", 1)
    write(closed, "Layouts", "L2", "How", "on WIDE; by Ann; bad PLATE=1; again; note thick dross")
    [marked] = record_marked(closed, today=DAY)
    assert (marked.step.sheet, marked.step.by, marked.step.bad) == ("WIDE", "Ann", {"PLATE": 1})
    assert marked.step.note.startswith("thick dross")


def test_every_option_of_the_command_has_a_column_and_a_mark() -> None:
    """The columns of Record are the options of `cut`; the ticket's plan is part of its code.

    A file from the table is named in Ticket; what it shall not say is left out of it there.
    """
    options = set(signature(cut).parameters) - {"from_file", "leave_out"}
    fields = {"layouts": "layout", "repeats": "times", "plan_mark": "layout"}
    asked = {fields.get(name, name) for name in options - {"book"}}
    assert asked == SAID_BY.keys()
    assert [said[Way.ROW.value] for said in SAID_BY.values()] == [c.heading for c in RECORD.columns]


def shown_plan(book: Path) -> str:
    """The mark of the plan that the book shows."""
    return read_tables(book).plan


def with_rows(book: Path, rows: list[dict[str, object]]) -> Path:
    """The book with rows on its page Record."""
    plain = openpyxl.load_workbook(book)
    fill(plain, "Record", rows)
    plain.save(book)
    return book


def messages(book: Path) -> dict[str, str]:
    """What the page Problems says, by cell."""
    rows = list(openpyxl.load_workbook(book)["Problems"].iter_rows(values_only=True))
    return {str(row[0]): str(row[1]) for row in rows if str(row[0]).startswith("Record")}


def test_rows_are_recorded_together_or_not_at_all(made: tuple[Path, str], tmp_path: Path) -> None:
    source, earlier = made
    ticket = f"{shown_plan(source)}-L2"
    wrong: list[dict[str, object]] = [
        {"Ticket": ticket, "Sheets": 1},
        {"Ticket": "L99", "Sheets": 1},
        {"Ticket": f"{earlier}-L1", "Sheets": 40},
        {"Ticket": f"{earlier}-L1", "Sheets": 1, "Cut from": "R-900"},
        {"Cut by": "Ann"},
    ]
    book = with_rows(copied(source, tmp_path / "shop"), wrong)
    live = copied(book, tmp_path / "live")
    with pytest.raises(Refused, match="3 rows of the page Record cannot be recorded"):
        list(record_marked(book, today=DAY))
    host = ExcelBook(opened(live))
    assert not run_live(host, "cut", lambda: False)
    host._book.save()
    for one in (book, live):
        found = messages(one)
        assert sorted(found) == ["Record!A6", "Record!B7", "Record!C8"]
        assert "has no layout L99" in found["Record!A6"]
        remedies = " ".join(str(r[2]) for r in openpyxl.load_workbook(one)["Problems"].values)
        assert "--" not in remedies
        assert "the column Beyond plan" in remedies
    assert cell(book, "Stock", "MS10", "On hand") == 3
    plain = openpyxl.load_workbook(book)
    fill(plain, "Record", [{"Ticket": ticket, "Sheets": 1}, {"Ticket": f"{earlier}-L1", "Sheets": 1},
                           *[{"Ticket": "", "Sheets": "", "Cut from": ""}] * 2])  # fmt: skip
    plain.save(book)
    assert [one.step.together for one in record_marked(book, today=DAY)] == [1, 1]


def test_rows_that_cannot_be_read_or_wait_are_told(made: tuple[Path, str], tmp_path: Path) -> None:
    book = with_rows(copied(made[0], tmp_path / "shop"), [
        {"Ticket": "L2", "Sheets": "two", "Bad pieces": "PLATE", "Cut on": "noon", "Beyond plan": "maybe"},
        {"Sheets": 1, "What is left": "scrap it"},
    ])  # fmt: skip
    found = [p for p in check_book(book).problems if p.page == "Record"]
    assert {p.cell for p in found} == {"B5", "E5", "G5", "J5", "F6", "A6"}
    with pytest.raises(Refused, match="6 cells of the page Record cannot be read"):
        list(record_marked(book, today=DAY))
    good = with_rows(copied(made[0], tmp_path / "good"), [{"Ticket": "L2"}])
    [waiting] = [p for p in check_book(good).problems if p.page == "Record"]
    assert waiting.weight is Weight.STOPS
    assert "1 cut on the page Record is not recorded yet" in waiting.what


def test_a_row_whose_ticket_cannot_be_cleared_is_not_recorded(made: tuple[Path, str], tmp_path: Path) -> None:
    """Else it would be recorded again by the next run."""
    book = with_rows(copied(made[0], tmp_path / "shop"), [{"Ticket": '="L"&2'}])
    with pytest.raises(Refused):
        list(record_marked(book, today=DAY))
    assert read_steps(rack_of(book)) == {}


def bare(step: Step) -> Step:
    """The step without the cells that it wrote, since a row's are cleared besides."""
    return replace(step, changes=())
