"""The extension in a real LibreOffice without a screen: installed, dispatched, drawn, saved."""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.new import new_book
from sheetplan.app.rack import look
from sheetplan.app.rack_folder import rack_of, read_steps
from sheetplan.app.undo import undo_cut
from sheetplan.model import Weight
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.calc_install import IDENTIFIER, extension
from sheetplan.workbook.live_runs import RUN_LABELS
from sheetplan.workbook.result_names import MONTH
from tests.app.cut_book import cell, planned_book

DRIVER = Path(__file__).with_name("calc_driver.py")
NOBODY = "65534"


def python_with_uno() -> str | None:
    """A Python that has LibreOffice's bridge."""
    for python in ("/usr/bin/python3", shutil.which("python3"), sys.executable):
        if (
            python
            and subprocess.run([python, "-c", "import uno"], capture_output=True, check=False).returncode == 0
        ):
            return python
    return None


PYTHON = python_with_uno() if shutil.which("soffice") and shutil.which("unopkg") else None
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        PYTHON is None, reason="needs LibreOffice with its Python bridge (python3-uno) installed"
    ),
    pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl"),
]


def surroundings(**more: str) -> dict[str, str]:
    """The environment without virtual ones on its path: LibreOffice would take one for its own Python."""
    folders = os.environ.get("PATH", "").split(os.pathsep)
    kept = [folder for folder in folders if not Path(folder, "..", "pyvenv.cfg").exists()]
    return {**os.environ, "PATH": os.pathsep.join(kept), **more}


@pytest.fixture(scope="module")
def profile() -> Iterator[Path]:
    """A profile in which LibreOffice's own tool has installed the extension."""
    with tempfile.TemporaryDirectory(prefix="sheetplan-calc-") as name:
        folder = Path(name)
        file = folder / "sheetplan.oxt"
        file.write_bytes(extension())
        command = ["unopkg", "add", "-f", "-s", f"-env:UserInstallation=file://{folder}/profile", str(file)]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            if shutil.which("setpriv") is None:
                pytest.skip("unopkg refuses the administrator, and setpriv is not there to be somebody else")
            folder.chmod(0o777)
            command = ["setpriv", "--reuid", NOBODY, "--regid", NOBODY, "--clear-groups", *command]
        subprocess.run(
            command, check=True, timeout=100, env=surroundings(HOME=name), capture_output=True, cwd=name
        )
        yield folder / "profile"


