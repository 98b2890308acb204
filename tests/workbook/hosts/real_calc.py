"""A real LibreOffice without a screen for tests: a profile with the extension, and a session that stays."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

from sheetplan.workbook.hosts.calc import extension

SESSION = Path(__file__).with_name("calc_session.py")
NOBODY = "65534"


@lru_cache(maxsize=1)
def python_with_uno() -> str | None:
    """A Python that has LibreOffice's bridge, where LibreOffice and its tool for extensions are."""
    if not (shutil.which("soffice") and shutil.which("unopkg")):
        return None
    for python in ("/usr/bin/python3", shutil.which("python3"), sys.executable):
        if (
            python
            and subprocess.run([python, "-c", "import uno"], capture_output=True, check=False).returncode == 0
        ):
            return python
    return None


def surroundings(**more: str) -> dict[str, str]:
    """The environment without virtual ones on its path: LibreOffice would take one for its own Python."""
    folders = os.environ.get("PATH", "").split(os.pathsep)
    kept = [folder for folder in folders if not Path(folder, "..", "pyvenv.cfg").exists()]
    return {**os.environ, "PATH": os.pathsep.join(kept), **more}


def as_somebody(folder: Path) -> list[str] | None:
    """The words before a command that make it run as an ordinary person, who may write into a folder.

    None where this process is the administrator and cannot be somebody else.
    """
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return []
    if shutil.which("setpriv") is None:
        return None
    folder.chmod(0o777)
    return ["setpriv", "--reuid", NOBODY, "--regid", NOBODY, "--clear-groups"]


@contextmanager
def profile_with_extension() -> Iterator[Path | None]:
    """A profile in which LibreOffice's own tool has installed the extension; None where it cannot."""
    with tempfile.TemporaryDirectory(prefix="sheetplan-calc-") as name:
        folder = Path(name)
        file = folder / "sheetplan.oxt"
        file.write_bytes(extension())
        somebody = as_somebody(folder)
        if somebody is None:
            yield None
            return
        command = ["unopkg", "add", "-f", "-s", f"-env:UserInstallation=file://{folder}/profile", str(file)]
        subprocess.run(
            [*somebody, *command], check=True, timeout=100, env=surroundings(HOME=name), capture_output=True,
            cwd=name,
        )  # fmt: skip
        yield folder / "profile"


LOCALE_ITEM = (
    '<item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale" oor:op="fuse">'
    "<value>{locale}</value></prop></item>"
)


def speak(profile: Path, locale: str) -> None:
    """Set the program's locale, which decides how numbers and dates are written."""
    file = profile / "user" / "registrymodifications.xcu"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("</oor:items>", LOCALE_ITEM.format(locale=locale) + "</oor:items>"), "utf-8")


class Failed(Exception):
    """A deed that the program refused, or its end."""


class Calc:
    """A LibreOffice that stays open for many cases; any deed of `calc_session.Session` is a method."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def __getattr__(self, deed: str) -> Any:
        def do(*needed: Any) -> Any:
            assert self._process.stdin is not None
            assert self._process.stdout is not None
            try:
                self._process.stdin.write(json.dumps([deed, *needed]) + "\n")
                self._process.stdin.flush()
                line = self._process.stdout.readline()
            except BrokenPipeError:
                line = ""
            if not line:
                raise Failed(f"{deed}: the session ended")
            answer = json.loads(line)
            if "failed" in answer:
                raise Failed(f"{deed}: {answer['failed']}")
            return answer["gave"]

        return do


@contextmanager
def calc(profile: Path, locale: str = "") -> Iterator[Calc]:
    """A running LibreOffice; ``locale`` such as de-DE, else the system's."""
    if locale:
        speak(profile, locale)
    python = python_with_uno()
    assert python is not None
    process = subprocess.Popen(
        [python, str(SESSION), str(profile)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env=surroundings(SHEETPLAN_SILENT="1"),
    )  # fmt: skip
    assert process.stdout is not None
    office = json.loads(process.stdout.readline() or "{}").get("ready")
    try:
        assert office, "LibreOffice did not start"
        yield Calc(process)
    finally:
        process.stdin.close() if process.stdin else None
        try:
            process.wait(timeout=60)
        except subprocess.TimeoutExpired:  # waiting for an answer of a program that hangs
            process.kill()
            process.wait()
        with suppress(ProcessLookupError, TypeError):
            os.killpg(office, signal.SIGKILL)
