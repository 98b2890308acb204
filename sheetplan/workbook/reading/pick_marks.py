"""What the planner marked on the tool's own pages: choices to take, layouts to keep.

A mark is any text; ``no``, ``0`` and ``-`` are none.

Marks are read by heading from the tool's own pages, which also say the plan that they are of.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from sheetplan.model.problem import Problem, Weight
from sheetplan.workbook.columns import CHOICE_MARKS, LAYOUT_MARKS
from sheetplan.workbook.reading.cells import CellFault, count_of, text_of
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.rows import mark_problems
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, CellValue, RawRow

ALL = "all"
"""What locks every layout, told on the command line."""

NO_MARK = frozenset(("", "no", "0", "-", "false"))
"""What may stand in a column of marks without being one."""


class Reach(StrEnum):
    """What a mark in Lock keeps; any other text keeps its layout."""

    LAYOUT = "x"
    GAUGE = "gauge"
    PLAN = "plan"


@dataclass(frozen=True, slots=True)
class Mark:
    """A choice or a layout by its tag, and where the mark stands (None: on the command line).

    ``cut`` is how often a layout is recorded as cut. ``reach`` says whether the mark is for the layout
    alone, for its gauge or for the whole plan.
    """

    tag: str
    row: int | None = None
    cell: str | None = None
    cut: int = 0
    reach: Reach = Reach.LAYOUT


@dataclass(frozen=True, slots=True)
class PlannerMarks:
    """All marks, and the mark of the plan that the pages show (empty where they show none)."""

    plan: str = ""
    picks: tuple[Mark, ...] = ()
    locks: tuple[Mark, ...] = ()
    cut: Mapping[str, int] = field(default_factory=dict)
    """How often each layout is recorded as cut, by tag."""

    def __bool__(self) -> bool:
        return bool(self.picks or self.locks)

    def and_told(self, picks: tuple[str, ...], locks: tuple[str, ...]) -> PlannerMarks:
        """These marks and the tags that the command line names."""
        more_picks = tuple(Mark(tag.upper()) for tag in picks)
        more_locks = tuple(
            Mark("", reach=Reach.PLAN) if normal(tag) == ALL else Mark(tag.upper()) for tag in locks
        )
        return replace(
            self, picks=_each_once(more_picks, self.picks), locks=_each_once(self.locks, more_locks)
        )


def _each_once(first: tuple[Mark, ...], then: tuple[Mark, ...]) -> tuple[Mark, ...]:
    known = {mark.tag for mark in first}
    return (*first, *(mark for mark in then if mark.tag not in known))


def planner_marks(tables: BookTables) -> tuple[PlannerMarks, tuple[Problem, ...]]:
    """The marks of a book, and what is wrong with them."""
    problems = mark_problems(tables)
    chosen = _rows(tables, CHOICE_MARKS)
    plans = [text_of_cell(row, heading) for row in chosen for heading in ("Plan", "Of plan")]
    plan = next((found for found in plans if found), "")
    picks = _marked(tables, CHOICE_MARKS, "Choice", "Pick", problems)
    locks = _marked(tables, LAYOUT_MARKS, "Layout", "Lock", problems)
    cut = {text_of_cell(row, "Layout").upper(): _cut_so_far(row) for row in _rows(tables, LAYOUT_MARKS)}
    return PlannerMarks(plan, tuple(picks), tuple(locks), cut), tuple(problems)


def _rows(tables: BookTables, page: InputPage) -> tuple[RawRow, ...]:
    table = tables.tables.get(page.name)
    return table.rows if table else ()


def _marked(
    tables: BookTables, page: InputPage, key: str, heading: str, problems: list[Problem]
) -> list[Mark]:
    found = []
    for row in _rows(tables, page):
        tag, address = text_of_cell(row, key), _address(row, heading)
        try:
            said = normal(text_of(_value(row, heading)))
        except CellFault as fault:
            what = f"{heading} {fault.what}."
            problems.append(Problem(page.name, row.number, address, what, fault.remedy, Weight.STOPS))
            continue
        if tag and said not in NO_MARK:
            reach = Reach(said) if said in (Reach.GAUGE, Reach.PLAN) else Reach.LAYOUT
            found.append(Mark(tag.upper(), row.number, address, _cut_so_far(row), reach))
    return found


def _value(row: RawRow, heading: str) -> CellValue:
    wanted = normal(heading)
    return next((cell.value for name, cell in row.cells.items() if normal(name) == wanted), None)


def _address(row: RawRow, heading: str) -> str | None:
    wanted = normal(heading)
    return next((cell.address for name, cell in row.cells.items() if normal(name) == wanted), None)


def text_of_cell(row: RawRow, heading: str) -> str:
    """The text under a heading; empty where it cannot be read."""
    try:
        return text_of(_value(row, heading))
    except CellFault:
        return ""


def _cut_so_far(row: RawRow) -> int:
    try:
        return count_of(_value(row, "Cut so far") or 0)
    except CellFault:
        return 0
