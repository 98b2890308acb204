"""A search in helper processes told to stop: they are let go, and what is left to do is done at once."""

import time
from collections.abc import Callable
from dataclasses import replace
from multiprocessing import active_children

import pytest

from sheetplan.app.making.answer import answered
from sheetplan.app.making.standing import Standing
from sheetplan.app.making.workers import Crew, Helpers
from sheetplan.cli.stopping import StopSwitch
from sheetplan.model import Job
from sheetplan.planning.progress import Progress
from tests.planning.books import seeded_book
from tests.ready import make_ready

MOST_WORK = 2.0
"""Processor seconds of this process from the stop to the answer."""

LONG_KERNEL = 15.0
"""Seconds that the first kernel of such a run takes at least."""

MOMENTS: dict[str, Callable[[Progress], bool]] = {
    "before the first plan": lambda said: True,
    "in the search": lambda said: said.sentence.startswith("Known to be the cheapest"),
    "what fits": lambda said: said.sentence == "Working out what fits",
}


SECONDS = {"in the search": 60.0}
"""Time asked where the moment has to come on a busy machine too; elsewhere a little will do."""


def job(seconds: float) -> Job:
    book = seeded_book(3, types=30, pieces=600)
    return replace(book, settings=replace(book.settings, seconds=seconds))


@pytest.mark.slow
@pytest.mark.parametrize("moment", MOMENTS)
def test_helpers_are_let_go_and_the_answer_comes_at_once(moment: str) -> None:
    make_ready()
    stop, pressed, at_work = StopSwitch(), list[float](), list[int]()

    def report(said: Progress) -> None:
        if not stop() and MOMENTS[moment](said):
            stop.press()
            pressed.append(time.process_time())
        if said.sentence == "Checking every layout":
            at_work.append(len(active_children()))

    asked = job(SECONDS.get(moment, 3.0))
    with Crew(2) as crew:
        answer = answered(asked, (), Standing(), stop, report, crew)
        answer.fits()
    assert pressed, "the run came by this moment"
    assert time.process_time() - pressed[0] < MOST_WORK
    assert answer.plan.stopped_early == (moment in ("before the first plan", "in the search"))
    assert not any(group.short for group in answer.plan.groups)
    if moment != "what fits":
        assert at_work == [0], "no helper takes the check's time"
    assert active_children() == []


@pytest.mark.slow
def test_nobody_is_left_whatever_the_helpers_are_at() -> None:
    """Asleep, half begun, in the midst of a long answer: seen once in a while if they are collected twice."""
    for turn in range(0, 12, 3):
        helpers = Helpers(2)
        with helpers:
            for _ in range(2):
                helpers.submit(time.sleep, 60.0)
                helpers.submit(bytes, 100_000_000)
            time.sleep(0.05 * turn)
            helpers.shutdown(wait=False, cancel_futures=True)
            assert active_children() == []


@pytest.mark.slow
def test_a_long_run_with_one_worker_hears_a_stop_in_the_midst_of_a_kernel() -> None:
    make_ready()
    begun: list[float] = []

    def report(said: Progress) -> None:
        if said.group and not begun:
            begun.append(time.monotonic())

    def stop() -> bool:
        return bool(begun) and time.monotonic() > begun[0] + 1.0

    with Crew(1) as crew:
        answer = answered(job(600.0), (), Standing(), stop, report, crew)
    assert answer.plan.stopped_early
    assert time.monotonic() - begun[0] - 1.0 < LONG_KERNEL / 2
