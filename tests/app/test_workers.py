import os
import subprocess
import sys
import time

import pytest

from sheetplan.app.making.workers import Helpers

ANSWER = 20_000_000
"""Bytes: more than a pipe holds, so that helpers are in the midst of sending when they are let go."""


def long_answer(size: int) -> bytes:
    return os.urandom(size)


@pytest.mark.slow
def test_a_program_ends_though_its_helpers_were_let_go_in_the_midst_of_an_answer() -> None:
    ended = subprocess.run([sys.executable, "-m", "tests.app.test_workers"], timeout=120, check=False)
    assert ended.returncode == 0


def own_number(_: int) -> int:
    time.sleep(0.2)
    return os.getpid()


def is_there(pid: int) -> bool:
    """Whether a process is there, and not only waits to be collected."""
    try:
        with open(f"/proc/{pid}/stat", encoding="utf-8") as file:
            return file.read().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="processes are looked up in /proc")
def test_helpers_end_with_a_parent_that_was_killed() -> None:
    program = "import tests.app.test_workers as t; t.wait_for_work()"
    parent = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    helpers = [int(word) for word in parent.stdout.readline().split()]
    assert len(helpers) == 2
    assert all(map(is_there, helpers))
    parent.kill()
    parent.wait()
    until = time.monotonic() + 10.0
    while any(map(is_there, helpers)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(map(is_there, helpers))


def wait_for_work() -> None:
    with Helpers(2) as executor:
        print(*sorted(set(executor.map(own_number, range(8)))), flush=True)
        time.sleep(60.0)


if __name__ == "__main__":
    from tests.app import test_workers

    with Helpers(2) as executor:
        answers = [executor.submit(test_workers.long_answer, ANSWER) for _ in range(200)]
        answers[0].result()
        time.sleep(0.05)
