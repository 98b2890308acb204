"""Make this folder's demo book, what a plan writes from it, and the pictures of the README.

Run it with the project installed: ``python examples/make.py``. The pictures of pages need
LibreOffice and poppler-utils; the book, its plan and the picture of a layout do not.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from sheetplan.app.check import check_tables
from sheetplan.pages.drawing.files import picture_png
from sheetplan.rack.kept_plan import EXACT_FILE, PlannedLayout, kept_plan_of
from sheetplan.workbook.reading.book import read_tables

HERE = Path(__file__).parent
BOOK = HERE / "harbour_workshop.xlsx"
PICTURES = HERE / "pictures"


def main() -> None:
    """Make everything anew."""
    backups = [BOOK.with_suffix(".backup.xlsx"), BOOK.with_name(f".{BOOK.stem}.backup.json")]
    for old in (BOOK, *backups):
        old.unlink(missing_ok=True)
    for folder in ("layouts", "drawings"):
        shutil.rmtree(HERE / folder, ignore_errors=True)
    sheetplan("new", "--demo", BOOK.name)
    sheetplan("plan", BOOK.name)
    for old in backups:
        old.unlink()
    PICTURES.mkdir(exist_ok=True)
    draw_layout()
    if shutil.which("soffice") and shutil.which("pdftoppm"):
        draw()
    else:
        print("no LibreOffice or poppler-utils here: the pictures stay as they are")


def sheetplan(*words: str) -> None:
    """Run the command line in this folder."""
    subprocess.run([sys.executable, "-m", "sheetplan", *words], cwd=HERE, check=True)


def draw_layout() -> None:
    """Draw the layout with the most kinds of parts in a gauge where true shapes paid."""
    (plan_folder,) = HERE.glob("layouts/plan-*")
    groups = json.loads((plan_folder / "plan.json").read_text(encoding="utf-8"))["groups"]
    paid = {group["gauge"] for group in groups if group["note"].startswith("True shape saved")}
    kept = kept_plan_of((plan_folder / EXACT_FILE).read_text(encoding="utf-8"))

    def kinds(one: PlannedLayout) -> tuple[bool, int, int]:
        parts = [placement.part for placement in one.layout.placements]
        return one.group.label in paid, len(set(parts)), len(parts)

    job = check_tables(read_tables(BOOK), BOOK, rack=False).job
    if job is None:
        raise SystemExit(f"{BOOK.name} cannot be read again")
    chosen = max(kept.layouts.values(), key=kinds)
    (PICTURES / "layout.png").write_bytes(picture_png(chosen.layout, job, dots_per_inch=110.0))


def draw() -> None:
    """Draw the page Plan, the first layout's row of the page Layouts, and the first ticket."""
    (plan_folder,) = HERE.glob("layouts/plan-*")
    with tempfile.TemporaryDirectory() as folder:
        profile = f"-env:UserInstallation={Path(folder).as_uri()}/profile"
        subprocess.run(
            ["soffice", profile, "--headless", "--convert-to", "pdf", "--outdir", folder, str(BOOK)],
            check=True, capture_output=True,
        )  # fmt: skip
        book = Path(folder) / f"{BOOK.stem}.pdf"
        picture(book, page_that_says(book, "The plan"), "plan_page")
        picture(book, page_that_says(book, "Layouts to cut"), "layouts_page")
        tickets = plan_folder / "tickets.pdf"
        picture(tickets, page_that_says(tickets, "sheet squared"), "ticket")


def page_that_says(pdf: Path, words: str) -> int:
    """The first page that begins with these words, or else has them."""
    command = ["pdftotext", "-layout", str(pdf), "-"]
    pages = subprocess.run(command, check=True, capture_output=True, text=True)
    texts = list(enumerate(pages.stdout.split("\f"), start=1))
    found = [number for number, text in texts if text.lstrip().startswith(words)]
    return (found or [number for number, text in texts if words in text])[0]


def picture(pdf: Path, page: int, name: str) -> None:
    """Draw one page of a PDF as a PNG among the pictures."""
    one_page = ["-f", str(page), "-l", str(page), "-singlefile"]
    command = ["pdftoppm", "-r", "90", "-png", *one_page, str(pdf), str(PICTURES / name)]
    subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
