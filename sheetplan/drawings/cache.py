"""Drawings read before, remembered by what is in the file: a month's book reads each of them once.

An entry is a JSON file named after a hash of the drawing's bytes, the choices it was read with,
and the reader's own version. Entries that cannot be used are passed over and written anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from pathlib import Path

from sheetplan.drawings.reading import ReadingChoices
from sheetplan.drawings.report import DrawingReport
from sheetplan.drawings.report_json import choices_to_json, report_from_json, report_to_json

READER_VERSION = 8
"""Raised whenever reading comes to other results, so that old entries are no longer found."""

MOST_ENTRIES = 3000
"""More are cleared out, the oldest first: some 30 MB at most."""


class DrawingCache:
    """A folder of remembered reports; without a folder it remembers nothing."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder

    def key(self, data: bytes, choices: ReadingChoices) -> str:
        """The name under which a drawing read with these choices is remembered."""
        how = json.dumps([READER_VERSION, choices_to_json(choices)], sort_keys=True)
        return hashlib.sha256(how.encode() + b"\0" + data).hexdigest()

    def get(self, key: str, name: str) -> DrawingReport | None:
        """A remembered report, under the name of the drawing now."""
        if self.folder is None:
            return None
        try:
            text = (self.folder / f"{key}.json").read_text(encoding="utf-8")
            return report_from_json(json.loads(text), name)
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return None

    def put(self, key: str, report: DrawingReport) -> None:
        """Remember a report; a folder that cannot be written to is no reason to stop."""
        if self.folder is None:
            return
        with contextlib.suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            handle, draft = tempfile.mkstemp(dir=self.folder, suffix=".draft")
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(report_to_json(report), file)
            os.replace(draft, self.folder / f"{key}.json")

    def clear_out(self) -> None:
        """Drop the oldest entries beyond `MOST_ENTRIES`, and drafts that a crash left behind."""
        if self.folder is None:
            return
        with contextlib.suppress(OSError):
            entries = sorted(self.folder.glob("*.json"), key=lambda path: path.stat().st_mtime)
            for path in (*entries[:-MOST_ENTRIES], *self.folder.glob("*.draft")):
                path.unlink(missing_ok=True)
