"""Files that the page of a plan handed back: recorded together, or refused in a sentence line by line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from sheetplan.app.rack.cut import record_handed_back, record_marked
from sheetplan.app.rack.folder import rack_of, read_steps
from sheetplan.app.rack.handed_back import handed_back_of
from sheetplan.app.rack.opened import Refused
from sheetplan.app.rack.undo import undo_cut
from sheetplan.cli.commands import PROBLEMS, app
from tests.app.cut_book import DAY, cell, copied, fill, planned_book, state
from tests.hard.hand_back import sealed, values_of


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"))


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


def test_a_row_of_record_names_the_file(book: Path) -> None:
    import openpyxl

    (book.parent / "cut.json").write_bytes(file_of(book, line(book), line(book, id="a2", times=1)))
    opened = openpyxl.load_workbook(book)
    fill(opened, "Record", [{"Ticket": "cut.json"}])
    opened.save(book)
    with pytest.raises(Refused) as caught:
        list(record_marked(book, today=DAY))
    assert "cut.json, line 2" in caught.value.problems[0].what  # L1 is planned once
    (book.parent / "cut.json").write_bytes(file_of(book, line(book)))
    assert [done.step.handed for done in record_marked(book, today=DAY)] == ["a1"]


def test_beside_a_file_no_ticket_is_named(book: Path) -> None:
    path = book.parent / "cut.json"
    path.write_bytes(file_of(book, line(book)))
    run = CliRunner().invoke(app, ["cut", str(book), "L1", "--from", str(path)])
    assert run.exit_code == 2
    path.write_text(json.dumps({}), encoding="utf-8")
    assert CliRunner().invoke(app, ["cut", str(book), "--from", str(path)]).exit_code == PROBLEMS
