"""Processes that work side by side: each goes on with what it had last, and none waits for nothing."""

import os
import time
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, wait

import pytest

from sheetplan.app.making.helpers import Helpers


def process_after(seconds: float) -> int:
    time.sleep(seconds)
    return os.getpid()


def die() -> None:
    os._exit(1)


@pytest.fixture
def helpers() -> Iterator[Helpers]:
    with Helpers(2) as both:
        wait([both.submit(process_after, 0.0) for _ in range(2)])
        yield both


def test_work_of_a_home_stays_where_it_was(helpers: Helpers) -> None:
    homes: dict[str, set[int]] = {"port": set(), "starboard": set()}
    for _ in range(8):
        answers = {home: helpers.submit_at(home, process_after, 0.05) for home in homes}
        for home, answer in answers.items():
            homes[home].add(answer.result())
    assert [len(seen) for seen in homes.values()] == [1, 1]
    assert homes["port"] != homes["starboard"]


def test_a_process_with_nothing_to_do_takes_work_of_another_home(helpers: Helpers) -> None:
    answers = [helpers.submit_at("port", process_after, 0.3) for _ in range(6)]
    assert len({answer.result() for answer in answers}) == 2


def test_answers_come_to_those_that_asked(helpers: Helpers) -> None:
    answers = [helpers.submit_at(str(number % 3), divmod, number, 7) for number in range(200)]
    assert [answer.result() for answer in answers] == [divmod(number, 7) for number in range(200)]


def test_what_is_given_up_is_not_begun(helpers: Helpers) -> None:
    busy = [helpers.submit(process_after, 0.5) for _ in range(2)]
    given_up, wanted = helpers.submit(process_after, 60.0), helpers.submit(process_after, 0.0)
    assert given_up.cancel()
    assert wanted.result(timeout=30.0) in {answer.result() for answer in busy}


def test_every_process_is_told(helpers: Helpers) -> None:
    helpers.tell_all(time.time)
    assert helpers.submit(process_after, 0.0).result(timeout=30.0)


def test_a_process_that_dies_takes_its_call_with_it_and_no_other(helpers: Helpers) -> None:
    dies = helpers.submit(die)
    with pytest.raises(BrokenExecutor):
        dies.result(timeout=30.0)
    answers = [helpers.submit(process_after, 0.0) for _ in range(6)]
    ended = [answer.exception(timeout=30.0) for answer in answers]
    assert all(fault is None or isinstance(fault, BrokenExecutor) for fault in ended)


def test_nobody_takes_work_once_let_go(helpers: Helpers) -> None:
    late = helpers.submit_at("port", process_after, 60.0)
    waiting = [helpers.submit(process_after, 60.0) for _ in range(4)]
    helpers.shutdown(wait=False, cancel_futures=True)
    assert all(answer.cancelled() or answer.exception(timeout=30.0) for answer in (late, *waiting))
    with pytest.raises(RuntimeError):
        helpers.submit(process_after, 0.0)
