"""Draw workbooks with LibreOffice, where it is installed, and look at the pages as pictures."""

from __future__ import annotations

import os
import shutil
import subprocess
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


def converted(book: Path, kind: str, folder: Path) -> Path:
    """Open the book in LibreOffice with a profile of its own and save it in another form."""
    folder.mkdir(exist_ok=True)
    profile = f"-env:UserInstallation=file://{folder.parent / 'profile'}"
    assert SOFFICE is not None
    subprocess.run(
        [SOFFICE, profile, "--headless", "--convert-to", kind, "--outdir", str(folder), str(book)],
        check=True,
        capture_output=True,
        timeout=180,
        env={**os.environ, "HOME": str(folder.parent)},
    )
    return folder / f"{book.stem}.{kind}"


def pictures(book: Path, folder: Path, dots_per_inch: int = 60) -> list[bytes]:
    """Every printed page of the book as a PNG, in order."""
    pdf = converted(book, "pdf", folder)
    assert PDFTOPPM is not None
    subprocess.run([PDFTOPPM, "-r", str(dots_per_inch), "-png", str(pdf), str(folder / "page")], check=True)
    return [path.read_bytes() for path in sorted(folder.glob("page-*.png"))]
