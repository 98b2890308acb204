"""Drawings in and out: reading DXF and SVG into outlines, judging them, writing layouts.

`read_drawing` and `report_text` are loaded when first asked for, so that what only needs names
from this folder does not wait for geometry.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sheetplan.drawings.drawing_files import read_drawing, read_drawings
    from sheetplan.drawings.report import report_text

__all__ = ["read_drawing", "read_drawings", "report_text"]

_HOMES = {
    "read_drawing": "sheetplan.drawings.drawing_files",
    "read_drawings": "sheetplan.drawings.drawing_files",
    "report_text": "sheetplan.drawings.report",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
