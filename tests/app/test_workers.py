import os
import subprocess
import sys
import time

import pytest

from sheetplan.app.workers import Helpers

ANSWER = 20_000_000
"""Bytes: more than a pipe holds, so that helpers are in the midst of sending when they are let go."""


def long_answer(size: int) -> bytes:
    return os.urandom(size)


@pytest.mark.slow
def test_a_program_ends_though_its_helpers_were_let_go_in_the_midst_of_an_answer() -> None:
    ended = subprocess.run([sys.executable, "-m", "tests.app.test_workers"], timeout=120, check=False)
    assert ended.returncode == 0


if __name__ == "__main__":
    from tests.app import test_workers

    with Helpers(2) as executor:
        answers = [executor.submit(test_workers.long_answer, ANSWER) for _ in range(200)]
        answers[0].result()
        time.sleep(0.05)
