import io
import json
import subprocess
import sys
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from typer.testing import CliRunner

import sheetplan
from sheetplan.app.live import RUNS
from sheetplan.cli.host_commands import app
from sheetplan.workbook.hosts import calc
from sheetplan.workbook.hosts.calc import Answer, extension, install, is_administrator, remove
from tests.workbook.hosts.real_calc import as_somebody, python_with_uno, surroundings

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


def test_every_menu_entry_is_a_run_that_there_is() -> None:
    text = OXT.read("Addons.xcu").decode()
    asked = {part.split("<")[0] for part in text.split("sheetplan.calc.Run?")[1:]}
    assert asked - {"stop"} <= set(RUNS)
    assert "stop" in asked


@pytest.mark.parametrize("act", [install, remove])
def test_without_libreoffice_there_is_a_sentence(
    act: Callable[[], Answer], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calc.shutil, "which", lambda _: None)
    assert "unopkg was not found" in act().sentence
    assert act().code == 3


@pytest.mark.parametrize("script", ["echo no >&2; exit 7", "echo 'ERROR: no' >&2"])
def test_what_libreoffice_says_is_passed_on_with_its_code(
    script: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tool = tmp_path / "unopkg"
    tool.write_text(f"#!/bin/sh\n{script}\n")
    tool.chmod(0o755)
    monkeypatch.setattr(calc.shutil, "which", lambda _: str(tool))
    for act in (install, remove):
        assert act().sentence.startswith("LibreOffice refused: ")
        assert act().code == (7 if "exit 7" in script else 1)
    done = CliRunner().invoke(app, ["calc", "install"])
    assert done.exit_code == (7 if "exit 7" in script else 1)
    assert "LibreOffice refused" in done.output


def test_the_administrator_installs_for_everybody(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tool = tmp_path / "unopkg"
    tool.write_text(f'#!/bin/sh\necho "$@" > {tmp_path}/asked\n')
    tool.chmod(0o755)
    monkeypatch.setattr(calc.shutil, "which", lambda _: str(tool))
    for root, words in ((True, "--shared"), (False, "")):
        monkeypatch.setattr(calc, "is_administrator", lambda root=root: root)
        assert install().code == 0
        assert ("--shared" in (tmp_path / "asked").read_text()) == root
        assert ("for everybody" in install().sentence) == bool(words)


@pytest.mark.slow
@pytest.mark.skipif(python_with_uno() is None, reason="needs LibreOffice with python3-uno installed")
@pytest.mark.parametrize("administrator", [False, True])
def test_the_real_tool_installs_lists_and_removes(administrator: bool, tmp_path: Path) -> None:
    """In a clean profile, as an ordinary person and, with folders for everybody, as the administrator."""
    if administrator and not is_administrator():
        pytest.skip("the tests are not run by the administrator")
    with TemporaryDirectory(prefix="sheetplan-calc-") as name:
        folder = Path(name)
        somebody = [] if administrator else as_somebody(folder)
        if somebody is None:
            pytest.skip("setpriv is not there to be somebody else")
        places = [f"-env:UserInstallation=file://{name}/profile"]
        if administrator:
            places += [f"-env:UNO_SHARED_PACKAGES=file://{name}/shared",
                       f"-env:UNO_SHARED_PACKAGES_CACHE=file://{name}/cache"]  # fmt: skip
        act = (
            "from sheetplan.workbook.hosts.calc import {0}; import sys; "
            f"answer = {{0}}(*{places}); print(answer.sentence); sys.exit(answer.code)"
        )
        package = str(Path(sheetplan.__file__).parents[1])
        surround = surroundings(HOME=name, PYTHONPATH=package, PYTHONDONTWRITEBYTECODE="1")
        said = []
        for deed in ("install", "remove", "remove"):
            command = [*somebody, sys.executable, "-c", act.format(deed)]
            done = subprocess.run(
                command, capture_output=True, text=True, check=False, env=surround, cwd=name
            )
            said.append((done.returncode, done.stdout + done.stderr))
    assert said[0][0] == 0, said
    assert said[0][1].startswith("Installed")
    assert said[1] == (0, "Removed.\n")
    assert said[2][0] != 0  # it is not there any more, and LibreOffice says so
    assert "LibreOffice refused" in said[2][1]
