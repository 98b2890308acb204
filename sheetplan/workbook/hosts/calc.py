"""The book open in LibreOffice Calc, seen from the run: the extension at the other end reads and draws."""

from __future__ import annotations

import json
import queue
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TextIO

from sheetplan.pages.values import ResultPage
from sheetplan.planning.progress import Progress
from sheetplan.trade.units import Units
from sheetplan.workbook.errors import BookChanged, NotWritten, book_problem
from sheetplan.workbook.hosts.calc_message import SentView, write_message
from sheetplan.workbook.page_grid import grid_of
from sheetplan.workbook.reading_book import read_view
from sheetplan.workbook.tables import BookTables

ANSWER_SECONDS = 300.0
"""How long drawing may take at the other end: minutes on a slow machine, never for ever."""


class CalcBook:
    """A host that speaks with the extension over two streams; read the request first with `start`."""

    def __init__(self, request: Mapping[str, Any], incoming: TextIO, outgoing: TextIO) -> None:
        self._request = request
        self._outgoing = outgoing
        self._answers: queue.Queue[Mapping[str, Any]] = queue.Queue()
        self._stopped = threading.Event()
        threading.Thread(target=self._listen, args=(incoming,), daemon=True).start()

    @classmethod
    def start(cls, incoming: TextIO, outgoing: TextIO) -> CalcBook:
        """Take the request from the first line."""
        return cls(json.loads(incoming.readline()), incoming, outgoing)

    @property
    def run(self) -> str:
        """What the person asked for."""
        return str(self._request["run"])

    @property
    def path(self) -> Path:
        """Where the document's file lies."""
        return Path(self._request["path"])

    def stop(self) -> bool:
        """Whether the person asked to end the search, or the program at the other end has gone."""
        return self._stopped.is_set()

    def read(self) -> BookTables:
        """Read the tables from the cells that were sent."""
        return read_view(SentView(self._request["sheets"]))

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        """Have the pages drawn, and wait until they are."""
        self._say(write_message([grid_of(page, units) for page in pages], units))
        try:
            answer = self._answers.get(timeout=ANSWER_SECONDS)
        except queue.Empty:
            answer = {"refused": "The spreadsheet program does not answer."}
        if answer.get("changed"):
            raise BookChanged(
                book_problem(
                    self.path,
                    "The input pages were changed while the run was under way; nothing was written.",
                    "Run it again so that the results fit what the workbook says now.",
                )
            )
        if not answer.get("written"):
            reason = str(answer.get("refused", "The spreadsheet program refused."))
            raise NotWritten(book_problem(self.path, reason, "Put that right, then run it again."))
        return self.path

    def progress(self, progress: Progress) -> None:
        """Show the progress in the program's status bar."""
        self._say({"progress": [progress.done, progress.sentence]})

    def tell(self, sentence: str) -> None:
        """Show the sentence in a box."""
        self._say({"tell": sentence})

    def end(self) -> None:
        """Say that nothing more will come."""
        self._say({"end": True})

    def _say(self, message: Mapping[str, Any]) -> None:
        self._outgoing.write(json.dumps(message, ensure_ascii=True) + "\n")
        self._outgoing.flush()

    def _listen(self, incoming: TextIO) -> None:
        for line in incoming:
            message = json.loads(line)
            if message.get("stop"):
                self._stopped.set()
            else:
                self._answers.put(message)
        self._stopped.set()
        self._answers.put({"refused": "The spreadsheet program has gone."})
