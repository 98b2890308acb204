"""Marks of the planner on result pages: read by heading, wherever the table stands."""

from __future__ import annotations

from typing import Any

import pytest

from sheetplan.model import Weight
from sheetplan.workbook.columns import CHOICE_MARKS, LAYOUT_MARKS
from sheetplan.workbook.reading.grid import raw_table
from sheetplan.workbook.reading.pick_marks import Mark, planner_marks
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, ErrorValue, RawTable


def table(page: InputPage, headings: list[str], *rows: list[Any]) -> RawTable:
    return raw_table(page, page.name, 1, 4, headings, [(5 + n, row) for n, row in enumerate(rows)])


def book(pick: Any = None, lock: Any = None, cut: Any = 0, plan: str = "Plan") -> BookTables:
    return BookTables({
        "Choices": table(
            CHOICE_MARKS, ["Gauge", "Choice", "pick ", plan],
            ["10 ga", "C1", None, "KRTM"], ["10 ga", "C2", pick, "KRTM"],
        ),
        "Layouts": table(LAYOUT_MARKS, ["Lock", "Layout", "Cut so far"], [lock, "L3", cut]),
    })  # fmt: skip


@pytest.mark.parametrize("said", ["x", "X", "yes", "this one", 1, True, "\u2713"])
def test_any_text_is_a_mark(said: object) -> None:
    marks, problems = planner_marks(book(pick=said, lock=said, cut=2))
    assert problems == ()
    assert marks.plan == "KRTM"
    assert marks.picks == (Mark("C2", 6, "C6"),)
    assert marks.locks == (Mark("L3", 5, "A5", 2),)


def test_an_older_book_names_the_plan_of_its_choices_in_another_column() -> None:
    assert planner_marks(book(plan="Of plan"))[0].plan == "KRTM"


@pytest.mark.parametrize("said", [None, "", " ", "no", "No", 0, "-", False])
def test_what_is_no_mark(said: object) -> None:
    marks, problems = planner_marks(book(pick=said, lock=said))
    assert (marks.picks, marks.locks, problems) == ((), (), ())
    assert not marks


def test_a_book_without_the_pages_has_no_marks() -> None:
    assert not planner_marks(BookTables({}))[0]


def test_a_cell_that_cannot_be_read_stops_the_plan() -> None:
    _, (problem,) = planner_marks(book(pick=ErrorValue("#N/A")))
    assert (problem.page, problem.cell, problem.weight) == ("Choices", "C6", Weight.STOPS)


def test_tags_told_stand_beside_those_marked() -> None:
    marks = planner_marks(book(pick="x", lock="x"))[0].and_told(("c1", "c2"), ("l3", "l4"))
    assert [mark.tag for mark in marks.picks] == ["C1", "C2"]
    assert [(mark.tag, mark.row) for mark in marks.locks] == [("L3", 5), ("L4", None)]


@pytest.mark.parametrize("heading", ["Locked", "Lock it", "LOCK (x)", "Lok"])
def test_a_mark_under_a_heading_that_was_changed_is_asked_about(heading: str) -> None:
    headings = ["Layout", "Cut so far", "Cut now", heading, "Sheet", "Parts on it", "One sheet", "Drawing"]
    row = ["L3", 0, None, "x", "MS10", "12 x CB", "3 min", "L3.dxf"]
    tables = BookTables({"Layouts": table(LAYOUT_MARKS, headings, row)})
    _, (problem,) = planner_marks(tables)
    assert problem.weight is Weight.STOPS
    assert f"the column `{heading}` of the page Layouts what the tool calls Lock" in problem.what
    row[3] = None  # nothing is marked there, so nothing is missed
    assert planner_marks(BookTables({"Layouts": table(LAYOUT_MARKS, headings, row)}))[1] == ()


def test_a_mark_column_that_stands_twice_stops_the_plan() -> None:
    twice = table(CHOICE_MARKS, ["Choice", "Pick", "Plan", "Pick"], ["C2", "x", "", ""])
    _, (problem,) = planner_marks(BookTables({"Choices": twice}))
    assert "Pick stands over several columns of the page Choices" in problem.what
