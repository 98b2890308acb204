"""Files that the page of a plan handed back: recorded together, or refused in a sentence line by line."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from typer.testing import CliRunner

from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut import CutDone, record_handed_back, record_marked, record_marked_live
from sheetplan.app.rack.cut_asked import cuts_in_rows, handed_back_of, read_pasted
from sheetplan.app.rack.folder import rack_of, read_steps
from sheetplan.app.rack.undo import undo_cut
from sheetplan.cli.commands import PROBLEMS, app
from sheetplan.workbook.hosts.excel import ExcelBook
from sheetplan.workbook.reading.book import read_tables
from tests.app.cut_book import DAY, cell, copied, fill, planned_book, state
from tests.hard.hand_back import sealed, values_of
from tests.workbook.hosts.excel_engine import opened as opened_in


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"))


@pytest.fixture(scope="module")
def wide(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of which a layout is cut several times."""
    return planned_book(tmp_path_factory.mktemp("wide"), plates=75, on_hand=12)


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def line(book: Path, **more: Any) -> dict[str, Any]:
    return {
        "id": "a1", "ticket": f"{values_of(book)['plan']}-L1", "times": 1, "bad": [], "heat": "", "by": "Ann",
        "day": DAY.isoformat(), "note": "", **more,
    }  # fmt: skip


def file_of(book: Path, *lines: dict[str, Any], **more: Any) -> bytes:
    body = {
        "sheetplan": "hand back", "format": 1, "plan": values_of(book)["plan"], "book": book.name,
        "told": "2026-11-25T10:12:05", "lines": list(lines), **more,
    }  # fmt: skip
    return sealed(body)


def test_a_text_may_be_as_long_as_a_cell_that_a_planner_fills_and_no_longer() -> None:
    def handed(**more: Any) -> bytes:
        one = {"id": "a1", "ticket": "KRTM-L1", "times": 1, "bad": [], "heat": "", "by": "Ann",
               "day": DAY.isoformat(), "note": "", **more}  # fmt: skip
        return sealed({"sheetplan": "hand back", "format": 1, "plan": "KRTM", "book": "b.xlsx",
                       "told": "2026-11-25T10:12:05", "lines": [one]})  # fmt: skip

    (line,) = handed_back_of(handed(note="x" * 1000, bad=[["P" * 1000, 1]]), "c.json").lines
    assert (line.note, line.bad) == ("x" * 1000, {"P" * 1000: 1})
    with pytest.raises(Refused, match="note cannot be read"):
        handed_back_of(handed(note="x" * 1001), "c.json")
    with pytest.raises(Refused, match="bad pieces cannot be read"):
        handed_back_of(handed(bad=[["P" * 1001, 1]]), "c.json")


def refusal(book: Path, data: bytes) -> Refused:
    before = state(book.parent)
    with pytest.raises(Refused) as caught:
        record_handed_back(book, handed_back_of(data, "cut.json"), today=DAY)
    assert state(book.parent) == before
    return caught.value


def test_the_command_shows_each_line_and_records_them(book: Path) -> None:
    path = book.parent / "cut.json"
    path.write_bytes(file_of(book, line(book, bad=[["PLATE", 2]], heat="7741")))
    run = CliRunner().invoke(app, ["cut", str(book), "--from", str(path)])
    assert run.exit_code == 0, run.output
    assert "1 sheet, bad 2 x PLATE, heat 7741, by Ann, on 2026-11-25" in run.output
    [step] = read_steps(rack_of(book)).values()
    assert (step.bad, step.heat, step.handed) == ({"PLATE": 2}, "7741", "a1")
    assert cell(book, "Layouts", "L1", "Cut so far") == 1


def test_handed_back_twice_is_refused_until_it_is_taken_back(book: Path) -> None:
    data = file_of(book, line(book))
    record_handed_back(book, handed_back_of(data, "cut.json"), today=DAY)
    no = refusal(book, data)
    assert "recorded already: step 1" in no.problems[0].what
    undo_cut(book)
    assert record_handed_back(book, handed_back_of(data, "cut.json"), today=DAY)[0].step.number == 1


def test_every_line_that_does_not_agree_is_named_and_none_is_recorded(book: Path) -> None:
    mark = values_of(book)["plan"]
    data = file_of(
        book, line(book), line(book, id="a2", ticket=f"{mark}-L99"), line(book, id="a3", times=500),
        line(book, id="a4", bad=[["NONE", 1]]),
    )  # fmt: skip
    no = refusal(book, data)
    assert no.problems[0].page == f"cut.json, line 2 ({mark}-L99)"
    assert len(no.problems) == 3


def test_a_line_can_be_left_out(book: Path) -> None:
    data = file_of(book, line(book), line(book, id="a2", ticket="L99"))
    done = record_handed_back(book, handed_back_of(data, "cut.json"), today=DAY, leave_out=[2])
    assert len(done) == 1


def test_the_same_line_twice_in_one_file_is_refused(book: Path) -> None:
    assert "line 2" in refusal(book, file_of(book, line(book), line(book))).problems[0].page


