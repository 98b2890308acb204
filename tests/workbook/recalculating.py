"""Have LibreOffice work out every formula of a book anew, whatever results the file holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl

from tests.workbook.rendering import converted

_ALWAYS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">
<value>0</value></prop></item></oor:items>
"""


def recalculated(book: Path, folder: Path) -> Any:
    """The book with LibreOffice's own results, as openpyxl reads them."""
    return openpyxl.load_workbook(converted(book, "xlsx", folder / "anew", _ALWAYS), data_only=True)
