"""Progress as plain lines, where no terminal shows bars; problems, each once."""

import pytest

from sheetplan.cli.printing import FIRST_FEW, MOST_ALIKE, ProgressPrinter, print_problems
from sheetplan.model import Problem, Weight
from sheetplan.planning.progress import Progress


def test_a_count_is_a_sign_of_life_and_no_flood(capsys: pytest.CaptureFixture[str]) -> None:
    printer = ProgressPrinter()
    for done in range(100):
        printer.show(Progress("", done / 100, f"Comparing sheet sizes, {done}%"))
    printer.show(Progress("", 1.0, "Checking every layout"))
    printer.show(Progress("", 1.0, "Checking every layout"))
    assert capsys.readouterr().err.splitlines() == ["Comparing sheet sizes, 0%", "Checking every layout"]


def problem(row: int, what: str, weight: Weight = Weight.NOTE) -> Problem:
    return Problem("Parts", row, f"D{row}", what, "Look at it.", weight)


def test_what_is_said_of_many_cells_is_printed_once(capsys: pytest.CaptureFixture[str]) -> None:
    print_problems([problem(row, "Thickness is empty.") for row in range(5, 35)])
    assert capsys.readouterr().out.splitlines() == [
        "Parts!D5, D6, D7 and 27 more: Thickness is empty.",
        "    Look at it.  [note]",
    ]


def test_many_of_one_kind_are_counted_and_listed_when_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    many = [problem(row, f"File {row} has an open line.") for row in range(MOST_ALIKE + 1)]
    print_problems([*many, problem(90, "It stops.", Weight.STOPS)])
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "Parts!D90: It stops."
    assert len(lines) == 2 + 2 * FIRST_FEW + 1
    assert lines[-1] == (
        f"Parts: and {MOST_ALIKE + 1 - FIRST_FEW} more of this kind; `sheetplan check BOOK --all` lists them."
    )
    print_problems(many, each=True)
    assert len(capsys.readouterr().out.splitlines()) == 2 * len(many)
    print_problems(many[:MOST_ALIKE])
    assert len(capsys.readouterr().out.splitlines()) == 2 * MOST_ALIKE
