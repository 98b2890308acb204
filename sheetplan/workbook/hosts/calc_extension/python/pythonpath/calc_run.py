"""One run of an open document, from the menu entry to its last word.

A run belongs to its document. It works in the program's main thread, a message at a time, and gives
the thread back between them, so that typing goes on. Saved under another name, the document is told
of by its new path; closed or loaded anew, it takes its run along: the process that worked for it ends
within seconds.

Choices
-------
A loop that keeps the window alive within the menu entry was left: documents were closed in it. Drawing is no
step to undo and ends the list of them: pictures and charts taken back one by one left pages half old and
could end the program.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any

import unohelper
from calc_child import Child
from calc_document import Drawing, PageRefused
from calc_reading import facts_of, inputs_of, read_document, read_named
from calc_window import Window
from com.sun.star.awt import XCallback
from com.sun.star.document import XDocumentEventListener
from com.sun.star.util import CloseVetoException, XCloseListener, XModifyListener

_BEGINS = ("OnSave", "OnSaveAs", "OnCopyTo")
"""Events between which and their ends the document is left alone."""

_ENDS = tuple(begin + end for begin in _BEGINS for end in ("Done", "Failed"))


class Run(unohelper.Base, XCallback, XCloseListener, XDocumentEventListener, XModifyListener):  # type: ignore[misc]
    """The run of a document; ``ended`` is called with it once it is over."""

    def __init__(self, context: Any, document: Any, ended: Callable[[Any], None]) -> None:
        self.document = document
        self._context, self._ended = context, ended
        self._window = Window(context, document)
        self._child: Child | None = None
        self._address = document.URL
        self._sent: Any = None
        """What was read last; None once the run has written."""
        self._told: list[str] = []
        self._touched = False
        """Whether the process knows that somebody has edited the document since it was read."""
        self._saves = False
        self._at_work = False
        self._close_after = False
        self._over = False

    def say(self, sentence: str) -> None:
        """Show a sentence on the page Start and in a box."""
        self._window.note(sentence)
        self._window.box(sentence)

    def start(self, what: str, command: list[str]) -> None:
        """Begin; all that follows is done message by message."""
        try:
            self._start(what, command)
        except Exception as error:
            self._leave()
            self.say(f"sheetplan could not be run ({type(error).__name__}: {error}).")

    def _start(self, what: str, command: list[str]) -> None:
        document = self.document
        if not document.URL.startswith("file:"):
            self._leave()
            self.say("Save the workbook once, so that its drawings have a folder, then run again.")
            return
        self._sent = read_document(document)
        later = self._context.ServiceManager.createInstanceWithContext(
            "com.sun.star.awt.AsyncCallback", self._context
        )
        self._child = Child(command, lambda: later.addCallback(self, None))
        document.addCloseListener(self)
        document.addDocumentEventListener(self)
        document.addModifyListener(self)
        self._child.send({
            "run": what, "path": unohelper.fileUrlToSystemPath(document.URL), "sheets": self._sent,
            "named": read_named(document), "facts": facts_of(document),
        })  # fmt: skip

    def stop(self) -> None:
        """End the search with the best so far."""
        if self._child is not None:
            self._child.send({"stop": True})

    def notify(self, _: Any) -> None:
        """Do what has come from the process, unless the document is being saved or a message is in work."""
        if self._at_work or self._saves:
            return
        self._at_work = True
        try:
            while not self._over and not self._saves:
                message = self._child.take() if self._child is not None else None
                if message is None:
                    break
                self._do(message)
        except Exception as error:
            self._told.append(f"sheetplan could not go on ({type(error).__name__}: {error}).")
            self._leave()
        finally:
            self._at_work = False
        if self._over:
            self._last_words()

    def _do(self, message: dict[str, Any]) -> None:
        if "progress" in message:
            self._window.progress(*message["progress"])
        elif "note" in message:
            self._window.note(message["note"])
        elif "tell" in message:
            self._told.append(message["tell"])
        elif "read" in message:
            self._sent, self._touched = read_document(self.document), False
            self._child.send({"sheets": self._sent})  # type: ignore[union-attr]
        elif "write" in message:
            self._child.send(self._write(message["write"]))  # type: ignore[union-attr]
        elif "end" in message:
            self._leave()
        elif "gone" in message:
            self._told.append("sheetplan ended without a word; run it from the command line to see why.")
            self._leave()

    def _write(self, write: Any) -> dict[str, Any]:
        """Write and draw; the answer to send.

        None of it can be undone, nor what was typed before: files beside the book go with the pages.
        """
        document = self.document
        if self._sent is not None and inputs_of(read_document(document)) != inputs_of(self._sent):
            return {"changed": True}
        if write["save"] and self._address != document.URL:
            return {"refused": "The workbook was saved under another name meanwhile."}
        if write["save"] and document.isReadonly():
            return {"refused": "The workbook is open for reading only, so it could not be saved."}
        try:
            Drawing(self._context, document, write["mark"]).draw(write)
        except PageRefused as refused:
            return {"refused": str(refused)}
        except Exception as error:
            what = f"the pages could not be drawn: {type(error).__name__}: {error}"
            return {"written": True, "unsaved": what} if write["save"] else {"refused": f"Calc: {what}."}
        finally:
            document.UndoManager.clear()
        self._sent, self._touched = None, False  # what it holds now is ours until the run asks for it
        if write["save"]:
            try:
                document.store()
            except Exception as error:
                return {"written": True, "unsaved": f"{type(error).__name__}: {error}"}
        return {"written": True}

    def documentEventOccured(self, event: Any) -> None:
        """Wait while the document is saved, then go on under the name that it has now."""
        if event.EventName in _BEGINS:
            self._saves = True
        elif event.EventName in _ENDS:
            self._saves = False
            if self._child is not None and self._address != self.document.URL and not self._at_work:
                self._address = self.document.URL
                self._child.send({"moved": unohelper.fileUrlToSystemPath(self._address)})
            self.notify(None)

    def modified(self, _: Any) -> None:
        """Tell the process, once, that somebody works in the document."""
        if not self._at_work and not self._touched and self._child is not None:
            self._touched = True
            self._child.send({"touched": True})

    def queryClosing(self, _: Any, owned: bool) -> None:
        """A document is not closed while it is written; it closes by itself right after."""
        if self._at_work and not self._over:
            self._close_after = self._close_after or owned
            raise CloseVetoException("sheetplan is writing", self)

    def notifyClosing(self, _: Any) -> None:
        """The document goes, and its run with it."""
        self._told.clear()
        self._leave(gone=True)

    def disposing(self, _: Any) -> None:
        """The document has gone."""
        self._told.clear()
        self._leave(gone=True)

    def _leave(self, *, gone: bool = False) -> None:
        """Let the process go and forget the document; harmless the second time."""
        if self._over:
            return
        self._over = True
        self._window.end()
        if self._child is not None:
            self._child.let_go()
        if not gone:
            with contextlib.suppress(Exception):
                self.document.removeCloseListener(self)
                self.document.removeDocumentEventListener(self)
                self.document.removeModifyListener(self)
        self._ended(self)

    def _last_words(self) -> None:
        """Boxes come after the run is over, so that the next may begin while one is open."""
        told, self._told = self._told, []
        if self._close_after:
            with contextlib.suppress(Exception):
                self.document.close(True)
            return
        for sentence in told:
            self._window.box(sentence)
