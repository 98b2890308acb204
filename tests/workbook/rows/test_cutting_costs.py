"""Speed of moves, sets of consumables and the lift limit: how the cells are read."""

from typing import Any

import pytest

from sheetplan.model import Job, Problem
from sheetplan.trade.units import KG_PER_POUND, MM_PER_INCH
from sheetplan.workbook.reading import read_job
from tests.nasty.books.plain import address, plain_rows, tables_of


def read(
    cutting: dict[str, Any] | None = None, settings: dict[str, Any] | None = None
) -> tuple[Job | None, list[Problem]]:
    rows = plain_rows()
    rows["Cutting"][0] |= cutting or {}
    rows["Settings"] = [{"Setting": "Units", "Value": "in"}]
    rows["Settings"] += [{"Setting": name, "Value": value} for name, value in (settings or {}).items()]
    job, problems = read_job(tables_of(rows))
    # A faulty rule also leaves its gauge without one; that is said of the page, at no cell.
    return job, [problem for problem in problems if problem.cell and problem.page in ("Cutting", "Settings")]


def test_the_speed_of_moves_is_in_the_books_unit() -> None:
    job, problems = read({"Travel": 600})
    assert problems == []
    assert job is not None
    assert job.rules[0].travel == pytest.approx(600 * MM_PER_INCH)
    still, _ = read()
    assert still is not None
    assert still.rules[0].travel is None


def test_a_set_is_shared_among_its_pierces_and_added_to_the_pierce_cost() -> None:
    job, problems = read({"Pierce cost": 0.02, "Set cost": "21.00", "Pierces a set": 700})
    assert problems == []
    assert job is not None
    assert job.rules[0].pierce_cost == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("cells", "empty"), [({"Set cost": 21}, "Pierces a set"), ({"Pierces a set": 700}, "Set cost")]
)
def test_half_a_set_is_a_problem_at_the_empty_cell(cells: dict[str, Any], empty: str) -> None:
    job, (problem,) = read(cells)
    assert job is None
    assert problem.cell == address("Cutting", empty, 0)
    assert "empty while the cell beside it is filled" in problem.what


def test_a_set_for_no_pierce_at_all_is_one_problem() -> None:
    _, (problem,) = read({"Set cost": 21, "Pierces a set": 0})
    assert problem.cell == address("Cutting", "Pierces a set", 0)


@pytest.mark.parametrize(("value", "kg"), [(1000, 1000 * KG_PER_POUND), ("1,250.5", 1250.5 * KG_PER_POUND)])
def test_the_lift_limit(value: Any, kg: float) -> None:
    job, problems = read(settings={"Lift limit": value})
    assert problems == []
    assert job is not None
    assert job.settings.lift_limit == pytest.approx(kg)


def test_no_lift_limit_is_made_up() -> None:
    job, _ = read()
    assert job is not None
    assert job.settings.lift_limit is None
    empty, problems = read(settings={"Lift limit": None})
    assert problems == []
    assert empty is not None
    assert empty.settings.lift_limit is None


@pytest.mark.parametrize("value", [0, -5, "heavy"])
def test_a_lift_limit_that_is_none(value: Any) -> None:
    _, (problem,) = read(settings={"Lift limit": value})
    assert problem.cell == address("Settings", "Value", 1)
