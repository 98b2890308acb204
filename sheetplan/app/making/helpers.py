"""Processes of this machine that work side by side, each on what it has prepared already.

A gauge's maps are dearer to prepare than many a step with them. Work on it goes to the process that had it
last (its home); a process with nothing to do takes work from the others all the same.

Choices
-------
Each process is a pool of its own, as a pool of several says nothing of which of them takes a call. One call
waits at a pool beside the one under way, if it is at home there, so that nobody waits for the next to arrive.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, InvalidStateError, ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import active_children, get_context, parent_process
from typing import Any

LETTING_GO_SECONDS = 2.0
"""Processes told to end are gone in some hundredths of a second; nobody waits for one that is not."""

AT_ONCE = 2
"""Calls at one process: one under way, and one that is at home there."""


@dataclass(frozen=True, slots=True, eq=False)
class _Call:
    """A call that waits for a process; no home where any will do."""

    answer: Future[Any]
    home: str
    function: Callable[..., Any]
    given: tuple[Any, ...]
    named: dict[str, Any]


class Helpers(Executor):
    """Processes of this machine that can be let go in the midst of their work."""

    def __init__(self, count: int) -> None:
        self.gone = False
        """Whether they were let go."""
        self._max_workers = count
        self._others = set(active_children())
        context = get_context("spawn")
        self._pools = [ProcessPoolExecutor(1, context, _stay_by_the_parent) for _ in range(count)]
        self._at_work = [0] * count
        self._waiting: list[_Call] = []
        self._homes: dict[str, int] = {}
        self._lock = threading.RLock()  # a call that fails at once is answered while it is handed out

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Have a call done by whichever process is free first."""
        return self._taken(_Call(Future(), "", fn, args, kwargs))

    def submit_at(self, home: str, fn: Callable[..., Any], /, *args: Any) -> Future[Any]:
        """Have a call done by the process that did the last one of that home, or by one that is free."""
        return self._taken(_Call(Future(), home, fn, args, {}))

    def tell_all(self, fn: Callable[[], object]) -> None:
        """Have every process do something once, after what it is at; nobody waits for it."""
        with self._lock:
            for pool in () if self.gone else self._pools:
                with suppress(BrokenExecutor, RuntimeError):
                    pool.submit(fn)

    def _taken(self, call: _Call) -> Future[Any]:
        with self._lock:
            if self.gone:
                raise RuntimeError("These helpers were let go.")
            self._waiting.append(call)
            self._hand_out()
        return call.answer

    def _hand_out(self) -> None:
        """Give what waits to processes that are free, and to each one call more of its own."""
        for most in range(1, AT_ONCE + 1):
            for place in range(len(self._pools)):
                if self._at_work[place] < most and (call := self._next_for(place, alone=most == 1)):
                    self._waiting.remove(call)
                    self._begin(place, call)

    def _next_for(self, place: int, *, alone: bool) -> _Call | None:
        """What a process does next: its own first, then what is nobody's, then what another's would wait."""

        def kin(call: _Call) -> int:
            home = self._homes.get(call.home)
            return 0 if home == place else 1 if home is None else 2

        open_ = [call for call in self._waiting if not call.answer.cancelled()]
        self._waiting = open_
        best = min(open_, key=kin, default=None)
        return best if best is not None and (alone or kin(best) == 0) else None

    def _begin(self, place: int, call: _Call) -> None:
        if call.home:
            self._homes[call.home] = place
        self._at_work[place] += 1
        try:
            there = self._pools[place].submit(call.function, *call.given, **call.named)
        except (BrokenExecutor, RuntimeError) as fault:
            self._at_work[place] -= 1
            settle(call.answer, error=fault)
            return
        call.answer.add_done_callback(lambda answer: there.cancel() if answer.cancelled() else None)
        there.add_done_callback(lambda done: self._answered(place, call, done))

    def _answered(self, place: int, call: _Call, done: Future[Any]) -> None:
        fault = None if done.cancelled() else done.exception()
        if done.cancelled():
            call.answer.cancel()
        elif fault is not None:
            settle(call.answer, error=fault)
        else:
            settle(call.answer, done.result())
        if isinstance(fault, BrokenExecutor):
            # Since Python 3.12 a pool whose process died says so while it holds its own lock, and whoever
            # hands out work under ours asks for that one: each would wait for the other.
            threading.Thread(target=self._go_on, args=(place,), daemon=True).start()
        else:
            self._go_on(place)

    def _go_on(self, place: int) -> None:
        """A process has one call less."""
        with self._lock:
            self._at_work[place] -= 1
            if not self.gone:
                self._hand_out()

    def shutdown(self, *_: Any, **__: Any) -> None:
        """End the processes at once, however it is asked.

        What a process is still at is of no use to anybody, and could take its whole time.
        """
        with self._lock:
            self.gone = True
            for call in self._waiting:
                call.answer.cancel()
            self._waiting = []
        managers = [getattr(pool, "_executor_manager_thread", None) for pool in self._pools]
        answers = [getattr(pool, "_result_queue", None) for pool in self._pools]
        for pool in self._pools:
            asked = getattr(pool, "_call_queue", None)
            if asked is not None:
                asked.cancel_join_thread()  # what nobody reads any more would hold up the end of the program
            pool.shutdown(wait=False, cancel_futures=True)
        leaving = set(active_children()) - self._others
        for helper in leaving:
            helper.terminate()
        for queue in answers:
            if queue is not None:
                queue._writer.close()  # half an answer would be waited for in vain
        for manager in managers:
            if manager is not None:
                # Its thread collects the process; two that collect at once know for a moment of none gone.
                manager.join(LETTING_GO_SECONDS)
        for helper in leaving:
            helper.join(LETTING_GO_SECONDS)


def settle(answer: Future[Any], value: Any = None, error: BaseException | None = None) -> None:
    """Give a future its end, unless whoever waited for it has given it up."""
    with suppress(InvalidStateError):
        if error is not None:
            answer.set_exception(error)
        else:
            answer.set_result(value)


def _stay_by_the_parent() -> None:
    """Leave Ctrl-C, which reaches every process of the terminal, to the parent; do not outlive it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_parent, name="parent", daemon=True).start()


def _end_with_the_parent() -> None:
    """A parent that is killed tells nobody, and whoever waits for work would wait for ever."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
