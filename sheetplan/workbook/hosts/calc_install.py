"""Make the Calc extension and bring it into LibreOffice."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

IDENTIFIER = "sheetplan.calc"

_PARTS = (
    "META-INF/manifest.xml",
    "description.xml",
    "Addons.xcu",
    "python/run_from_calc.py",
    "python/pythonpath/calc_run.py",
    "python/pythonpath/calc_child.py",
    "python/pythonpath/calc_window.py",
    "python/pythonpath/calc_document.py",
    "python/pythonpath/calc_reading.py",
    "python/pythonpath/calc_charts.py",
)
_FIXED_DATE = (1980, 1, 1, 0, 0, 0)


def command_for_runs(python: str = sys.executable) -> list[str]:
    """Return the command that the extension starts: this Python, which has sheetplan."""
    return [python, "-m", "sheetplan.cli.live"]


def extension(command: Sequence[str] | None = None) -> bytes:
    """Return the extension (``.oxt``) as bytes, with the command that it starts."""
    root = files("sheetplan.workbook.hosts") / "calc_extension"
    memory = BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as file:
        for name in _PARTS:
            file.writestr(zipfile.ZipInfo(name, _FIXED_DATE), root.joinpath(name).read_bytes())
        content = json.dumps(list(command or command_for_runs()))
        file.writestr(zipfile.ZipInfo("python/command.json", _FIXED_DATE), content)
    return memory.getvalue()


def install() -> str:
    """Install the extension for this person with LibreOffice's own tool; what to say afterwards."""
    with TemporaryDirectory(prefix="sheetplan-") as folder:
        file = Path(folder) / "sheetplan.oxt"
        file.write_bytes(extension())
        fault = _unopkg("add", "--force", "--suppress-license", str(file))
    return fault or "Installed. Start LibreOffice again; its Calc then has a menu Sheetplan."


def remove() -> str:
    """Remove the extension; what to say afterwards."""
    return _unopkg("remove", IDENTIFIER) or "Removed."


def _unopkg(*arguments: str) -> str | None:
    """Run LibreOffice's tool for extensions; what went wrong, or None."""
    tool = shutil.which("unopkg")
    if tool is None:
        return (
            "LibreOffice's tool unopkg was not found. Add the folder `program` of LibreOffice to the PATH, "
            "or install the extension by hand in Calc: Tools, Extensions."
        )
    done = subprocess.run([tool, *arguments], capture_output=True, text=True, check=False)
    said = (done.stderr or done.stdout).strip()
    return None if done.returncode == 0 else f"LibreOffice refused: {said}"
