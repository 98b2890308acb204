"""Progress as plain lines, where no terminal shows bars; problems, each once."""

from dataclasses import replace

import pytest

from sheetplan.cli.printing import (
    FIRST_FEW,
    GAUGE_HEADS,
    MOST_ALIKE,
    PLAN_WIDTH,
    ProgressPrinter,
    print_problems,
    print_table,
)
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


def test_missing_files_are_one_cause_and_what_waits_for_them_one_line(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Two drawings are gone, a kit waits for one, an order for the kit, another for the other drawing."""
    gone = [
        replace(problem(row, f"There is no drawings/{name}.", Weight.LEFT_OUT), missing=f"drawings/{name}")
        for row, name in ((5, "base.dxf"), (6, "leaf.dxf"))
    ]
    waits = (
        Problem("Kits", 9, "B9", "A cannot be used.", "Row 5 first.", Weight.LEFT_OUT, "Parts!5"),
        Problem("Orders", 3, "B3", "K cannot be made.", "Row 9 first.", Weight.STOPS, "Kits!9"),
        Problem("Orders", 4, "B4", "B cannot be made.", "Row 6 first.", Weight.LEFT_OUT, "Parts!6"),
    )
    print_problems([*gone, *waits])
    assert capsys.readouterr().out.splitlines() == [
        "Parts!D5, D6: 2 drawings are missing in drawings/: base.dxf, leaf.dxf.",
        "    Put them there, or correct their names.  [row left out]",
        "    1 row of Kits and 2 of Orders wait for them.  [stops the plan]",
    ]
    print_problems([*gone, *waits], each=True)
    assert len(capsys.readouterr().out.splitlines()) == 10


def test_an_echo_of_a_row_that_nobody_complains_of_is_said_itself(capsys: pytest.CaptureFixture[str]) -> None:
    lost = Problem("Kits", 9, "B9", "A cannot be used.", "Row 5 first.", Weight.LEFT_OUT, "Parts!5")
    round_ = replace(lost, page="Parts", row=5, cell="B5", follows="Kits!9")
    print_problems([lost])
    assert capsys.readouterr().out.startswith("Kits!B9: A cannot be used.")
    print_problems([lost, round_])
    assert "cannot be used" in capsys.readouterr().out


def test_the_table_of_a_plan_fits_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """A long name of a gauge is broken at words; nothing of it is lost."""
    name = "galvanised steel of the outer breakwater store 1.5 mm"
    row = (name, "112", "1,034", "12", "87.7%", "1,234,567.89", "1,234,567.89", "at most 13.9% above")
    print_table(GAUGE_HEADS, [row, ("Total", *row[1:])], 1, PLAN_WIDTH)
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= PLAN_WIDTH
    assert "Metal and" in lines[0]
    assert "cutting" in lines[1]
    head = len(lines) - 3
    broken = [line[: lines[1].index("On hand")].split() for line in lines[2:-1]]
    assert head >= 1
    assert [word for words in broken for word in words] == name.split()
