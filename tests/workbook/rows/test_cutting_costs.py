"""Speed of moves, sets of consumables and the lift limit: how the cells are read."""

from typing import Any

import pytest

from sheetplan.model import Job, Problem
from sheetplan.trade.units import KG_PER_POUND, MM_PER_INCH
from sheetplan.workbook.reading.job import read_job
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


def test_small_holes_lead_ins_and_height_are_in_the_books_units() -> None:
    job, problems = read({"Small hole below": 2, "Small hole feed": 60, "Lead-in": 0.25, "Height seconds": 2})
    assert problems == []
    assert job is not None
    rule = job.rules[0]
    assert (rule.hole_times, rule.sensing_seconds) == (2.0, 2.0)
    assert rule.hole_feed == pytest.approx(60 * MM_PER_INCH)
    assert rule.lead_in == pytest.approx(0.25 * MM_PER_INCH)


def test_a_set_by_minutes_is_no_share_of_a_pierce() -> None:
    job, problems = read({"Pierce cost": 0.02, "Set cost": 21, "Pierces a set": 700, "Minutes a set": 90})
    assert problems == []
    assert job is not None
    rule = job.rules[0]
    assert (rule.pierce_cost, rule.set_cost, rule.set_starts, rule.set_minutes) == (0.02, 21.0, 700, 90.0)


def test_the_machine_hour_of_settings_stands_in_where_a_row_states_none() -> None:
    job, _ = read({"Hour cost": None}, {"Machine hour cost": 77})
    assert job is not None
    assert job.rules[0].hour_cost == 77.0
    own, _ = read({"Hour cost": 88}, {"Machine hour cost": 77})
    assert own is not None
    assert own.rules[0].hour_cost == 88.0


def test_of_several_processes_the_one_in_use_is_planned() -> None:
    rows = plain_rows()
    first = {**rows["Cutting"][0], "Process": "45 A"}

    def feeds(*changed: dict[str, Any]) -> list[str]:
        job, _ = read_job(tables_of({**rows, "Cutting": [*changed, *rows["Cutting"][1:]]}))
        assert job is not None
        return [rule.process for rule in job.rules[:1]]

    other = {**first, "Process": "65 A", "Feed": 90}
    assert feeds(first, other) == ["45 A"]
    assert feeds(first, {**other, "In use": "yes"}) == ["65 A"]
    twice, problems = read_job(tables_of({**rows, "Cutting": [first, {**other, "Process": "45 A"}]}))
    assert twice is None
    assert any("has a rule on row" in problem.what for problem in problems)


def asking(process: str, second: str = "") -> tuple[Job | None, list[Problem]]:
    """A book whose metal can be cut by 45 A, in use, or 65 A, and whose orders ask for a process."""
    rows = plain_rows()
    first = rows["Cutting"][0] | {"Process": "45 A", "In use": "yes", "Feed": 100}
    rows["Cutting"][0] = first
    rows["Cutting"].append(first | {"Process": "65 A", "In use": "no", "Feed": 180})
    rows["Orders"][0] |= {"Process": process}
    if second:
        rows["Orders"].append(rows["Orders"][0] | {"Order": "another", "Process": second})
    job, problems = read_job(tables_of(rows))
    return job, [problem for problem in problems if problem.page == "Orders"]


def test_an_order_may_ask_for_a_process_by_name() -> None:
    job, problems = asking("")
    assert ([rule.process for rule in job.rules if rule.process] if job else [], problems) == (["45 A"], [])
    job, problems = asking("65 a")
    assert problems == []
    assert job is not None
    (rule,) = [rule for rule in job.rules if rule.process]
    assert (rule.process, rule.feed) == ("65 A", pytest.approx(180 * MM_PER_INCH))


def test_a_process_that_cutting_does_not_have_is_told_at_the_order() -> None:
    job, (problem,) = asking("85 A")
    assert job is None
    assert problem.cell == address("Orders", "Process", 0)
    assert "No row of Cutting is 85 A" in problem.what


def test_two_processes_for_one_gauge_are_told() -> None:
    job, (problem,) = asking("45 A", "65 A")
    assert job is None
    assert "one process in a plan" in problem.what
