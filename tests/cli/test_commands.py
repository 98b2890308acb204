"""The command line as a person and as a script meet it."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import openpyxl
import psutil
import pytest

from sheetplan.app.check import check_book
from tests.cli.running import run
from tests.demo import demo_job

COMMAND = [sys.executable, "-m", "sheetplan"]

MOST_WORK = 20.0
"""Processor seconds of a command and its helpers from Ctrl-C to its end: the demo's pages and drawings."""


def started(*arguments: str | Path, folder: Path) -> subprocess.CompletedProcess[str]:
    """A command in a process of its own."""
    return subprocess.run(
        [*COMMAND, *map(str, arguments)], cwd=folder, capture_output=True, text=True, timeout=240
    )


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """The demo book, planned once for all tests that only look."""
    folder = tmp_path_factory.mktemp("planned")
    assert started("new", "--demo", "harbour.xlsx", folder=folder).returncode == 0
    plan = ("plan", "harbour.xlsx", "--seconds", "0.5", "--workers", "1", "--json", "plan.json")
    return folder, started(*plan, folder=folder)


def test_the_demo_is_planned_and_the_paths_are_said(
    planned: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    folder, result = planned
    assert result.returncode == 0, result.stdout + result.stderr
    record = json.loads((folder / "plan.json").read_text())
    drawings = sorted((folder / "layouts").rglob("*.dxf"))
    layouts = [layout for group in record["groups"] for layout in group["layouts"]]
    assert len(drawings) == len(layouts) > 0
    assert "harbour.xlsx" in result.stdout
    assert str(drawings[0].parent.relative_to(folder)) in result.stdout.replace("\\", "/")
    assert len({part for lay in layouts for part in lay["parts"]}) >= 30 or len(layouts) >= 6


def test_the_book_holds_the_results(planned: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    folder, _ = planned
    book = openpyxl.load_workbook(folder / "harbour.xlsx", data_only=True)
    assert {"Plan", "Buy", "Layouts", "Made", "Problems"} <= set(book.sheetnames)
    links = [c.hyperlink.target for row in book["Layouts"].iter_rows() for c in row if c.hyperlink]
    files = [folder / link for link in links if link and link.endswith(".dxf")]
    assert files
    assert all(path.is_file() for path in files)


def test_the_book_is_read_as_the_one_that_ships(
    planned: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    """That its plan is the same for the same seed is seen in tests/planning/whatif/test_demo_answers."""
    job = check_book(planned[0] / "harbour.xlsx").job
    assert job is not None
    stated = replace(job.settings, decimal_comma=None)  # which sign the computer has is no part of the book
    assert replace(job, settings=stated) == demo_job()


def test_check_says_a_sound_book_is_sound(planned: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    folder, _ = planned
    before = (folder / "harbour.xlsx").read_bytes()
    result = run("check", "harbour.xlsx", folder=folder)
    assert result.returncode == 0, result.stdout
    assert (folder / "harbour.xlsx").read_bytes() == before


def test_a_mistake_is_named_by_page_row_and_cell_and_stops_the_plan(tmp_path: Path) -> None:
    run("new", "--demo", "harbour.xlsx", folder=tmp_path)
    book = openpyxl.load_workbook(tmp_path / "harbour.xlsx")
    cell = next(c for row in book["Orders"].iter_rows() for c in row if c.value == "Item")
    book["Orders"].cell(cell.row + 1, cell.column, "no such kit")
    book.save(tmp_path / "harbour.xlsx")
    result = run("check", "harbour.xlsx", "--json", "problems.json", folder=tmp_path)
    assert result.returncode == 1
    problems = json.loads((tmp_path / "problems.json").read_text())["problems"]
    stopping = [p for p in problems if p["weight"] == "stops the plan"]
    assert [(p["page"], p["row"]) for p in stopping] == [("Orders", cell.row + 1)]
    assert "no such kit" in stopping[0]["what"]
    assert stopping[0]["cell"] in result.stdout
    planned = run("plan", "harbour.xlsx", folder=tmp_path)
    assert planned.returncode == 1
    assert not list((tmp_path / "layouts").rglob("*.dxf"))
    shown = openpyxl.load_workbook(tmp_path / "harbour.xlsx")["Problems"]
    assert any("no such kit" in str(c.value) for row in shown.iter_rows() for c in row)


@pytest.mark.parametrize(
    ("name", "content", "word"),
    [
        ("book.csv", b"part,width\nA,3\n", "csv"),
        ("book.xls", bytes.fromhex("D0CF11E0A1B11AE1") + bytes(600), ".xls"),
        ("book.xlsx", b"PK\x03\x04 cut short", "damaged"),
        ("book.xlsx", b"", "empty"),
    ],
)
@pytest.mark.parametrize("command", ["check", "plan"])
def test_other_files_are_refused_in_a_sentence(
    tmp_path: Path, command: str, name: str, content: bytes, word: str
) -> None:
    (tmp_path / name).write_bytes(content)
    result = run(command, name, folder=tmp_path)
    assert result.returncode == 3
    assert word in result.stdout
    assert "Traceback" not in result.stdout + result.stderr
    assert (tmp_path / name).read_bytes() == content


def test_a_book_open_elsewhere_is_left_alone(tmp_path: Path) -> None:
    run("new", "--demo", "harbour.xlsx", folder=tmp_path)
    before = (tmp_path / "harbour.xlsx").read_bytes()
    (tmp_path / ".~lock.harbour.xlsx#").write_text(",planner,bench,25.11.2026 08:00,file:///x;")
    result = run("plan", "harbour.xlsx", "--seconds", "1", folder=tmp_path)
    assert result.returncode == 3
    assert "open" in result.stdout
    assert (tmp_path / "harbour.xlsx").read_bytes() == before
    assert not list((tmp_path / "layouts").rglob("*.dxf"))


def worked_by(process: psutil.Process) -> float:
    """Processor seconds so far of a process, its helpers, and those that it has seen end."""
    own = process.cpu_times()
    ended = own.children_user + own.children_system
    helpers = [helper.cpu_times() for helper in process.children(recursive=True)]
    return float(ended + sum(times.user + times.system for times in (own, *helpers)))


def worked_by_ended() -> float:
    """Processor seconds of all processes that this one has seen end."""
    return os.times().children_user + os.times().children_system


@pytest.mark.skipif(os.name == "nt", reason="sends SIGINT to a child process")
def test_ctrl_c_keeps_the_best_so_far(tmp_path: Path) -> None:
    run("new", "--demo", "harbour.xlsx", folder=tmp_path)
    before = worked_by_ended()
    child = subprocess.Popen(
        [*COMMAND, "plan", "harbour.xlsx", "--seconds", "60", "--json", "plan.json"],
        cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert child.stderr is not None
    for line in child.stderr:
        if "sheets in" in line:
            break
    time.sleep(0.3)
    searched = worked_by(psutil.Process(child.pid))
    child.send_signal(signal.SIGINT)
    said, _ = child.communicate(timeout=240)
    assert child.returncode == 0, said
    assert worked_by_ended() - before - searched < MOST_WORK
    assert "Stopped early" in said
    assert json.loads((tmp_path / "plan.json").read_text())["groups"]


def test_help_names_every_command_with_an_example(tmp_path: Path) -> None:
    top = run("--help", folder=tmp_path).stdout
    listed = [
        line.split()[0]
        for line in top.partition("Commands:")[2].partition("Exit codes")[0].splitlines()
        if line.strip()
    ]
    assert listed == [
        "new",
        "check",
        "plan",
        "quote",
        "ordered",
        "receive",
        "cut",
        "parts",
        "undo",
        "rack",
        "square",
        "month",
        "close",
        "show",
        "import",
        "accept",
        "excel",
        "calc",
    ]
    assert "..." not in top.partition("Commands:")[2], "every command is said in one whole sentence"
    for code in (0, 1, 2, 3, 4, 5, 130):
        assert re.search(rf"^ +{code} +\w", top.partition("Exit codes:")[2], re.MULTILINE)
    for command in listed:
        said = run(command, "--help", folder=tmp_path).stdout
        assert f"Example:  sheetplan {command}" in said
        assert "<int" not in said
        assert "<float" not in said


@pytest.mark.parametrize("arguments", [[], ["--help"], ["plan", "--help"]])
def test_what_needs_no_book_stays_light(tmp_path: Path, arguments: list[str]) -> None:
    heavy = "numba numpy shapely ezdxf openpyxl xlsxwriter matplotlib reportlab highspy xlwings lxml"
    heavy += " sheetplan.model sheetplan.workbook.reading sheetplan.app"
    code = (
        "import atexit, sys; from sheetplan.cli import main; "
        f"atexit.register(lambda: print([m for m in {heavy.split()!r} if m in sys.modules])); "
        "sys.argv[1:] and main()"
    )
    result = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, cwd=tmp_path, check=True
    )
    assert result.stdout.splitlines()[-1] == "[]"


def test_trouble_with_a_file_is_told_without_a_word_on_plans(tmp_path: Path) -> None:
    (tmp_path / "there.xlsx").write_bytes(b"taken")
    for arguments in (("new", "there.xlsx"), ("plan", "gone.xlsx")):
        told = run(*arguments, folder=tmp_path)
        assert told.returncode == 3
        assert arguments[1] in told.stdout
        assert "[" not in told.stdout
    assert (tmp_path / "there.xlsx").read_bytes() == b"taken", "nothing is written over"
