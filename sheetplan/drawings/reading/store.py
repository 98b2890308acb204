"""Drawings read from files, a whole book's at once, each remembered by what is in the file."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.drawings.reading.drawing import (
    READER_VERSION,
    ReadingChoices,
    choices_to_json,
    read_bytes,
    refused,
    report_from_json,
    report_to_json,
)
from sheetplan.drawings.reading.reader_process import NotRead, Reader
from sheetplan.drawings.reading.report import DrawingReport

# Drawings read before, remembered by what is in the file: a month's book reads each of them once.
#
# An entry is a JSON file named after a hash of the drawing's bytes, the choices it was read with,
# and the reader's own version. Entries that cannot be used are passed over and written anew.

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


# Reading drawings from files, a whole book's at once, each remembered by its content.

SMALL_BYTES = 500_000
"""Files up to this size are parsed in a second or so, well within any limit, without a process."""

Read = Callable[[str, bytes, ReadingChoices], DrawingReport]

FEW_BYTES = 2_000_000
"""Small drawings are read right here up to this size in all: starting readers takes as long."""


@dataclass(frozen=True, slots=True)
class Request:
    """A drawing to read: where it is, what the planner calls it, and how it is to be read."""

    path: Path
    name: str
    choices: ReadingChoices


def read_drawings(requests: Sequence[Request], cache: DrawingCache) -> list[DrawingReport]:
    """Read many drawings, side by side where that pays.

    Parameters
    ----------
    requests : Sequence[Request]
        What to read; the same file with the same choices is read once.
    cache : DrawingCache
        Where to look first.
    """
    found: dict[int, DrawingReport] = {}
    waiting: dict[str, list[int]] = {}
    for i, request in enumerate(requests):
        opened = _opened(request)
        if isinstance(opened, DrawingReport):
            found[i] = opened
            continue
        key = cache.key(opened, request.choices)
        known = cache.get(key, request.name)
        if known:
            found[i] = known
        else:
            waiting.setdefault(key, []).append(i)
    for key, report in _read_all({key: requests[same[0]] for key, same in waiting.items()}, cache):
        for i in waiting[key]:
            found[i] = replace(report, name=requests[i].name)
    return [found[i] for i in range(len(requests))]


def _opened(request: Request) -> bytes | DrawingReport:
    """The file's bytes, or why they cannot be had."""
    try:
        size = request.path.stat().st_size
        if size > request.choices.limits.size:
            most = request.choices.limits.size
            return refused(request.name, f"it has {size:,} bytes; the most that is read is {most:,}")
        return request.path.read_bytes()
    except OSError as reason:
        return refused(request.name, f"the file cannot be opened ({reason.strerror or reason})")


def _read_all(requests: dict[str, Request], cache: DrawingCache) -> Iterator[tuple[str, DrawingReport]]:
    sizes = [request.path.stat().st_size for request in requests.values()]
    if max(sizes, default=0) <= SMALL_BYTES and sum(sizes) <= FEW_BYTES:
        for key, request in requests.items():
            yield key, _read(request, cache, _read_here)
        return
    yield from _read_apart(requests, cache, min(os.cpu_count() or 1, len(requests)))


def _read(request: Request, cache: DrawingCache, read: Read) -> DrawingReport:
    """Read and remember; opened anew, so that what is remembered is what was read."""
    data = _opened(request)
    if isinstance(data, DrawingReport):
        return data
    try:
        report = read(request.name, data, request.choices)
    except NotRead as reason:
        return refused(request.name, str(reason))
    cache.put(cache.key(data, request.choices), report)
    return report


def _read_here(name: str, data: bytes, choices: ReadingChoices) -> DrawingReport:
    return read_bytes(name, data, choices, time.process_time)


def _read_apart(
    requests: dict[str, Request], cache: DrawingCache, workers: int
) -> Iterator[tuple[str, DrawingReport]]:
    """In reader processes, one to each thread that waits for it."""
    readers: list[Reader] = []
    own = threading.local()

    def start() -> None:
        own.reader = Reader()
        readers.append(own.reader)

    def read(request: Request) -> DrawingReport:
        return _read(request, cache, own.reader.read)

    try:
        with ThreadPoolExecutor(workers, initializer=start) as threads:
            yield from zip(requests, threads.map(read, requests.values()), strict=True)
    finally:
        for reader in readers:
            reader.close()
