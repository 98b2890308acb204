"""Make the Calc extension and bring it into LibreOffice."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
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


NOT_FOUND = 3
"""The code where LibreOffice's tool is not there, as for any file that cannot be read."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What to say, and the code to end with: 0, or LibreOffice's own where it refused."""

    sentence: str
    code: int = 0


def install(*more: str) -> Answer:
    """Install the extension with LibreOffice's own tool; ``more`` are further words for it.

    LibreOffice takes it from an administrator only for everybody on the machine.
    """
    everybody = is_administrator()
    with TemporaryDirectory(prefix="sheetplan-") as folder:
        file = Path(folder) / "sheetplan.oxt"
        file.write_bytes(extension())
        fault = _unopkg("add", "--force", "--suppress-license", *_whose(everybody), *more, str(file))
    whom = " for everybody on this machine" if everybody else ""
    return fault or Answer(f"Installed{whom}. Start LibreOffice again; its Calc then has a menu Sheetplan.")


def remove(*more: str) -> Answer:
    """Remove the extension."""
    return _unopkg("remove", *_whose(is_administrator()), *more, IDENTIFIER) or Answer("Removed.")


def is_administrator() -> bool:
    """Whether this process belongs to the administrator of a system that has one person for that."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def _whose(everybody: bool) -> tuple[str, ...]:
    return ("--shared",) if everybody else ()


def _unopkg(*arguments: str) -> Answer | None:
    """Run LibreOffice's tool for extensions; what went wrong, or None."""
    tool = shutil.which("unopkg")
    if tool is None:
        return Answer(
            "LibreOffice's tool unopkg was not found. Add the folder `program` of LibreOffice to the PATH, "
            "or install the extension by hand in Calc: Tools, Extensions.", NOT_FOUND,
        )  # fmt: skip
    done = subprocess.run([tool, *arguments], capture_output=True, text=True, check=False)
    said = (done.stderr or done.stdout).strip()
    # Some versions say what went wrong and end with 0 all the same.
    refused = done.returncode or ("ERROR:" in done.stderr.upper() and 1)
    return Answer(f"LibreOffice refused: {said}", int(refused)) if refused else None
