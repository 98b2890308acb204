"""What running from within Excel needs, and what of it is here."""

from __future__ import annotations

import importlib.metadata
import importlib.util
import os
import platform
import sys
from dataclasses import dataclass
from pathlib import Path

ADD_IN = "xlwings.xlam"


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
