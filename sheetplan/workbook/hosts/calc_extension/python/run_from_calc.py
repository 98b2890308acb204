"""The Calc end of a run: reads the document's cells, starts sheetplan and draws what it is told.

Runs inside LibreOffice's own Python and imports nothing of sheetplan. All rules stand at the other
end; the messages are described in `calc_message`. The command to start stands in ``command.json``
beside this file.
"""

from __future__ import annotations

import json
import os
import queue
import subprocess
import threading
from typing import Any

import unohelper
from calc_document import Drawing, PageRefused
from calc_reading import inputs_of, read_document, read_named
from com.sun.star.awt.MessageBoxType import INFOBOX
from com.sun.star.task import XJobExecutor

_SERVICE = "sheetplan.calc.Run"
_STEP_SECONDS = 0.05
SAID, OWN_PAGE = "sheetplan_said", "sheetplan_page"
"""Names of the cell on the page Start for sentences, and of the first cell of pages that are ours."""

_NO_WINDOW = 0x08000000
"""Keeps Windows from opening a black window for the run."""

_FOREIGN = ("PYTHONPATH", "PYTHONHOME", "LD_LIBRARY_PATH", "URE_BOOTSTRAP", "UNO_PATH")
"""What LibreOffice sets for its own Python and another Python must not see."""

_running: dict[str, subprocess.Popen[str]] = {}
"""The run of each open document, by its address, so that a second menu entry can stop it."""


class Run(unohelper.Base, XJobExecutor):  # type: ignore[misc]
    """What the menu entries call."""

    def __init__(self, context: Any) -> None:
        self._context = context

    def trigger(self, what: str) -> None:
        """Start a run, or stop the one that is under way."""
        document = self._document()
        if what == "stop":
            child = _running.get(document.URL)
            if child is not None:
                _send(child, {"stop": True})
            return
        if document.URL in _running:
            self._tell(document, "A run of this workbook is under way already.")
            return
        try:
            self._run(document, what)
        except Exception as error:
            self._tell(document, f"sheetplan could not be run ({type(error).__name__}: {error}).")

    def _run(self, document: Any, what: str) -> None:
        if not document.URL.startswith("file:"):
            self._tell(
                document, "Save the workbook once, so that its drawings have a folder, then run again."
            )
            return
        sent = read_document(document)
        named = read_named(document)
        child = self._child()
        _running[document.URL] = child
        indicator = _indicator(document)
        try:
            path = unohelper.fileUrlToSystemPath(document.URL)
            _send(child, {"run": what, "path": path, "sheets": sent, "named": named})
            self._converse(document, child, sent, indicator)
        finally:
            del _running[document.URL]
            if indicator is not None:
                indicator.end()
            child.kill()
            child.wait()

    def _converse(self, document: Any, child: Any, sent: Any, indicator: Any) -> None:
        """Do what the run says until it ends; the window stays alive meanwhile."""
        lines: queue.Queue[str | None] = queue.Queue()
        threading.Thread(target=_collect, args=(child.stdout, lines), daemon=True).start()
        toolkit = self._service("com.sun.star.awt.Toolkit")
        while True:
            try:
                line = lines.get(timeout=_STEP_SECONDS)
            except queue.Empty:
                toolkit.processEventsToIdle()
                continue
            if line is None:
                self._tell(
                    document, "sheetplan ended without a word; run it from the command line to see why."
                )
                return
            message = json.loads(line)
            if "progress" in message and indicator is not None:
                indicator.setValue(int(100 * message["progress"][0]))
                indicator.setText("sheetplan: " + message["progress"][1])
            elif "note" in message:
                _note(document, message["note"])
            elif "tell" in message:
                self._box(document, message["tell"])
            elif "read" in message:
                sent = read_document(document)
                _send(child, {"sheets": sent})
            elif "write" in message:
                _send(child, self._write(document, message["write"], sent))
                sent = None  # what it holds now is ours until the run asks for it
            elif "end" in message:
                return

    def _write(self, document: Any, write: Any, sent: Any) -> dict[str, Any]:
        """Write and draw, as one step that can be undone; the answer to send.

        What was saved cannot be undone here: files beside the book go with it.
        """
        if sent is not None and inputs_of(read_document(document)) != inputs_of(sent):
            return {"changed": True}
        if write["save"] and document.isReadonly():
            return {"refused": "The workbook is open for reading only, so it could not be saved."}
        try:
            Drawing(self._context, document, write["mark"]).draw(write)
        except PageRefused as refused:
            return {"refused": str(refused)}
        except Exception as error:
            what = f"the pages could not be drawn: {type(error).__name__}: {error}"
            return {"written": True, "unsaved": what} if write["save"] else {"refused": f"Calc: {what}."}
        if not write["save"]:
            return {"written": True}
        try:
            document.store()
        except Exception as error:
            return {"written": True, "unsaved": f"{type(error).__name__}: {error}"}
        document.UndoManager.clear()
        return {"written": True}

    def _tell(self, document: Any, sentence: str) -> None:
        """Show a sentence in the workbook, and in a box where somebody is looking."""
        _note(document, sentence)
        self._box(document, sentence)

    def _box(self, document: Any, sentence: str) -> None:
        if _said(document) is None:
            _on_problems(document, sentence)
        controller = document.CurrentController
        if controller is None or os.environ.get("SHEETPLAN_SILENT"):
            return
        window = controller.Frame.ContainerWindow
        toolkit = self._service("com.sun.star.awt.Toolkit")
        toolkit.createMessageBox(window, INFOBOX, 1, "sheetplan", sentence).execute()

    def _child(self) -> subprocess.Popen[str]:
        with open(os.path.join(os.path.dirname(__file__), "command.json"), encoding="utf-8") as file:
            command = json.load(file)
        environment = {k: v for k, v in os.environ.items() if k not in _FOREIGN}
        child: subprocess.Popen[str] = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
            env=environment,
            creationflags=_NO_WINDOW if os.name == "nt" else 0,
        )
        return child

    def _document(self) -> Any:
        desktop = self._service("com.sun.star.frame.Desktop")
        document = desktop.CurrentComponent
        if document is None or not hasattr(document, "Sheets"):
            open_ones = list(desktop.Components)
            document = next(d for d in open_ones if hasattr(d, "Sheets"))
        return document

    def _service(self, name: str) -> Any:
        return self._context.ServiceManager.createInstanceWithContext(name, self._context)


