import io
import json
import sys
import xml.etree.ElementTree as ET
import zipfile

import pytest

from sheetplan.app.live import RUNS
from sheetplan.workbook.hosts import calc_install
from sheetplan.workbook.hosts.calc_install import command_for_runs, extension, install, remove

OXT = zipfile.ZipFile(io.BytesIO(extension()))


def test_the_extension_is_whole_and_always_the_same() -> None:
    assert extension() == extension()
    listed = [
        e.get("{http://openoffice.org/2001/manifest}full-path")
        for e in ET.fromstring(OXT.read("META-INF/manifest.xml"))
    ]
    assert set(listed) < set(OXT.namelist())
    for name in OXT.namelist():
        if name.endswith(".py"):
            compile(OXT.read(name), name, "exec")
        elif name.endswith((".xml", ".xcu")):
            ET.fromstring(OXT.read(name))


def test_it_starts_the_python_that_made_it() -> None:
    assert json.loads(OXT.read("python/command.json")) == [sys.executable, "-m", "sheetplan.cli.live"]
    assert command_for_runs("py")[0] == "py"


def test_every_menu_entry_is_a_run_that_there_is() -> None:
    text = OXT.read("Addons.xcu").decode()
    asked = {part.split("<")[0] for part in text.split("sheetplan.calc.Run?")[1:]}
    assert asked - {"stop"} <= set(RUNS)
    assert "stop" in asked


@pytest.mark.parametrize("act", [install, remove])
def test_without_libreoffice_there_is_a_sentence(act: object, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calc_install.shutil, "which", lambda _: None)
    assert "unopkg was not found" in act()  # type: ignore[operator]


def test_what_libreoffice_says_is_passed_on(tmp_path: object, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calc_install, "_unopkg", lambda *_: "LibreOffice refused: no")
    assert install() == "LibreOffice refused: no"
    monkeypatch.setattr(calc_install, "_unopkg", lambda *_: None)
    assert install().startswith("Installed")
    assert remove() == "Removed."
