"""Drawings in and out: reading DXF and SVG into outlines, judging them, writing layouts.

`read_drawing` and `report_text` are loaded when first asked for, so that what only needs names
from this folder does not wait for geometry.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sheetplan.drawings.reading.report import report_text
    from sheetplan.drawings.reading.store import read_drawing, read_drawings

__all__ = ["read_drawing", "read_drawings", "report_text"]

_HOMES = {
    "read_drawing": "sheetplan.drawings.reading.store",
    "read_drawings": "sheetplan.drawings.reading.store",
    "report_text": "sheetplan.drawings.reading.report",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
