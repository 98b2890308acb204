"""What a person sees of a run: the page Start, the bar at the window's lower edge, and boxes."""

from __future__ import annotations

import contextlib
import os
from typing import Any

from calc_document import OWN_PAGE
from com.sun.star.awt.MessageBoxType import INFOBOX

SAID = "sheetplan_said"
"""Name of the cell on the page Start for sentences."""


class Window:
    """The places of one document where a run shows something."""

    def __init__(self, context: Any, document: Any) -> None:
        self._context, self._document = context, document
        self._bar: Any = None

    def progress(self, share: float, sentence: str) -> None:
        """Show how far the run is, where there is a window."""
        controller = self._document.CurrentController
        if self._bar is None and controller is not None:
            self._bar = controller.Frame.createStatusIndicator()
            self._bar.start("sheetplan", 100)
        if self._bar is not None:
            self._bar.setValue(int(100 * share))
            self._bar.setText("sheetplan: " + sentence)

    def end(self) -> None:
        """Give the bar back; the window may have gone with its document."""
        bar, self._bar = self._bar, None
        if bar is not None:
            with contextlib.suppress(Exception):
                bar.end()

    def note(self, sentence: str) -> None:
        """Show a sentence on the page Start; that is nothing to undo, and nothing to ask about on closing."""
        cell, changed = self._said(), self._document.isModified()
        if cell is None or self._document.isReadonly():
            return
        undo = self._document.UndoManager
        undo.lock()
        try:
            cell.setString(sentence)
        finally:
            undo.unlock()
        if not changed:
            self._document.setModified(False)

    def box(self, sentence: str) -> None:
        """Show a sentence in a box where somebody is looking, and in the workbook in any case."""
        if self._said() is None and not self._document.isReadonly():
            self._on_problems(sentence)
        controller = self._document.CurrentController
        if controller is None or os.environ.get("SHEETPLAN_SILENT"):
            return
        toolkit = self._context.ServiceManager.createInstanceWithContext(
            "com.sun.star.awt.Toolkit", self._context
        )
        window = controller.Frame.ContainerWindow
        toolkit.createMessageBox(window, INFOBOX, 1, "sheetplan", sentence).execute()

    def _said(self) -> Any:
        """The cell of the page Start that says how the last run went; None in a book without it."""
        names = self._document.NamedRanges
        cells = names.getByName(SAID).ReferredCells if names.hasByName(SAID) else None
        return None if cells is None else cells.getCellByPosition(0, 0)

    def _on_problems(self, sentence: str) -> None:
        sheets = self._document.Sheets
        if sheets.hasByName("Problems") and sheets.getByName("Problems").NamedRanges.hasByName(OWN_PAGE):
            sheets.getByName("Problems").getCellByPosition(0, 1).setString(sentence)
