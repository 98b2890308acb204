"""Compiled kernels made ready before a run, which is spoken of only where it takes its time."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from concurrent.futures import TimeoutError as NotYet

from sheetplan.planning.progress import Progress, Report

ANNOUNCED_AFTER = 1.0
"""Seconds of silence that nobody takes for a hang; fetching kernels that were compiled before takes less."""

BOXES = "Making the packing kernels ready (a minute or two the first time)."
SHAPES = "Making the kernels for true shapes ready (some ten seconds the first time)."


def make_kernels_ready(shapes: bool, report: Report) -> None:
    """Compile the kernels of boxes, and of true shapes where wanted, or fetch them from the last time.

    The work goes on in a thread, so that ``report`` is called where the run itself lives: a
    spreadsheet program does not take messages from elsewhere.
    """
    from sheetplan.packing.kernel_ready import make_ready
    from sheetplan.planning.shape_filling import make_shapes_ready

    steps = [(make_ready, BOXES), *([(make_shapes_ready, SHAPES)] if shapes else [])]
    with ThreadPoolExecutor(1) as thread:
        for step, sentence in steps:
            _done(thread, step, sentence, report)


def _done(thread: ThreadPoolExecutor, step: Callable[[], None], sentence: str, report: Report) -> None:
    """Wait for a step, and say what it is if that is not over at once."""
    working = thread.submit(step)
    try:
        working.result(ANNOUNCED_AFTER)
    except NotYet:
        report(Progress("", 0.0, sentence))
        working.result()
