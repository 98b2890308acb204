"""Files that a run may write over: those that the tool wrote itself, known by what is in them, and no others.

An output that is asked for by name is judged before the run and again when it is written. What goes beside a
book by itself (backup, results book) takes another name where its own is taken by a file of the planner's.

Choices
-------
A backup is the planner's book byte for byte, so nothing in it can say who wrote it: digests of the last two
are kept in a hidden file beside it. A results book bears a digest of its own parts, which no longer fits once
anybody has saved something into it.
"""

from __future__ import annotations

import hashlib
import json
import re
import struct
import zlib
from collections.abc import Callable, Collection, Iterator
from pathlib import Path

from sheetplan.workbook.errors import NotWritten, book_problem
from sheetplan.workbook.ledger import ledger
from sheetplan.workbook.package import Package
from sheetplan.workbook.replacing import put_file

IsOurs = Callable[[bytes], bool]
"""Whether the content of a file is what the tool writes under such a name."""

MOST_READ = 64 * 1024**2
"""A file larger than this is none of ours."""


def may_write(path: Path, is_ours: IsOurs) -> None:
    """Raise ``NotWritten`` where an output would take the place of something that the tool did not write."""
    if not path.parent.is_dir():
        raise NotWritten(book_problem(
            path, f"There is no folder {path.parent} to write {path.name} into.",
            "Make the folder first, or name another.",
        ))  # fmt: skip
    if path.is_dir():
        raise NotWritten(book_problem(path, "This is a folder, not a file to write.", "Name a file in it."))
    try:
        if path.exists() and not (path.stat().st_size <= MOST_READ and is_ours(path.read_bytes())):
            raise NotWritten(book_problem(
                path, "A file of this name is there, and sheetplan did not write it; it stays as it is.",
                "Choose another name, or move that file away.",
            ))  # fmt: skip
    except OSError as error:
        raise NotWritten(book_problem(
            path, f"It cannot be told what lies there ({error.strerror or error}).", "Choose another name.",
        )) from error  # fmt: skip


def put_output(path: Path, data: bytes, is_ours: IsOurs) -> None:
    """Write an output in one step; raises as `may_write`, and OSError where the disk refuses."""
    may_write(path, is_ours)
    put_file(path.resolve(), data)


def json_with(keys: Collection[str]) -> IsOurs:
    """Whether a file is JSON with just these entries among its own: an earlier answer of the same command."""

    def is_ours(data: bytes) -> bool:
        try:
            value = json.loads(data)
        except (ValueError, RecursionError):
            return False
        return isinstance(value, dict) and set(keys) <= value.keys()

    return is_ours


_PNG = b"\x89PNG\r\n\x1a\n"
_MADE_BY = b"tEXtSoftware\0sheetplan"


def signed_png(png: bytes) -> bytes:
    """The picture with a note of who made it (PNG, third edition, 11.3.3.2: tEXt), after its header."""
    end = len(_PNG) + 4 + struct.unpack(">I", png[8:12])[0] + 8
    note = struct.pack(">I", len(_MADE_BY) - 4) + _MADE_BY + struct.pack(">I", zlib.crc32(_MADE_BY))
    return png[:end] + note + png[end:]


def is_our_png(data: bytes) -> bool:
    """Whether a picture bears our note."""
    return data.startswith(_PNG) and _MADE_BY in data[:200]


def is_our_pdf(data: bytes) -> bool:
    """Whether a PDF says that we made it."""
    return data.startswith(b"%PDF") and re.search(rb"/Creator \(sheetplan", data) is not None


MOST_NAMES = 1_000


def backup_of(book: Path) -> Path:
    """Where a book's backup stands, if no file of the planner's has that name."""
    return next(_names(book, f".backup{book.suffix}"))


def results_beside(book: Path) -> Path:
    """Where a book's results stand beside it, if no file of the planner's has that name."""
    return next(_names(book, " results.xlsx"))


def _names(path: Path, kind: str) -> Iterator[Path]:
    yield path.with_name(f"{path.stem}{kind}")
    for number in range(2, MOST_NAMES):
        yield path.with_name(f"{path.stem} {number}{kind}")


def _free_name(path: Path, kind: str, is_ours: IsOurs) -> Path:
    """The first name beside a book that nobody has, or that a file of ours has; says what was passed over."""
    passed = ""
    for place in _names(path, kind):
        if not place.exists() or (place.is_file() and not place.is_symlink() and is_ours(place.read_bytes())):
            if passed:
                ledger().lost.append(
                    f"{passed} may be your own, or was changed since it was written, and stays as it is; "
                    f"{place.name} was written instead."
                )
            return place
        passed = passed or place.name
    raise NotWritten(
        book_problem(path, f"No name is free for {passed}.", "Move old files of that name away.")
    )


def put_backup(book: Path, data: bytes) -> Path:
    """Keep a book as it was, beside it, with the rights that it has; gives the backup's place."""
    note = book.with_name(f".{book.stem}.backup.json")
    try:
        known = [str(one) for one in json.loads(note.read_bytes())]
    except (OSError, ValueError, TypeError):
        known = []
    place = _free_name(book, f".backup{book.suffix}", lambda there: _digest(there) in known)
    known = [one for one in known[-1:] if one != _digest(data)]
    put_file(note, json.dumps([*known, _digest(data)]).encode(), like=book)
    put_file(place, data, like=book)
    return place


def results_place(book: Path) -> Path:
    """Where the results go if the planner's book may not be altered."""
    return _free_name(book, " results.xlsx", is_results)


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


_CORE = "docProps/core.xml"
_STAMP = re.compile(rb"<dc:description>sheetplan results ([0-9a-f]{64})</dc:description>")


def stamped(data: bytes) -> bytes:
    """A results book with a digest of all its parts in its properties."""
    package = Package.of_bytes(data)
    core = _STAMP.sub(b"", package.read(_CORE))
    stamp = b"<dc:description>sheetplan results %s</dc:description>" % _parts(package).encode()
    package.put(_CORE, core.replace(b"</cp:coreProperties>", stamp + b"</cp:coreProperties>"))
    return package.to_bytes()


def is_results(data: bytes) -> bool:
    """Whether a book is a results book as we wrote it, nothing saved into it since."""
    try:
        package = Package.of_bytes(data)
        found = _STAMP.search(package.read(_CORE))
        return found is not None and found.group(1).decode() == _parts(package)
    except Exception:  # whatever it is, it is no book of ours
        return False


def _parts(package: Package) -> str:
    whole = hashlib.sha256()
    for name in sorted(package.names):
        if name != _CORE:
            whole.update(name.encode() + b"\0" + package.read(name) + b"\0")
    return whole.hexdigest()
