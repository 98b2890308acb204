"""What the menu entries in Calc call: starts a run for the open document, or stops the one under way.

Runs inside LibreOffice's own Python and imports nothing of sheetplan. All rules stand at the other
end; the messages are those of `calc_run` here and of ``workbook/hosts/calc.py`` there. The command to start
stands in ``command.json`` beside this file.
"""

from __future__ import annotations

import json
import os
from typing import Any

import unohelper
from calc_run import Run
from com.sun.star.awt import XCallback
from com.sun.star.task import XJobExecutor

_SERVICE = "sheetplan.calc.Run"

_under_way: list[Run] = []
"""The runs of all open documents. A run knows its document, whatever its address becomes."""


class Entry(unohelper.Base, XJobExecutor):  # type: ignore[misc]
    """What a menu entry calls."""

    def __init__(self, context: Any) -> None:
        self._context = context

    def trigger(self, what: str) -> None:
        """Have it done in the program's main thread, as soon as that is free; the menu closes first."""
        document = self._document()
        later = self._context.ServiceManager.createInstanceWithContext(
            "com.sun.star.awt.AsyncCallback", self._context
        )
        later.addCallback(_Asked(self._context, document, what), None)

    def _document(self) -> Any:
        desktop = self._context.ServiceManager.createInstanceWithContext(
            "com.sun.star.frame.Desktop", self._context
        )
        document = desktop.CurrentComponent
        if document is None or not hasattr(document, "Sheets"):
            document = next(one for one in list(desktop.Components) if hasattr(one, "Sheets"))
        return document


class _Asked(unohelper.Base, XCallback):  # type: ignore[misc]
    """One menu entry that was chosen in one document."""

    def __init__(self, context: Any, document: Any, what: str) -> None:
        self._context, self._document, self._what = context, document, what

    def notify(self, _: Any) -> None:
        """Start the run, or stop the one that is under way."""
        mine = next((run for run in _under_way if run.document == self._document), None)
        if self._what == "stop":
            if mine is not None:
                mine.stop()
        elif mine is not None:
            mine.say("A run of this workbook is under way already.")
        else:
            run = Run(self._context, self._document, _under_way.remove)
            _under_way.append(run)
            run.start(self._what, _command())


def _command() -> list[str]:
    with open(os.path.join(os.path.dirname(__file__), "command.json"), encoding="utf-8") as file:
        return [str(word) for word in json.load(file)]


g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(Entry, _SERVICE, ("com.sun.star.task.Job",))
