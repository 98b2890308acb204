"""Orders that are due already are remarked on; dates that are none are as well, and stop nothing."""

import datetime
from dataclasses import replace

import pytest

from sheetplan.app.check import MOST_ROWS, check_tables, due_notes, with_due
from sheetplan.model import Order, OrderProgress, Problem, Weight
from sheetplan.workbook.reading.job import read_job
from tests.money.bookmaking import plan_of
from tests.nasty.books.plain import address, plain_rows, tables_of

TODAY = datetime.date(2026, 11, 25)


def notes(*orders: Order) -> tuple[Problem, ...]:
    return due_notes(plan_of([], orders=orders).job, TODAY)


def test_only_what_must_be_made_and_was_due_before_today_is_remarked_on() -> None:
    found = notes(
        Order("H-1", "bar", 1, due="2026-11-24", line=5),
        Order("H-2", "bar", 1, due="2026-11-25", line=6),
        Order("H-3", "bar", 1, due="", line=7),
        Order("H-4", "bar", 1, must=False, due="2026-10-01", line=8),
        Order("H-5", "disc", 1, due="2026-11-02", line=9),
    )
    assert [(note.page, note.row, note.weight) for note in found] == [
        ("Orders", 9, Weight.NOTE), ("Orders", 5, Weight.NOTE),
    ]  # fmt: skip
    assert found[0].what == "H-5, disc: was due 2026-11-02."


def test_a_kit_that_is_cut_in_part_is_one_remark() -> None:
    parts = [Order("H-1", item, 1, due="2026-11-02", line=5) for item in ("bar", "disc")]
    job = plan_of([], orders=parts).job
    kit = OrderProgress(Order("H-1", "stand", 2, due="2026-11-02", line=5))
    (note,) = due_notes(replace(job, progress=(kit,)), TODAY)
    assert (note.row, note.what) == (5, "H-1, stand: was due 2026-11-02.")


def test_a_month_gone_by_is_one_remark() -> None:
    orders = [Order(f"H-{n}", "bar", 1, due=f"2026-10-{n:02d}") for n in range(1, MOST_ROWS + 2)]
    (note,) = notes(*reversed(orders))
    assert "9 orders were due before 2026-11-25" in note.what
    assert "H-1 on 2026-10-01" in note.what


def test_check_remarks_on_overdue_orders_only_when_it_is_told_the_day() -> None:
    rows = plain_rows()
    rows["Orders"][0]["Due"] = "2026-11-24"
    checked = check_tables(tables_of(rows))
    assert with_due(checked, None) == checked
    assert with_due(checked, datetime.date(2026, 11, 24)) == checked
    (note,) = with_due(checked, TODAY).problems[len(checked.problems) :]
    assert "was due 2026-11-24" in note.what
    assert not with_due(checked, TODAY).stops
    (placed,) = with_due(checked, TODAY, tables_of(rows)).problems[len(checked.problems) :]
    assert placed.where == f"Orders!{address('Orders', 'Due', 0)}"


@pytest.mark.parametrize("said", ["soon", "12/04/2026", "2026-13-01", 17])
def test_a_date_that_is_none_is_remarked_on_and_the_order_is_planned(said: object) -> None:
    rows = plain_rows()
    rows["Orders"][0]["Due"] = said
    job, problems = read_job(tables_of(rows))
    assert job is not None
    assert job.orders[0].due == ""
    (note,) = [problem for problem in problems if "Due" in problem.what]
    assert (note.page, note.weight) == ("Orders", Weight.NOTE)
    assert "planned without a due date" in note.what
    assert "year-month-day: 2026-12-04" in note.remedy
    assert note.cell == address("Orders", "Due", 0)
