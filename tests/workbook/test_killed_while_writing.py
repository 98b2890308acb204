"""The book outlives a writer that is killed at any moment."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

KILLS = int(os.environ.get("SHEETPLAN_KILLS", "50"))
"""``SHEETPLAN_KILLS=1000`` tries so many; `python -m tests.workbook.killing FOLDER COUNT` by itself."""


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that can be forked and killed (Unix)")
def test_the_book_is_the_old_one_or_the_new_one_whenever_the_writer_is_killed(tmp_path: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-W", "ignore", "-m", "tests.workbook.killing", str(tmp_path), str(KILLS)],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[2],
    )
    assert run.returncode == 0, run.stderr[-2000:]
    outcome = json.loads(run.stdout)
    assert outcome["old"] + outcome["new"] + outcome["finished"] == KILLS
    assert outcome["old"] > KILLS / 10, outcome
    assert outcome["new"] + outcome["finished"] > KILLS / 50, outcome
