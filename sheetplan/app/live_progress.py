"""A live book whose page Start shows how far the run is."""

from __future__ import annotations

import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from sheetplan.pages.values import ResultPage
from sheetplan.planning.progress import Progress
from sheetplan.trade.units import Units
from sheetplan.workbook.barred import BookState
from sheetplan.workbook.live_edit import Edits, LiveEdit
from sheetplan.workbook.port import LiveHost
from sheetplan.workbook.tables import BookTables

NOTE_SECONDS = 2.0
"""How often Start shows the progress of one stage: each time the program draws the page anew."""


class ShownOnStart:
    """A live host whose progress is also noted on Start, behind ``label``."""

    def __init__(self, host: LiveHost, label: str) -> None:
        self._host, self._label = host, label
        self._noted, self._stage = time.monotonic(), ""

    @property
    def path(self) -> Path:
        """Where the book's file lies."""
        return self._host.path

    def progress(self, progress: Progress) -> None:
        """Show the progress, and from time to time on Start as well."""
        self._host.progress(progress)
        now, stage = time.monotonic(), progress.sentence.partition(" ")[0]
        if stage != self._stage or now - self._noted >= NOTE_SECONDS:
            self._noted, self._stage = now, stage
            with suppress(Exception):  # a protected page must not end the run
                self._host.note(f"{self._label}: under way. {progress.sentence}")

    def read(self) -> BookTables:
        """Read all input tables."""
        return self._host.read()

    def touched(self) -> bool | None:
        """Whether somebody has worked in the book since it was last read."""
        return self._host.touched()

    def state(self) -> BookState:
        """How the program has the book open."""
        return self._host.state()

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        """Replace our pages."""
        return self._host.write(pages, units)

    def tell(self, sentence: str) -> None:
        """Say something that the person must know."""
        self._host.tell(sentence)

    def asked(self, name: str) -> str:
        """Text of a named cell."""
        return self._host.asked(name)

    def note(self, sentence: str) -> None:
        """Show a sentence on Start."""
        self._host.note(sentence)

    def edit(self) -> LiveEdit:
        """Begin changes to cells."""
        return self._host.edit()

    def change(self, edits: Edits, pages: Sequence[ResultPage], units: Units, *, save: bool) -> None:
        """Write cells and replace pages in one step."""
        self._host.change(edits, pages, units, save=save)
