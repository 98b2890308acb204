"""Draw workbooks with LibreOffice, where it is installed, and look at the pages as pictures."""

from __future__ import annotations

import atexit
import os
import shutil
import signal
import subprocess
import tempfile
from functools import cache
from pathlib import Path

import pytest

SOFFICE = shutil.which("soffice")
PDFTOPPM = shutil.which("pdftoppm")

needs_libreoffice = pytest.mark.skipif(
    SOFFICE is None or PDFTOPPM is None, reason="needs LibreOffice (soffice) and poppler (pdftoppm) installed"
)

CARLITO = Path("/usr/share/fonts/truetype/crosextra/Carlito-Regular.ttf")
"""The open font with the metrics of Calibri, which our pages are set in."""

needs_carlito = pytest.mark.skipif(
    not CARLITO.exists(), reason="needs the font Carlito installed: in another one the pages are wider"
)


@cache
def _profile(settings: str) -> Path:
    """A profile of this process and of such settings: to make a new one takes longer than to convert."""
    folder = Path(tempfile.mkdtemp(prefix="sheetplan-office-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    if settings:
        (folder / "user").mkdir()
        (folder / "user" / "registrymodifications.xcu").write_text(settings, encoding="utf-8")
    return folder


def converted(book: Path, kind: str, folder: Path, settings: str = "") -> Path:
    """Open the book in LibreOffice, with settings as its own files hold them, and save it in another form."""
    folder.mkdir(parents=True, exist_ok=True)
    profile = _profile(settings)
    assert SOFFICE is not None
    office = subprocess.Popen(
        [SOFFICE, f"-env:UserInstallation=file://{profile}", "--headless", "--convert-to", kind,
         "--outdir", str(folder), str(book)],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env={**os.environ, "HOME": str(profile)},
        start_new_session=True,
    )  # fmt: skip
    try:
        assert office.wait(timeout=180) == 0
    except subprocess.TimeoutExpired:
        os.killpg(office.pid, signal.SIGKILL)  # what it has started would hold the profile
        office.wait()
        raise
    return folder / f"{book.stem}.{kind}"


def pictures(book: Path, folder: Path, dots_per_inch: int = 60) -> list[bytes]:
    """Every printed page of the book as a PNG, in order."""
    pdf = converted(book, "pdf", folder)
    assert PDFTOPPM is not None
    subprocess.run([PDFTOPPM, "-r", str(dots_per_inch), "-png", str(pdf), str(folder / "page")], check=True)
    return [path.read_bytes() for path in sorted(folder.glob("page-*.png"))]
