"""The processes that plan gauges side by side, and then make the files."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from multiprocessing import active_children, get_context
from typing import Generic, TypeVar

Given = TypeVar("Given")
Result = TypeVar("Result")

MOST_WORKERS = 8
"""More processes than this cost more memory than the gauges of one month can repay."""

LONG_SECONDS = 60.0
"""A run that may take longer asks one kernel for so much that it could not hear a stop within 3 seconds."""

LETTING_GO_SECONDS = 2.0
"""Processes told to end are gone in some hundredths of a second; nobody waits for one that is not."""


class Crew:
    """Who works on a plan, from the search to its files: processes here, a cluster, or nobody else.

    Parameters
    ----------
    workers : int or None
        Processes; None means as many as the machine has.
    scheduler : str or None
        Address of a Dask scheduler that searches instead; files are always made on this machine.
    seconds : float
        Time for the search: a long one has a helper even where it is the only one, as a helper can be let go.
    """

    def __init__(self, workers: int | None, scheduler: str | None = None, seconds: float = 0.0) -> None:
        self._workers, self._scheduler, self._seconds = workers, scheduler, seconds
        self._held = ExitStack()
        self._helpers: Executor | None = None
        self._died = False

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, *_: object) -> None:
        self._held.close()

    def searching(self) -> Executor | None:
        """Who searches; None where this process does it alone.

        Raises ``NoCluster`` where the scheduler cannot be used.
        """
        if self._scheduler is not None:
            from sheetplan.app.cluster import cluster

            return self._held.enter_context(cluster(self._scheduler))
        if self._helpers is None:
            self._helpers = self._held.enter_context(pool(self._workers, self._seconds <= LONG_SECONDS))
        return self._helpers

    def lost(self) -> str:
        """Do without helpers from now on, since some died; returns a sentence's beginning that says so."""
        self._died = self._scheduler is None
        return f"The cluster at {self._scheduler} is gone" if self._scheduler else "A helper process died"

    def writing(self, layouts: int) -> Executor | None:
        """Who makes the files of so many layouts: those who searched, or others where that is worth it."""
        if self._died:
            return None
        if isinstance(self._helpers, Helpers) and not self._helpers.gone:
            return self._helpers
        if layouts < WORTH_STARTING:
            return None
        self._helpers = self._held.enter_context(pool(self._workers))
        return self._helpers


WORTH_STARTING = 24
"""Layouts, some three seconds of work, for which processes are started anew: that takes them a second."""


class Handed(Generic[Given, Result]):
    """Calls handed to other processes, or left for later where there are none; the answers are the same.

    Parameters
    ----------
    executor : Executor or None
        Who does the work.
    function : callable
        What is asked of each; a function of a module, as it goes by name.
    given : sequence
        What it is asked for, one after another.
    """

    def __init__(
        self, executor: Executor | None, function: Callable[[Given], Result], given: Sequence[Given]
    ) -> None:
        self._function, self._given = function, given
        self._futures: list[Future[Result]] = []
        if executor is not None:
            with suppress(BrokenExecutor):
                self._futures = [executor.submit(function, one) for one in given]

    def results(self) -> Iterator[Result]:
        """The answers in order; what died with a helper is done here."""
        for number, one in enumerate(self._given):
            try:
                answer = self._futures[number].result() if self._futures else self._function(one)
            except BrokenExecutor:
                answer = self._function(one)
            yield answer


@contextmanager
def pool(workers: int | None, alone: bool = True) -> Iterator[Executor | None]:
    """An executor of so many processes (as many as the machine has where None).

    None where one would do, if this process may work ``alone``.

    Processes are spawned, not forked, so that every system behaves alike.
    """
    count = workers or min(os.cpu_count() or 1, MOST_WORKERS)
    if count == 1 and alone:
        yield None
        return
    with Helpers(count) as executor:
        yield executor


class Helpers(ProcessPoolExecutor):
    """Processes of this machine that can be let go in the midst of their work."""

    def __init__(self, count: int) -> None:
        super().__init__(count, get_context("spawn"), _leave_ctrl_c_to_the_parent)
        self.gone = False
        """Whether they were let go."""
        self._others = set(active_children())

    def __exit__(self, *_: object) -> None:
        self.shutdown(cancel_futures=True)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End the processes, at once where their work is given up."""
        self.gone = True
        if not cancel_futures:
            super().shutdown(wait)
            return
        asked, answers = getattr(self, "_call_queue", None), getattr(self, "_result_queue", None)
        manager = getattr(self, "_executor_manager_thread", None)
        if asked is not None:
            asked.cancel_join_thread()  # what nobody reads any more would hold up the end of the program
        super().shutdown(wait=False, cancel_futures=True)
        # What a helper is still at after a stop is of no use to anybody, and could take its whole time.
        leaving = set(active_children()) - self._others
        for helper in leaving:
            helper.terminate()
        if answers is not None:
            answers._writer.close()  # half an answer would be waited for in vain
        if manager is not None:
            # Its thread collects the processes; two that collect at once know for a moment of none gone.
            manager.join(LETTING_GO_SECONDS)
        for helper in leaving:
            helper.join(LETTING_GO_SECONDS)


def _leave_ctrl_c_to_the_parent() -> None:
    """Ctrl-C reaches every process of the terminal; only the parent decides what it means."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
