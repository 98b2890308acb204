"""The extension in a real LibreOffice without a screen: installed, dispatched, drawn, saved."""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest

from sheetplan.trade.units import Units
from sheetplan.workbook.closed_writing import put_pages
from sheetplan.workbook.guard import fingerprint
from sheetplan.workbook.hosts.calc_install import IDENTIFIER, extension
from sheetplan.workbook.new_book import template_path
from tests.workbook.sample_pages import plan_page

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
            command, check=True, timeout=100, env={**os.environ, "HOME": name}, capture_output=True, cwd=name
        )
        yield folder / "profile"


def driven(profile: Path, book: Path, run: str) -> dict[str, object]:
    """Dispatch the menu entry in Calc and return what was seen."""
    assert PYTHON is not None
    done = subprocess.run(
        [PYTHON, str(DRIVER), str(profile), str(book), run, str(book.with_name("out"))],
        capture_output=True, text=True, check=False, timeout=250, env={**os.environ, "SHEETPLAN_SILENT": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    seen: dict[str, object] = json.loads(done.stdout.splitlines()[-1])
    return seen


def quick_demo(folder: Path) -> Path:
    """The demo with little time to search, and a page of ours to be replaced."""
    book = openpyxl.load_workbook(template_path(demo=True, units=Units.INCH))
    row = next(row for row in book["Settings"].iter_rows() if row[0].value == "Seconds to spend")
    row[1].value = 1
    path = folder / "harbour.xlsx"
    book.save(path)
    put_pages(path, (plan_page("to be replaced"),), Units.INCH, fingerprint(path))
    return path


def test_two_plans_from_the_menu(profile: Path, tmp_path: Path) -> None:
    book = quick_demo(tmp_path)
    seen = driven(profile, book, "plan")
    saved = openpyxl.load_workbook(tmp_path / "out.xlsx")
    rows = [
        r
        for r in saved["Layouts"].iter_rows(values_only=True)
        if str(r[0]).startswith("L") and r[0][1:].isdigit()
    ]
    assert seen["pictures"] == len(rows) > 5
    assert len(saved["Layouts"]._images) == len(rows)
    assert saved["Plan"]["A1"].value == "The plan"
    assert str(saved["Plan"]["A2"].value).startswith("Plan ")
    assert seen["left on"] == ["Start", "Start"]
    assert seen["undo"] == ["sheetplan", "sheetplan"]
    assert seen["menu"] == [f"service:{IDENTIFIER}.Run?{what}" for what in ("plan", "check", "month", "stop")]
    drawings = list((tmp_path / "layouts").glob("plan-*/*.dxf"))
    assert len(drawings) == len(rows)
    link = next(c.hyperlink for r in saved["Layouts"].iter_rows() for c in r if c.hyperlink)
    assert (tmp_path / link.target.removeprefix("file:///" + str(tmp_path).lstrip("/") + "/")).is_file()
    assert (tmp_path / "out.pdf").stat().st_size > 50_000


def test_a_check_shows_a_planted_mistake_and_a_stop_is_a_sentence(profile: Path, tmp_path: Path) -> None:
    book = quick_demo(tmp_path)
    plain = openpyxl.load_workbook(book)
    plain["Parts"]["E6"] = "ten"
    plain["Orders"].delete_rows(5, 200)
    plain.save(book)
    driven(profile, book, "check")
    saved = openpyxl.load_workbook(tmp_path / "out.xlsx")
    said = [str(c.value) for row in saved["Problems"].iter_rows() for c in row if c.value]
    assert any("Checked only" in text for text in said)
    assert any("E6" in text for text in said)
    assert saved["Plan"]["A1"].value == "to be replaced"
    seen = driven(profile, book, "plan")
    assert str(seen["said"]).startswith("No plan was made")
    assert not (tmp_path / "layouts").exists()
