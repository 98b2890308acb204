"""Compiled kernels made ready for a run: in helper processes side by side, begun while the book is read.

The first run after installation compiles for a while and keeps the result beside the modules; later runs
fetch it in a moment. What goes on is said wherever it takes its time.

Choices
-------
A note beside the modules says from which sources a set was compiled (`packing/kernel_cache`). Those are all
files of `packing/`: an edit there, even of words, has every kernel compiled again, which takes a minute.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor, wait

from sheetplan.packing.kernel_cache import forget_stale, is_compiled, note_compiled
from sheetplan.planning.progress import Progress, Report

ANNOUNCED_AFTER = 1.0
"""Seconds of silence that nobody takes for a hang; fetching kernels that were compiled before takes less."""

TOLD_EVERY = 10.0
"""Seconds between two signs of life."""

BOXES, STRIPS, SHAPES = "boxes", "strips", "outlines"

ALWAYS = (BOXES, STRIPS)
"""What every run needs, whatever the parts."""


def _boxes() -> None:
    from sheetplan.packing.ready import make_boxes_ready

    make_boxes_ready()


def _strips() -> None:
    from sheetplan.packing.ready import make_strips_ready

    make_strips_ready()


def _shapes() -> None:
    from sheetplan.packing.ready import make_shapes_ready

    make_shapes_ready()


STEPS: Mapping[str, Callable[[], None]] = {BOXES: _boxes, STRIPS: _strips, SHAPES: _shapes}
"""The sets of kernels, the longest first: each is compiled in one process, two can be side by side."""


def wanted_sets(*, shapes: bool) -> tuple[str, ...]:
    """The sets that a run needs, of true shapes or of plain boxes alone."""
    return (*ALWAYS, SHAPES) if shapes else ALWAYS


def make_set_ready(name: str) -> None:
    """Compile the kernels of a set, or fetch them from the last time."""
    forget_stale()
    STEPS[name]()
    note_compiled(name)


class Readying:
    """Sets of kernels made ready by helper processes, while the run goes on to something else."""

    def __init__(self, executor: Executor) -> None:
        forget_stale()
        self._executor = executor
        self._begun: dict[str, Future[None]] = {}

    def begin(self, names: Sequence[str]) -> None:
        """Hand those sets to the helpers that were never compiled here and were not handed to them before."""
        for name in names:
            if name not in self._begun and not is_compiled(name):
                self._begun[name] = self._executor.submit(make_set_ready, name)

    def await_all(self, names: Sequence[str], report: Report) -> None:
        """Wait until all of these sets lie compiled beside the modules, and say so while that lasts."""
        self.begin(names)
        _awaited({name: self._begun[name] for name in names if name in self._begun}, report)


def make_kernels_ready(report: Report, executor: Executor | None = None, *, shapes: bool) -> None:
    """See that the kernels are compiled: by ``executor``, whose processes fetch them, else here.

    Without helpers the work goes on in a thread, so that ``report`` is called where the run itself
    lives: a spreadsheet program does not take messages from elsewhere.
    """
    names = wanted_sets(shapes=shapes)
    if executor is not None:
        Readying(executor).await_all(names, report)
        return
    with ThreadPoolExecutor(1) as thread:
        for name in names:
            _awaited({name: thread.submit(make_set_ready, name)}, report)


def _awaited(working: Mapping[str, Future[None]], report: Report) -> None:
    """Wait for sets, and tell now and then which are not ready yet, if that is not over at once."""
    begun, pause = time.monotonic(), ANNOUNCED_AFTER
    while True:
        _, waiting = wait(working.values(), pause)
        if not waiting:
            break
        late = [name for name, future in working.items() if future in waiting]
        report(Progress("", 0.0, said(late, time.monotonic() - begun)))
        pause = TOLD_EVERY
    for future in working.values():
        future.result()


def said(late: Sequence[str], seconds: float) -> str:
    """What a planner hears while kernels are compiled."""
    named = " and ".join(filter(None, (", ".join(late[:-1]), late[-1])))
    so_far = f", {seconds:.0f} s so far" if seconds >= TOLD_EVERY else ""
    return f"Making the kernels for {named} ready (the first time only: up to a minute){so_far}."
