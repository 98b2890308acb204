"""What a run is told, and what it says about itself while it works."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from typing import TypeVar

Value = TypeVar("Value")

Stop = Callable[[], bool]
"""Asked between steps: True ends the run with the best plan so far."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far one group (or, with an empty label, the whole job) has come; ``done`` runs from 0 to 1."""

    group: str
    done: float
    sentence: str


Report = Callable[[Progress], None]
"""Takes each piece of progress; it may print, draw or ignore it."""


def never() -> bool:
    """A `Stop` that never ends the run."""
    return False


def quiet(progress: Progress) -> None:
    """A `Report` that ignores what it hears."""


@dataclass(frozen=True, slots=True)
class RunOptions:
    """How a run goes about its work, whatever is planned.

    Attributes
    ----------
    seconds
        Most time to spend on the whole book.
    seed
        All chance comes from it: the same job and seed give the same plan.
    stop
        Asked between steps; True keeps the best so far and ends the run.
    report
        Hears how far each gauge has come.
    executor
        Where gauges are planned side by side; None plans them here, one after the other.
    clock
        Seconds from some fixed moment on; ends a run that takes too long and decides nothing else.
    """

    seconds: float
    seed: int = 1
    stop: Stop = never
    report: Report = quiet
    executor: Executor | None = None
    clock: Callable[[], float] = time.monotonic


def handed(
    executor: Executor, home: str, function: Callable[..., Value], *given: object
) -> Future[Value]:
    """Have a call done elsewhere, by the process that did the last one of that home if there are such."""
    at = getattr(executor, "submit_at", None)
    answer: Future[Value] = at(home, function, *given) if at else executor.submit(function, *given)
    return answer
