"""The same plan from a Dask cluster, whatever happens to its workers; skips where Dask is not installed."""

from __future__ import annotations

import importlib.util
import itertools
import os
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from sheetplan.app.making import workers
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.planning.progress import Progress, quiet
from tests.hard.book_fuzz import TODAY
from tests.hard.command import run
from tests.hard.looking import link_faults, snapshot
from tests.nasty.books.plain import plain_rows, write_book

needs_dask = pytest.mark.skipif(
    importlib.util.find_spec("distributed") is None,
    reason='Dask is not installed: pip install "sheetplan[dask]"',
)


@pytest.fixture
def local() -> Iterator[Any]:
    """A scheduler and two worker processes on this machine; a worker that dies is started again."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None
    ) as made:
        yield made


def kill_workers(address: str) -> None:
    """End every worker process with no chance to say anything."""
    from distributed import Client

    with Client(address, set_as_default=False) as client:
        for process in client.run(os.getpid).values():
            os.kill(process, signal.SIGKILL)


def plan(folder: Path, scheduler: str | None, report: Callable[[Progress], None] = quiet) -> PlanOutcome:
    folder.mkdir()
    book = write_book(folder / "b.xlsx", plain_rows())
    outcome = plan_book(
        book, PlanAsked(TODAY, seconds=30.0, seed=1),
        stop=lambda: False, report=report, workers=workers.Crew(1, scheduler),
    )  # fmt: skip
    assert outcome.plan is not None
    assert link_faults(book) == []
    return outcome


@pytest.fixture(scope="module")
def mark_here(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The mark of the plan that this process makes alone."""
    return plan(tmp_path_factory.mktemp("alone") / "here", None).mark


def at_the_submission(monkeypatch: pytest.MonkeyPatch, numbers: set[int], do: Callable[[], object]) -> None:
    """Have something done right after so many pieces of work were handed out."""
    submit, count = workers.ClusterExecutor.submit, itertools.count(1)

    def submitted(self: Any, *given: Any, **named: Any) -> Any:
        answer = submit(self, *given, **named)
        if next(count) in numbers:
            do()
        return answer

    monkeypatch.setattr(workers.ClusterExecutor, "submit", submitted)


@needs_dask
@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="kills processes")
def test_workers_killed_on_the_way_cost_time_and_nothing_else(
    local: Any, mark_here: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    killed: list[bool] = []

    def kill() -> None:
        kill_workers(local.scheduler_address)
        killed.append(True)

    at_the_submission(monkeypatch, {2, 4}, kill)
    heard: list[str] = []
    there = plan(
        tmp_path / "there", local.scheduler_address, lambda progress: heard.append(progress.sentence)
    )
    assert there.mark == mark_here
    assert killed == [True, True]
    assert not any("planning once more" in sentence for sentence in heard), "the cluster did the work"


@needs_dask
@pytest.mark.slow
def test_a_cluster_that_goes_away_is_done_without(
    local: Any, mark_here: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workers, "PATIENCE_SECONDS", 1.0)

    def go_away() -> None:
        local.scale(0)
        local.sync(local._correct_state)

    at_the_submission(monkeypatch, {2}, go_away)
    heard: list[str] = []
    there = plan(
        tmp_path / "there", local.scheduler_address, lambda progress: heard.append(progress.sentence)
    )
    assert any("is gone; planning once more" in sentence for sentence in heard), heard
    assert there.mark == mark_here


@needs_dask
def test_nobody_at_the_address_is_said_and_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_book(tmp_path / "b.xlsx", plain_rows())
    before = snapshot(tmp_path)
    monkeypatch.setattr(workers, "CONNECT_SECONDS", 1.0)
    for address in ("tcp://127.0.0.1:9", "nonsense"):
        with pytest.raises(workers.NoCluster, match="No Dask scheduler answers"), workers.cluster(address):
            pass
    assert snapshot(tmp_path) == before


def test_without_dask_the_option_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(workers.NoCluster, match=r"pip install"), workers.cluster("tcp://127.0.0.1:9"):
        pass


@needs_dask
@pytest.mark.slow
def test_the_command_says_it_in_a_sentence(tmp_path: Path) -> None:
    folder = tmp_path / "work"
    folder.mkdir()
    write_book(folder / "b.xlsx", plain_rows())
    before = snapshot(folder)
    ran = run("plan", "b.xlsx", "--seconds", "1", "--scheduler", "tcp://127.0.0.1:9", folder=folder)
    assert ran.code == 2
    assert "No Dask scheduler answers" in " ".join(ran.said.split())
    assert "Traceback" not in ran.said
    assert snapshot(folder) == before
