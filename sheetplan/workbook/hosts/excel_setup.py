"""What running from within Excel needs, what of it is here, and what a person has to look at."""

from __future__ import annotations

import importlib.metadata
import importlib.util
import os
import platform
import sys
from dataclasses import dataclass
from pathlib import Path

ADD_IN = "xlwings.xlam"

CHECKLIST: tuple[tuple[str, str], ...] = (
    (
        "Run `xlwings addin install`, then start Excel.",
        "A tab xlwings stands at the right end of the ribbon.",
    ),
    (
        "On that tab, in Interpreter, enter the Python that `sheetplan excel` names.",
        "The field shows the path and keeps it after Excel is started again.",
    ),
    (
        "Run `sheetplan new --demo harbour.xlsx`, open the book in Excel.",
        "The book opens without a repair message; a file harbour.py stands beside it.",
    ),
    (
        "Press Run main on the xlwings tab.",
        "The status bar counts up; then Plan, Buy, Layouts, Made and Problems are filled, "
        "and you are on the page where you were.",
    ),
    (
        "Look at Layouts.",
        "One picture in each row, sharp at 100 %, none over another; a link opens its drawing.",
    ),
    ("Press Run main again.", "The same number of pictures; no page twice; no repair message after saving."),
    (
        "On Parts, write `ten` in a width and press Run main.",
        "The row's Message says what is wrong; Problems lists it with a link; no box with program text.",
    ),
    (
        "While a run is under way, make an empty file harbour.stop beside the book.",
        "The run ends within seconds with the best plan so far; the file is gone.",
    ),
    (
        "While a run is under way, change a quantity on Orders (macOS; Excel for Windows is busy).",
        "A box says that the inputs were changed and nothing was written.",
    ),
    (
        "Set a filter on Orders and select a cell, then press Run main.",
        "Filter and selection are as before.",
    ),
)
"""Steps that no test here can take, each with what should be seen. Excel itself is needed for them."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is needed: what, whether it is here, and what to do if not."""

    what: str
    here: bool
    detail: str


def findings() -> tuple[Finding, ...]:
    """Look at this machine."""
    return (_python(), _excel(), _xlwings(), _add_in())


def add_in_places() -> tuple[Path, ...]:
    """Folders from which Excel loads add-ins on starting, on this system."""
    if sys.platform == "win32":
        return (Path(os.environ.get("APPDATA", "")) / "Microsoft" / "Excel" / "XLSTART",)
    if sys.platform == "darwin":
        office = Path.home() / "Library" / "Group Containers" / "UBF8T346G9.Office"
        return (office / "User Content.localized" / "Startup.localized" / "Excel",)
    return ()


def _python() -> Finding:
    return Finding("Python", True, f"{sys.executable} ({platform.python_version()})")


def has_excel() -> bool:
    """Whether this system is one that Excel is made for."""
    return sys.platform in ("win32", "darwin")


def _excel() -> Finding:
    here = has_excel()
    detail = (
        "can be used if Excel is installed"
        if here
        else f"there is no Excel for {platform.system()}; use `sheetplan plan` or the Calc extension"
    )
    return Finding("Excel's system", here, detail)


def _xlwings() -> Finding:
    if importlib.util.find_spec("xlwings") is None:
        return Finding("xlwings", False, 'not installed: `pip install "sheetplan[excel]"`')
    return Finding("xlwings", True, importlib.metadata.version("xlwings"))


def _add_in() -> Finding:
    places = add_in_places()
    found = next((place / ADD_IN for place in places if (place / ADD_IN).exists()), None)
    if found is not None:
        return Finding("xlwings add-in", True, str(found))
    return Finding("xlwings add-in", False, "not installed: `xlwings addin install`, with Excel closed")