def test_a_file_of_another_plan_is_refused_unless_that_is_said(book: Path) -> None:
    no = refusal(book, file_of(book, line(book), plan="ABCD"))
    assert no.what.startswith("cut.json is of plan ABCD, and the book shows ")
    assert "--plan ABCD" in no.remedy


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda data: data[:-40], "not whole"),
        (lambda data: b"", "not whole"),
        (lambda data: b"\xff" + data, "not whole"),
        (lambda data: b"[" * 100_000, "not whole"),
        (lambda data: data.replace(b'"times": 1', b'"times": 2'), "not as the page wrote it"),
        (lambda data: b'{"some": "file"}', "not handed back by the page"),
        (lambda data: data.replace(b'"format": 1', b'"format": 2'), "another version"),
    ],
)  # fmt: skip
def test_cut_short_or_changed_it_is_refused(book: Path, spoil: Any, said: str) -> None:
    data = file_of(book, line(book))
    with pytest.raises(Refused, match=said):
        handed_back_of(spoil(data), "cut.json")


@pytest.mark.parametrize(
    "wrong",
    [
        {"times": 0}, {"times": True}, {"times": 1.5}, {"times": "1"}, {"bad": [["PLATE", 0]]}, {"bad": {}},
        {"day": "soon"}, {"id": ""}, {"ticket": None}, {"by": 7}, {"note": "x" * 2000},
    ],
)  # fmt: skip
def test_lines_that_no_page_writes_are_refused(book: Path, wrong: dict[str, Any]) -> None:
    with pytest.raises(Refused, match=r"line 1"):
        handed_back_of(file_of(book, line(book, **wrong)), "cut.json")


def with_row(book: Path, **row: object) -> Path:
    """The book with a row on its page Record."""
    opened = openpyxl.load_workbook(book)
    fill(opened, "Record", [{heading.replace("_", " "): value for heading, value in row.items()}])
    opened.save(book)
    return book


def recorded(book: Path, live: bool) -> list[CutDone]:
    """What the page Record tells of, recorded in the closed book, or in one that a program has open."""
    return list(
        record_marked_live(ExcelBook(opened_in(book)), today=DAY) if live else record_marked(book, today=DAY)
    )


@pytest.mark.parametrize("live", [False, True], ids=["closed", "live"])
def test_a_row_of_record_names_the_file(wide: Path, tmp_path: Path, live: bool) -> None:
    book = with_row(copied(wide, tmp_path / "shop"), Ticket="cut.json", Cut_by="Ben")
    path = book.parent / "cut.json"
    path.write_bytes(file_of(book, line(book), line(book, id="a2", times=400)))
    with pytest.raises(Refused) as caught:
        recorded(book, live)
    assert "cut.json, line 2" in caught.value.problems[0].what
    path.write_bytes(file_of(book, line(book), line(book, id="a2", by="", bad=[["PLATE", 1]])))
    steps = [done.step for done in recorded(book, live)]
    assert [(step.handed, step.by, step.bad) for step in steps] == [
        ("a1", "Ann", {}),
        ("a2", "Ben", {"PLATE": 1}),
    ]
    assert cuts_in_rows(read_tables(book)) == ((), ())  # what is recorded is cleared
    assert cell(book, "Layouts", "L1", "Cut so far") == 2


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"Ticket": "none.json"}, "none.json cannot be read"),
        ({"Ticket": "../cut.json"}, "is not the name of a file beside the book"),
        ({"Ticket": "cut.json", "Sheets": 2}, "Sheets stands beside a file"),
        ({"Ticket": "cut.json", "Heat": "7741"}, "Heat stands beside a file"),
    ],
)
def test_a_row_that_names_a_file_wrongly_says_why_beside_it(
    book: Path, row: dict[str, object], said: str
) -> None:
    (book.parent / "cut.json").write_bytes(file_of(book, line(book)))
    with pytest.raises(Refused, match="1 row of the page Record") as caught:
        list(record_marked(with_row(book, **row), today=DAY))
    [problem] = caught.value.problems
    assert said in problem.what
    assert problem.row is not None
    assert read_steps(rack_of(book)) == {}


def test_pasted_text_is_recorded_as_the_file_is(book: Path) -> None:
    text = file_of(book, line(book)).decode()
    run = CliRunner().invoke(app, ["cut", str(book), "--from", "-"], input=f"\ufeff{text}")
    assert run.exit_code == 0, run.output
    assert "The pasted text: 1 line of plan" in run.output
    run = CliRunner().invoke(app, ["cut", str(book), "--from", "-"], input=text[:-20])
    assert run.exit_code == PROBLEMS
    assert "The pasted text is not whole" in run.output


def test_what_a_person_pastes_ends_where_it_is_whole(book: Path) -> None:
    text = file_of(book, line(book))
    source = io.BytesIO(text + b"never read\n")
    assert len(read_pasted(source, typed=True).lines) == 1
    with pytest.raises(Refused, match="not whole"):
        read_pasted(io.BytesIO(text + b"read as well\n"), typed=False)


def test_beside_a_file_no_ticket_is_named(book: Path) -> None:
    path = book.parent / "cut.json"
    path.write_bytes(file_of(book, line(book)))
    run = CliRunner().invoke(app, ["cut", str(book), "L1", "--from", str(path)])
    assert run.exit_code == 2
    path.write_text(json.dumps({}), encoding="utf-8")
    assert CliRunner().invoke(app, ["cut", str(book), "--from", str(path)]).exit_code == PROBLEMS
