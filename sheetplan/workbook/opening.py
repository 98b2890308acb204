"""Open a workbook with openpyxl for reading, in silence.

openpyxl warns on the screen of what it does not keep, such as a print area of whole columns. We only read
with it, so nothing is lost and the planner need not be told.
"""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any


def real_path(path: Path) -> Path:
    """The book itself where the path is a link to it: its rack and drawings lie beside that, not the link."""
    return path.resolve() if path.is_symlink() else path


def open_for_reading(path: Path, *, values: bool = False) -> Any:
    """The book, streamed; ``values`` gives what formulas show in place of the formulas."""
    import openpyxl

    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", module="openpyxl")
        return openpyxl.load_workbook(path, read_only=True, data_only=values)
