"""Marks on the tool's own pages are read back in every host."""

from __future__ import annotations

from pathlib import Path

import pytest

from sheetplan.app.new import template_path
from sheetplan.pages.book.choices import COLUMNS as CHOICES
from sheetplan.pages.book.layouts import COLUMNS as LAYOUTS
from sheetplan.pages.values import ResultPage, ResultTable
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.closed import ClosedBook
from sheetplan.workbook.port import Host
from sheetplan.workbook.reading.pick_marks import planner_marks
from tests.workbook.hosts.test_contract import HOSTS, copied


def drawn(table: str, columns: tuple[object, ...], *rows: dict[str, object]) -> ResultTable:
    return ResultTable(
        table, columns, tuple(tuple(row.get(column.heading) for column in columns) for row in rows)
    )


PAGES = (
    ResultPage("Layouts", "Layouts to cut", ("One line.",), (drawn(
        "LayoutList", LAYOUTS,
        {"Layout": "L1", "Times to cut": 2, "Cut so far": 1, "Lock": "x"},
        {"Layout": "L2", "Times to cut": 1},
    ),)),
    ResultPage("Choices", "Plans to pick from", ("One line.",), (drawn(
        "ChoiceList", CHOICES,
        {"Choice": "C1", "In use": "yes", "Plan": "KRTM"},
        {"Choice": "C2", "Pick": "x", "Plan": "KRTM"},
    ),), notes=("A note under the table.",)),
)  # fmt: skip


def judged(host: Host) -> None:
    marks, problems = planner_marks(host.read())
    assert problems == ()
    assert marks.plan == "KRTM"
    assert [(mark.tag, mark.cut) for mark in marks.locks] == [("L1", 1)]
    assert [mark.tag for mark in marks.picks] == ["C2"]


@pytest.mark.parametrize("name", HOSTS)
def test_marks_in_a_saved_book_are_read(tmp_path: Path, name: str) -> None:
    path = copied(tmp_path, name, template_path(demo=True, units=Units.INCH))
    closed = ClosedBook(path)
    assert not planner_marks(closed.read())[0]
    closed.write(PAGES, Units.INCH)
    judged(HOSTS[name](path)[0])


def test_marks_on_pages_that_an_open_book_was_just_given_are_read(tmp_path: Path) -> None:
    host, _ = HOSTS["excel"](copied(tmp_path, "excel", template_path(demo=True, units=Units.INCH)))
    host.read()
    host.write(PAGES, Units.INCH)
    judged(host)
