"""The conversation over real standard streams, as the Calc extension holds it."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from sheetplan.app.new import new_book
from sheetplan.trade.units import Units
from tests.workbook.hosts.calc_end import request


def started() -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "sheetplan.cli.live"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        encoding="utf-8",
    )


def held(sent: dict[str, object], answer: dict[str, object]) -> tuple[list[dict[str, object]], int]:
    """Hold a conversation; what was said, and the exit code."""
    child = started()
    assert child.stdin is not None
    assert child.stdout is not None
    child.stdin.write(json.dumps(sent) + "\n")
    child.stdin.flush()
    said = []
    for line in child.stdout:
        said.append(json.loads(line))  # every line is a message: nothing else may come between
        if "write" in said[-1]:
            child.stdin.write(json.dumps(answer) + "\n")
            child.stdin.flush()
        if "end" in said[-1]:
            break
    child.stdin.close()
    return said, child.wait(timeout=30)


@pytest.fixture
def asked(tmp_path: Path) -> dict[str, object]:
    book = new_book(tmp_path / "harbour.xlsx", demo=True, units=Units.INCH)
    sent = request(book)
    settings = next(sheet for sheet in sent["sheets"] if sheet["name"] == "Settings")
    row = next(row for row in settings["rows"] if row[0] == "Seconds to spend")
    row[1] = 0.3
    return sent


@pytest.mark.slow
def test_a_plan_is_a_conversation_of_messages_alone(asked: dict[str, object]) -> None:
    said, code = held(asked, {"written": True})
    assert code == 0
    assert said[0]["note"].endswith("Plan the month: under way.")
    assert "progress" in said[1]
    shares = [message["progress"][0] for message in said if "progress" in message]
    assert all(0 <= share <= 1 for share in shares)
    written = next(message["write"] for message in said if "write" in message)
    assert {page["name"] for page in written["pages"]} >= {"Plan", "Layouts", "Problems"}
    assert said[-1] == {"end": True}


def test_a_refusal_is_said_back_as_a_sentence(asked: dict[str, object]) -> None:
    said, code = held(asked | {"run": "check"}, {"refused": "The page Problems is your own."})
    assert code == 1
    assert "The page Problems is your own." in said[-2]["tell"]


def test_a_program_that_goes_away_ends_the_run() -> None:
    child = started()
    assert child.stdin is not None
    child.stdin.close()
    assert child.wait(timeout=60) != 0
