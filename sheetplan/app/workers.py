"""The processes that plan gauges side by side."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import active_children, get_context

MOST_WORKERS = 8
"""More processes than this cost more memory than the gauges of one month can repay."""


LONG_SECONDS = 60.0
"""A run that may take longer asks one kernel for so much that it could not hear a stop within 3 seconds."""

LETTING_GO_SECONDS = 2.0
"""Processes told to end are gone in some hundredths of a second; nobody waits for one that is not."""


@contextmanager
def helpers(workers: int | None, scheduler: str | None, seconds: float) -> Iterator[Executor | None]:
    """The cluster of a Dask scheduler where one is named, else processes of this machine.

    A run of many ``seconds`` has a helper even where it is the only one: a helper can be let go.
    """
    if scheduler is None:
        with pool(workers, alone=seconds <= LONG_SECONDS) as executor:
            yield executor
        return
    from sheetplan.app.cluster import cluster

    with cluster(scheduler) as executor:
        yield executor


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
        self._others = set(active_children())

    def __exit__(self, *_: object) -> None:
        self.shutdown(cancel_futures=True)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End the processes, at once where their work is given up."""
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