def driven(profile: Path, book: Path, runs: str) -> dict[str, Any]:
    """Dispatch menu entries in Calc and return what was seen."""
    assert PYTHON is not None
    done = subprocess.run(
        [PYTHON, str(DRIVER), str(profile), str(book), runs, str(book.with_name("out"))],
        capture_output=True, text=True, check=False, timeout=280, env=surroundings(SHEETPLAN_SILENT="1"),
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    seen: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return seen


def rows_of_layouts(book: openpyxl.Workbook) -> list[tuple[Any, ...]]:
    rows = book["Layouts"].iter_rows(values_only=True)
    return [row for row in rows if str(row[0]).startswith("L") and row[0][1:].isdigit()]


def test_check_plan_cut_and_undo_from_the_menu(profile: Path, tmp_path: Path) -> None:
    book = planned_book(tmp_path, plates=33, plan_it=False)
    settings = openpyxl.load_workbook(book)
    next(r for r in settings["Settings"].iter_rows() if r[0].value == "Seconds to spend")[1].value = 1
    settings.save(book)
    seen = driven(profile, book, "check,plan,plan,cut,undo,cut")
    checked, planned, again, cut, undone, last = seen["turns"]
    assert seen["menu"] == [f"service:{IDENTIFIER}.Run?{run}" for run in (*RUN_LABELS, "stop")]
    assert seen["left on"] == ["Start", "Start"]
    assert checked["said"].endswith("Check the book: No problems found.")
    assert "Plan the month: Plan " in planned["said"]
    assert planned["undo"] == ["sheetplan", "sheetplan"]
    assert min(planned["pictures"], again["pictures"]) > 1  # a second's search may end in another plan
    assert "Step 1: L1" in cut["said"]
    assert "Step 1 was taken back" in undone["said"]
    assert "Step 1: L1" in last["said"]
    for turn in (cut, undone, last):
        assert "The workbook was saved." in turn["said"]
        assert not turn["modified"] or turn["undo"] == []
        assert turn["undo"] == []  # what is saved with its files is not undone cell by cell
    saved = openpyxl.load_workbook(tmp_path / "out.xlsx")
    rows = rows_of_layouts(saved)
    assert len(saved["Layouts"]._images) == len(rows) == again["pictures"]
    assert len(list((tmp_path / "layouts").glob("plan-*/*.dxf"))) == len(rows)
    link = next(c.hyperlink for r in saved["Layouts"].iter_rows() for c in r if c.hyperlink)
    assert (tmp_path / link.target.removeprefix("file:///" + str(tmp_path).lstrip("/") + "/")).is_file()
    assert (tmp_path / "out.pdf").stat().st_size > 20_000
    # The file that Calc saved, and the rack beside it, say the same to the commands for closed books.
    assert cell(book, "Stock", "MS10", "On hand") == 2
    assert cell(book, "Layouts", "L1", "Cut so far") == 1
    [step] = read_steps(rack_of(book)).values()
    seen_now = look(book)
    assert (seen_now.problems, seen_now.told) == ((), "")
    assert {record.tag for record in seen_now.records} == set(step.left)
    undo_cut(book)
    assert cell(book, "Stock", "MS10", "On hand") == 3
    assert not [problem for problem in check_book(book).problems if problem.weight is Weight.STOPS]


def test_metal_is_ordered_received_and_given_back_from_the_menu(profile: Path, tmp_path: Path) -> None:
    book = planned_book(tmp_path, on_hand=0)
    seen = driven(profile, book, "ordered,ordered,receive,cut,undo,undo,undo")
    told = [turn["said"] for turn in seen["turns"]]
    assert "Step 1: 1 size marked as ordered" in told[0]
    assert "is marked as ordered already" in told[1]
    assert "1 of MS10: On hand 0 -> 1, On order down by 1; a row in Purchases." in told[2]
    assert "Step 3: L1" in told[3]
    for number, one in zip((3, 2, 1), told[4:], strict=True):
        assert f"Step {number} was taken back" in one
    assert not cell(book, "Stock", "MS10", "On hand")
    assert not cell(book, "Stock", "MS10", "On order")
    assert read_steps(rack_of(book)) == {}
    assert look(book).problems == ()
    sheet = openpyxl.load_workbook(book)["Purchases"]
    table = sheet.tables["Purchases"]
    assert not [row for row in sheet[table.ref][1:] if row[0].value]


def test_a_month_twice_has_its_charts_once(profile: Path, tmp_path: Path) -> None:
    book = new_book(tmp_path / "harbour.xlsx", demo=True, units=Units.INCH)
    plain = openpyxl.load_workbook(book)
    sheet, _, address = plain.defined_names[MONTH].attr_text.rpartition("!")
    plain[sheet.strip("'")][address.replace("$", "")].value = "2026-11"
    plain.save(book)
    seen = driven(profile, book, "month,month")
    for turn in seen["turns"]:
        assert turn["said"].endswith("2026-11 was balanced; read the page Month.")
        assert turn["charts"] == turn["month shapes"] == 2
    saved = openpyxl.load_workbook(tmp_path / "out.xlsx")["Month"]
    assert len(saved._charts) == 2
    assert [len(chart.ser) for chart in saved._charts] == [3, 3]


def test_a_check_shows_a_planted_mistake_and_a_stop_is_a_sentence(profile: Path, tmp_path: Path) -> None:
    book = planned_book(tmp_path, plan_it=False)
    plain = openpyxl.load_workbook(book)
    plain["Parts"]["E6"] = "ten"
    plain["Parts"].row_dimensions[7].hidden = True
    plain["Kits"].merge_cells("A8:B9")
    plain["Stock"].merge_cells("K5:L5")
    plain["Stock"].merge_cells("K6:L6")
    plain.save(book)
    seen = driven(profile, book, "check,plan,cut,undo")
    checked, planned, cut, undone = (turn["said"] for turn in seen["turns"])
    assert "that stop the plan" in checked or "that stops the plan" in checked
    assert "No plan was made" in planned
    assert "They stand on the page Problems." in cut
    assert "They stand on the page Problems." in undone
    saved = openpyxl.load_workbook(tmp_path / "out.xlsx")
    said = [str(c.value) for row in saved["Problems"].iter_rows() for c in row if c.value]
    assert any("E6" in text for text in said)
    assert "Row 7 is hidden and read all the same." in said
    merged = sorted(text.split()[2] for text in said if " are merged: " in text)
    assert merged == ["A8:B9", "K5:L5", "K6:L6"]
    assert not (tmp_path / "layouts").exists()
    assert not list((tmp_path / "rack").rglob("*.json"))
