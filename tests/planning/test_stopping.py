"""A run over many gauges told to stop: at any moment it ends soon, with a complete plan that stands up."""

import datetime
import time
from dataclasses import dataclass

import pytest

from sheetplan.app.check import check_tables, with_due
from sheetplan.checking import check_plan
from sheetplan.model import Job, Plan
from sheetplan.planning import RunOptions, plan_job, quiet
from sheetplan.workbook.hosts.closed import ClosedBook
from tests.bench.load_book import load_rows
from tests.nasty.books.plain import write_book
from tests.ready import make_ready

MOMENTS = (0, 7, 40, 150)
"""How often the run asks before it hears yes: from before the first gauge into the choices."""

MOST_WORK = 2.0
"""Processor seconds from the stop on: a sixth of that is what a quiet machine takes."""


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """A month of 15 gauges."""
    make_ready()
    folder = tmp_path_factory.mktemp("stopping")
    book = write_book(folder / "month.xlsx", load_rows(1500, 150, 15, 40, 60, seed=1))
    tables = ClosedBook(book, quiet).read()
    found = with_due(check_tables(tables, book), datetime.date(2026, 11, 2), tables).job
    assert found is not None
    return found


@dataclass
class StopAfter:
    """A stop that says yes from the call of a number on, and remembers when that was."""

    calls: int
    worked: float = 0.0

    def __call__(self) -> bool:
        self.calls -= 1
        if self.calls == -1:
            self.worked = time.process_time()
        return self.calls < 0


def stopped(job: Job, calls: int) -> tuple[Plan, float]:
    """The plan of a run that is stopped at a call, and the processor seconds that it took from then on."""
    stop = StopAfter(calls)
    plan = plan_job(job, RunOptions(1.0, stop=stop, clock=lambda: 0.0))
    return plan, time.process_time() - stop.worked


@pytest.mark.slow
def test_a_stop_at_any_moment_gives_a_complete_plan_soon(job: Job) -> None:
    costs = []
    for calls in MOMENTS:
        plan, worked = stopped(job, calls)
        assert plan.stopped_early
        assert len(plan.groups) == 15
        assert not any(group.short for group in plan.groups)
        assert check_plan(plan) == ()
        assert worked < MOST_WORK, calls
        costs.append(sum(group.cost for group in plan.groups))
    assert costs == sorted(costs, reverse=True), "what was found before the stop is kept"
    assert costs[-1] < costs[0]
