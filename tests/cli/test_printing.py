"""Progress as plain lines, where no terminal shows bars."""

import pytest

from sheetplan.cli.printing import ProgressPrinter
from sheetplan.planning.progress import Progress


def test_a_count_is_a_sign_of_life_and_no_flood(capsys: pytest.CaptureFixture[str]) -> None:
    printer = ProgressPrinter()
    for done in range(100):
        printer.show(Progress("", done / 100, f"Comparing sheet sizes, {done}%"))
    printer.show(Progress("", 1.0, "Checking every layout"))
    printer.show(Progress("", 1.0, "Checking every layout"))
    assert capsys.readouterr().err.splitlines() == ["Comparing sheet sizes, 0%", "Checking every layout"]
