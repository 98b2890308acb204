"""The edge of a sheet, full or partly used."""

from __future__ import annotations

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.outline import Loop, rectangle


def edge_of(sheet: SheetSize | Remnant) -> Loop:
    """The outline of a full sheet or of a remnant."""
    return sheet.edge if isinstance(sheet, Remnant) else rectangle(sheet.length, sheet.width).outer