def _said(document: Any) -> Any:
    """The cell of the page Start that says how the last run went; None in a book without it."""
    names = document.NamedRanges
    cells = names.getByName(SAID).ReferredCells if names.hasByName(SAID) else None
    return None if cells is None else cells.getCellByPosition(0, 0)


def _note(document: Any, sentence: str) -> None:
    """Show a sentence on the page Start; that is nothing to undo, and nothing to ask about on closing."""
    cell, changed = _said(document), document.isModified()
    if cell is None:
        return
    document.UndoManager.lock()
    try:
        cell.setString(sentence)
    finally:
        document.UndoManager.unlock()
    if not changed:
        document.setModified(False)


def _on_problems(document: Any, sentence: str) -> None:
    sheets = document.Sheets
    if sheets.hasByName("Problems") and sheets.getByName("Problems").NamedRanges.hasByName(OWN_PAGE):
        sheets.getByName("Problems").getCellByPosition(0, 1).setString(sentence)


def _send(child: Any, message: dict[str, Any]) -> None:
    child.stdin.write(json.dumps(message) + "\n")
    child.stdin.flush()


def _collect(stream: Any, lines: queue.Queue[str | None]) -> None:
    for line in stream:
        lines.put(line)
    lines.put(None)


def _indicator(document: Any) -> Any:
    """The bar at the lower edge of the window, where there is a window."""
    if document.CurrentController is None:
        return None
    indicator = document.CurrentController.Frame.createStatusIndicator()
    indicator.start("sheetplan", 100)
    return indicator


g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(Run, _SERVICE, ("com.sun.star.task.Job",))
