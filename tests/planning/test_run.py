import math
import random
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace

import pytest

from sheetplan.model import CuttingRule, Job, Part, Plan
from sheetplan.planning import Progress, RunOptions, never, plan_job, quiet
from sheetplan.planning.gauge_work import TimesUp, rounds_for, shares
from sheetplan.planning.progress import Report
from sheetplan.planning.run import Course
from sheetplan.trade.thickness import Thickness
from tests.planning.books import made, seeded_book

ELEVEN_GAUGE = Thickness(3.0378, "11 ga")


def two_gauges() -> Job:
    """A book whose first half of parts is ten gauge and whose second half is eleven."""
    book = seeded_book(6, types=10, pieces=60)
    thin = {name for i, name in enumerate(book.parts) if i % 2}

    def thinner(part: Part) -> Part:
        return replace(part, thickness=ELEVEN_GAUGE) if part.name in thin else part

    rules: tuple[CuttingRule, ...] = (*book.rules, replace(book.rules[0], thickness=ELEVEN_GAUGE))
    stock = (*book.stock, *(replace(s, name=f"{s.name} thin", thickness=ELEVEN_GAUGE) for s in book.stock))
    parts = {name: thinner(part) for name, part in book.parts.items()}
    return replace(book, rules=rules, stock=stock, parts=parts)


def planned(
    executor: Executor | None = None, stop: Callable[[], bool] = never, report: Report = quiet, seed: int = 1
) -> Plan:
    return plan_job(two_gauges(), RunOptions(0.4, seed, stop, report, executor, clock=lambda: 0.0))


def without_clock(args: tuple) -> tuple:
    """What a worker is given, its time limit lifted, so that no busy machine decides a plan."""
    return tuple(TimesUp.after(math.inf) if isinstance(given, TimesUp) else given for given in args)


class Threads(ThreadPoolExecutor):
    """Threads without a clock."""

    def submit(self, fn, /, *args, **kwargs) -> Future:
        return super().submit(fn, *without_clock(args), **kwargs)


class Here(Executor):
    """Runs what it is given at once, as a worker with its own memory would; its clock stands still."""

    def submit(self, fn, /, *args, **kwargs) -> Future:
        import pickle

        future: Future = Future()
        args = without_clock(args)
        fn, args, kwargs = pickle.loads(pickle.dumps((fn, args, kwargs)))
        future.set_result(pickle.loads(pickle.dumps(fn(*args, **kwargs))))
        return future


def test_gauges_planned_elsewhere_come_out_as_planned_here() -> None:
    assert planned(Here()) == planned()


def test_the_same_seed_gives_the_same_plan_and_another_may_not() -> None:
    assert planned(seed=3) == planned(seed=3)


def test_threads_do_as_well() -> None:
    with Threads(1) as executor:
        assert planned(executor) == planned()


def test_layouts_are_numbered_through_all_gauges() -> None:
    tags = [layout.tag for group in planned().groups for layout in group.layouts]
    assert tags == [f"L{number}" for number in range(1, len(tags) + 1)]


def test_progress_rises_and_names_every_gauge() -> None:
    heard: list[Progress] = []
    plan = planned(report=heard.append)
    for group in plan.groups:
        mine = [p.done for p in heard if p.group == group.group.label]
        assert mine == sorted(mine)
        assert 0.0 < mine[0] <= 1.0
    whole = [p.done for p in heard if not p.group]
    assert whole == sorted(whole)
    assert whole[-1] == 1.0


@pytest.mark.parametrize("after", [0, 1, 5, 20])
def test_stopping_keeps_a_complete_plan(after: int) -> None:
    asked = iter(range(10**9))
    plan = planned(stop=lambda: next(asked) >= after)
    assert plan.stopped_early
    wanted = {order.item: order.quantity for order in plan.job.orders}
    assert sum((made(group) for group in plan.groups), Counter()) == wanted


def test_a_clock_that_has_run_out_ends_the_run_with_a_complete_plan() -> None:
    ticks = iter(range(10**9))
    book = two_gauges()
    plan = plan_job(book, RunOptions(0.4, clock=lambda: float(next(ticks))))
    assert not any(group.short for group in plan.groups)


class Gauge:
    """A gauge as a course sees it: what it may gain."""

    def __init__(self, gain: float) -> None:
        self.gain = gain


def shared_out(gains: list[float], answers_first: Callable[[int], int]) -> list[list[int]]:
    """Looks of each gauge in the rounds of a course, its answers coming in some order."""
    rounds = tuple(rounds_for(8.0))
    given: list[list[int]] = [[] for _ in gains]
    course = Course([Gauge(gain) for gain in gains], rounds, allowed_by_gain)
    waiting: list[tuple[int, int]] = []
    while more := [*waiting, *((place, looks) for place, _, looks in course.due())]:
        place, looks = more.pop(answers_first(len(more)))
        waiting = more
        given[place].append(looks)
        course.put(place, Gauge(course.works[place].gain / 2 if looks > 1_000_000 else 0.0))
    assert course.finished == course.length
    return given


def allowed_by_gain(gains, one) -> list[int]:
    return [int(one.looks * gain) for gain in shares(gains)]


def test_what_a_gauge_gets_of_a_round_does_not_depend_on_whose_answer_comes_first() -> None:
    chance = random.Random(3)
    for gains in ([30.0, 10.0, 5.0], [1.0], [0.0, 7.0], [4.0, 0.0, 0.0, 1e-3]):
        first = shared_out(gains, lambda count: 0)
        assert sum(map(sum, first)) > 0
        for _ in range(20):
            assert shared_out(gains, lambda count: chance.randrange(count)) == first
