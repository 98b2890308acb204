"""Picks and locks: what the planner marked stays, and nothing else changes."""

from __future__ import annotations

import shutil
from pathlib import Path

import openpyxl
import pytest

import sheetplan.planning
from sheetplan.app.check import check_book
from sheetplan.app.plan import PlanOutcome
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.model import Layout, Plan, Weight
from tests.app.choice_book import choice_book, planned, run, said
from tests.app.cut_book import DAY, cell, copied, record_cut, state, write, write_all

Shape = tuple[object, ...]


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, PlanOutcome]:
    """The book after its first plan; tests work on copies."""
    path = choice_book(tmp_path_factory.mktemp("choice"))
    return path, run(path)


@pytest.fixture
def book(first: tuple[Path, PlanOutcome], tmp_path: Path) -> Path:
    return copied(first[0], tmp_path / "copy")


@pytest.fixture
def no_search(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> Plan:
        raise AssertionError("a search was made")

    monkeypatch.setattr(sheetplan.planning, "plan_job", refuse)


def shapes(plan: Plan, gauge: str) -> list[Shape]:
    """The layouts of a gauge without their tags."""
    return [
        (layout.sheet, layout.placements, layout.repeats)
        for one in plan.groups if gauge in one.group.label for layout in one.layouts
    ]  # fmt: skip


def sheets(plan: Plan, gauge: str) -> dict[str, int]:
    return {c.sheet.name: c.used for one in plan.groups if gauge in one.group.label for c in one.sheets}


def repeated(plan: Plan) -> Layout:
    """A layout of the thick gauge."""
    return next(one for one in plan.groups if "1/4" in one.group.label).layouts[0]


def choice(plan_outcome: PlanOutcome, name: str) -> str:
    assert plan_outcome.record is not None
    return next(c["choice"] for g in plan_outcome.record["groups"] for c in g["choices"] if c["name"] == name)


def test_the_page_shows_what_can_be_picked(first: tuple[Path, PlanOutcome]) -> None:
    path, outcome = first
    tag = choice(outcome, "least to pay")
    assert sheets(planned(outcome), "10 ga") == {"BUY": 2}
    assert cell(path, "Choices", tag, "To pay") == 0.0
    assert cell(path, "Choices", tag, "Plan") == outcome.mark
    assert "least to pay" in str(cell(path, "Choices", tag, "Why choose it"))
    assert cell(path, "Choices", "C1", "In use") == "yes"


@pytest.mark.usefixtures("no_search")
def test_a_marked_choice_is_used_without_a_search_and_nothing_else_changes(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    before = planned(first[1])
    tag = choice(first[1], "least to pay")
    write(book, "Choices", tag, "Pick", "x")
    outcome = run(book)
    after = planned(outcome)
    assert sheets(after, "10 ga") == {"OWN": 2}
    assert shapes(after, "1/4") == shapes(before, "1/4")
    assert after.problems == before.problems
    assert outcome.mark != first[1].mark
    assert outcome.drawings is not None
    assert len(list(outcome.drawings.glob("*.dxf"))) == sum(len(one.layouts) for one in after.groups)
    # The mark stays, so that planning once more is the same plan, to the byte of its files.
    assert cell(book, "Choices", tag, "Pick") == "x"
    assert cell(book, "Choices", "C1", "Pick") is None
    files = state(outcome.drawings)
    assert run(book).mark == outcome.mark
    assert state(outcome.drawings) == files


@pytest.mark.usefixtures("no_search")
def test_the_command_line_goes_before_the_book_and_leads_back(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    write(book, "Choices", choice(first[1], "least to pay"), "Pick", "yes")
    run(book)
    back = run(book, picks=("c1",))
    assert [shapes(planned(back), gauge) for gauge in ("10 ga", "1/4")] == [
        shapes(planned(first[1]), gauge) for gauge in ("10 ga", "1/4")
    ]
    tags = [{la.tag for one in planned(run).groups for la in one.layouts} for run in (first[1], back)]
    assert tags[0] != tags[1]  # what comes back gets numbers of its own


def test_a_pick_is_dropped_and_said_when_the_orders_have_changed(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    write_all(
        book,
        ("Choices", choice(first[1], "least to pay"), "Pick", "x"),
        ("Orders", "H-1", "Quantity", 4),
    )  # fmt: skip
    outcome = run(book)
    assert f"Orders has changed since plan {first[1].mark}" in said(outcome)
    assert sheets(planned(outcome), "10 ga") == {"BUY": 1}
    assert not any(one.picked for one in planned(outcome).groups)


@pytest.mark.usefixtures("no_search")
def test_a_lock_alone_changes_nothing(book: Path, first: tuple[Path, PlanOutcome]) -> None:
    tag = repeated(planned(first[1])).tag
    write(book, "Layouts", tag, "Lock", "x")
    outcome = run(book)
    assert outcome.mark == first[1].mark
    assert cell(book, "Layouts", tag, "Lock") == "x"
    assert {x.tag for one in planned(outcome).groups for x in one.layouts if x.locked} == {tag}


def test_the_rest_is_planned_round_a_lock_when_orders_change(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    kept = repeated(planned(first[1]))
    write(book, "Orders", "H-2", "Quantity", 25)
    outcome = run(book, locks=(kept.tag,))
    again = repeated(planned(outcome))
    assert (again.placements, again.repeats, again.locked) == (kept.placements, kept.repeats, True)
    assert cell(book, "Layouts", again.tag, "Lock") == "x"
    assert not any(one.short for one in planned(outcome).groups)
    same = run(book)
    assert same.mark == outcome.mark


def test_of_a_locked_layout_what_is_cut_is_done_and_the_rest_stays(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    kept = repeated(planned(first[1]))
    assert kept.repeats == 3
    write(book, "Layouts", kept.tag, "Lock", "x")
    record_cut(book, CutAsked(kept.tag, 1), today=DAY)
    outcome = run(book)
    (left,) = next(one for one in planned(outcome).groups if "1/4" in one.group.label).layouts
    assert (left.placements, left.repeats, left.locked) == (kept.placements, 2, True)
    assert cell(book, "Layouts", left.tag, "Lock") == "x"


def test_a_locked_layout_that_is_cut_in_full_stops_nothing(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    """All of a gauge is cut, so the next plan no longer has it."""
    tags = [one.tag for gp in planned(first[1]).groups if "10 ga" in gp.group.label for one in gp.layouts]
    write(book, "Layouts", tags[0], "Lock", "x")
    for tag in tags:
        record_cut(book, CutAsked(tag), today=DAY)
    assert not check_book(book).stops
    outcome = run(book)
    assert not any("10 ga" in one.group.label for one in planned(outcome).groups)


def test_check_finds_a_lock_that_would_stop_the_plan(book: Path, first: tuple[Path, PlanOutcome]) -> None:
    tag = repeated(planned(first[1])).tag
    write_all(
        book,
        ("Layouts", tag, "Lock", "x"),
        ("Orders", "H-2", "Quantity", 1),
    )  # fmt: skip
    outcome = check_book(book)
    assert outcome.stops
    assert any("than the orders now ask for" in problem.what for problem in outcome.problems)


def test_whatever_stops_a_plan_stops_the_check(book: Path, first: tuple[Path, PlanOutcome]) -> None:
    tag = repeated(planned(first[1])).tag
    for page, key, heading, wrong, right in (
        ("Layouts", tag, "Cut now", 1, None),
        ("Layouts", tag, "Lock", "perhaps", None),
        ("Settings", "Output folder", "Value", "../elsewhere", "layouts"),
        ("Orders", "H-1", "Item", "nothing of ours", "PLATE"),
    ):
        write(book, page, key, heading, wrong)
        checked, outcome = check_book(book, DAY), run(book)
        assert outcome.plan is None, heading
        stops = [{p.what for p in one.problems if p.weight is Weight.STOPS} for one in (checked, outcome)]
        assert stops[0] == stops[1] != set()
        write(book, page, key, heading, right)


def test_the_rest_is_planned_round_a_lock_with_another_seed(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    kept = repeated(planned(first[1]))
    outcome = run(book, seed=7, locks=(kept.tag,))
    assert shapes(planned(outcome), "1/4")[0] == (kept.sheet, kept.placements, kept.repeats)


def test_a_lock_that_makes_too_much_stops_the_plan(book: Path, first: tuple[Path, PlanOutcome]) -> None:
    tag = repeated(planned(first[1])).tag
    write_all(
        book,
        ("Layouts", tag, "Lock", "x"),
        ("Orders", "H-2", "Quantity", 1),
    )  # fmt: skip
    outcome = run(book)
    assert outcome.plan is None
    assert "than the orders now ask for" in said(outcome)
    assert openpyxl.load_workbook(book)["Layouts"]["A1"].value == "Layouts to cut"
    assert cell(book, "Layouts", tag, "Lock") == "x"


def test_a_lock_on_a_part_that_has_grown_stops_the_plan(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    write(book, "Parts", "BASE", "Width", 13)
    outcome = run(book, locks=tuple(
        layout.tag for one in planned(first[1]).groups if "1/4" in one.group.label for layout in one.layouts
        if "BASE" in {p.part for p in layout.placements}
    ))  # fmt: skip
    assert outcome.plan is None
    assert "is locked and no longer good" in said(outcome)


def test_marks_that_cannot_be_kept_are_said_with_their_cell(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    assert "The plan has no choice C77" in said(run(book, picks=("C77",)))
    assert "The plan has no layout L99 to lock: it has L1 to L" in said(run(book, locks=("L99",)))
    tag = choice(first[1], "least to pay")
    for one in ("C1", tag):
        write(book, "Choices", one, "Pick", "x")
    twice = run(book)
    assert twice.plan is None
    assert "are both picked for mild steel 10 ga" in said(twice)
    assert any(p.page == "Choices" and p.cell for p in twice.problems)


def test_a_lock_of_no_layout_says_which_there_are_when_orders_have_changed_too(book: Path) -> None:
    write(book, "Orders", "H-2", "Quantity", 25)
    assert "The plan has no layout L99 to lock: it has L1 to L" in said(run(book, locks=("L99",)))


def test_a_pick_against_a_lock_of_the_same_gauge_stops_the_plan(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    thin = next(one for one in planned(first[1]).groups if "10 ga" in one.group.label)
    picks = (choice(first[1], "least to pay"),)
    outcome = run(book, picks=picks, locks=(thin.layouts[0].tag,))
    assert outcome.plan is None
    assert "Clear the lock or the pick." in said(outcome)


def test_a_mark_of_a_plan_whose_folder_is_gone_stops_the_plan(
    book: Path, first: tuple[Path, PlanOutcome]
) -> None:
    shutil.rmtree(book.parent / "layouts")
    outcome = run(book, picks=(choice(first[1], "least to pay"),))
    assert outcome.plan is None
    assert "Put the plan's folder back" in said(outcome)
