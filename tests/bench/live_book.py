"""A plan of 700 pieces in an open book: processor seconds of the host beside those of the run itself.

For Excel the host is xlwings and the drawing code over the Excel of the tests, so Excel's own time is
not in it; for Calc it is LibreOffice, with the extension, without a screen.
"""

import os
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import openpyxl

from sheetplan.app.live import run_live
from sheetplan.app.new import write_new
from sheetplan.planning.progress import never
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.excel import ExcelBook
from tests.app.cut_book import fill
from tests.bench.options import Options
from tests.bench.rows import Row
from tests.ready import make_ready
from tests.workbook.hosts.real_calc import calc, profile_with_extension, python_with_uno

PIECES, TYPES = 700, 28
SECONDS = 5.0


def instances(options: Options) -> Sequence[str]:
    return ("excel", "calc")


def solve(instance: str, options: Options) -> Row:
    seconds = options.seconds or SECONDS
    with tempfile.TemporaryDirectory(prefix="sheetplan-bench-") as folder:
        book = book_of_700(Path(folder), seconds)
        row = in_excel(book) if instance == "excel" else in_calc(book)
    return {"instance": instance, "pieces": PIECES, "asked": seconds, **row}


def summary(rows: Sequence[Row], options: Options) -> Sequence[str]:
    return ()


def book_of_700(folder: Path, seconds: float) -> Path:
    """One gauge, 28 kinds of plain parts, 25 of each."""
    path = folder / "jobs.xlsx"
    write_new(path, demo=False, units=Units.INCH)
    book = openpyxl.load_workbook(path)
    metal = {"Material": "mild steel", "Thickness": "10 ga"}
    names = [f"P-{n:02d}" for n in range(TYPES)]
    fill(book, "Parts", [{"Part": name, **metal, "Width": 2 + n % 7 * 1.25, "Length": 4 + n % 11 * 1.5}
                         for n, name in enumerate(names)])  # fmt: skip
    fill(book, "Orders", [{"Order": f"H-{n}", "Item": name, "Quantity": PIECES // TYPES}
                          for n, name in enumerate(names)])  # fmt: skip
    fill(book, "Stock", [{"Sheet": "MS10", **metal, "Width": 48, "Length": 96, "On hand": 4,
                          "Price": 140, "Price per": "sheet"}])  # fmt: skip
    for row in book["Settings"].iter_rows():
        if row[0].value == "Seconds to spend":
            row[1].value = seconds
    book.save(path)
    return path


class Timed(ExcelBook):
    """Counts the processor's seconds within the host."""

    spent = 0.0

    def _counted(self, work: Callable[..., Any], *arguments: Any, **more: Any) -> Any:
        start = time.process_time()
        try:
            return work(*arguments, **more)
        finally:
            self.spent += time.process_time() - start

    def read(self) -> Any:
        return self._counted(super().read)

    def write(self, pages: Any, units: Units) -> Any:
        return self._counted(super().write, pages, units)

    def progress(self, progress: Any) -> None:
        self._counted(super().progress, progress)


def in_excel(book: Path) -> Row:
    from tests.workbook.hosts.excel_engine import opened

    make_ready()
    host = Timed(opened(book))
    start = times()
    assert run_live(host, "plan", never)
    whole = times() - start
    return {"host seconds": host.spent, "run seconds": whole - host.spent}


def times() -> float:
    """Processor seconds of this process and of its helpers that have ended."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def in_calc(book: Path) -> Row:
    """In a real LibreOffice without a screen, its extension installed for the purpose."""
    if python_with_uno() is None:
        return {"skipped": "needs LibreOffice with its Python bridge (python3-uno) installed"}
    with profile_with_extension() as profile:
        if profile is None:
            return {"skipped": "unopkg refuses the administrator, and setpriv is not there"}
        with calc(profile) as program:
            program.open(str(book))
            host, ran = program.seconds()
            said = program.run("plan")
            assert "was made" in said, said
            host_after, ran_after = program.seconds()
    return {"host seconds": host_after - host, "run seconds": ran_after - ran}
