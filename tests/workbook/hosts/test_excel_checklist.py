from pathlib import Path

from typer.testing import CliRunner

from sheetplan.cli.commands import app
from sheetplan.workbook.hosts.excel_setup import CHECKLIST
from sheetplan.workbook.port import RUN_LABELS

ROOT = Path(__file__).parents[3]


def test_every_step_says_what_should_be_seen() -> None:
    assert all(do.endswith((".", ").")) and see.endswith(".") for do, see in CHECKLIST)


def test_every_run_of_the_page_start_is_looked_at() -> None:
    said = " ".join(step for step, _ in CHECKLIST)
    assert all(label in said for label in RUN_LABELS.values())


def test_the_command_prints_every_step_in_turn_and_what_should_be_seen() -> None:
    ran = CliRunner().invoke(app, ["excel", "--checklist"])
    assert ran.exit_code == 0
    said = [line.strip() for line in ran.output.splitlines()]
    steps = [f"{number}. {step}" for number, (step, _) in enumerate(CHECKLIST, start=1)]
    places = [said.index(step) for step in steps]
    assert places == sorted(places)
    assert [said[place + 1] for place in places] == [f"Seen: {sight}" for _, sight in CHECKLIST]


def test_the_page_for_developers_says_how_the_steps_are_printed() -> None:
    assert "`sheetplan excel --checklist`" in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
