"""See whether somebody else has the book, and keep two runs from writing it at once.

The marks that programs leave beside an open book are honoured. Drives that know no locks are covered by
comparing the book with what was read (`guard.Fingerprint`).
"""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sheetplan.model.problem import Problem
from sheetplan.workbook.errors import BookInUse, book_problem

_TRIES = 20

_NO_LOCKS = (errno.ENOLCK, errno.ENOTSUP, errno.ENOSYS, errno.EINVAL)
"""What drives say that know no locks; the comparison with the book as read then has to do."""


def open_elsewhere(path: str | os.PathLike[str]) -> Problem | None:
    """Say which program has the book open, or None where nobody seems to.

    Spreadsheet programs leave a small file beside an open book: LibreOffice ``.~lock.NAME#``,
    Excel ``~$NAME``. On Windows an open book also refuses to be opened for writing.
    """
    path = Path(os.path.realpath(path))
    for mark, program, reader in (
        (path.with_name(f".~lock.{path.name}#"), "LibreOffice", _libreoffice_person),
        (path.with_name(f"~${path.name}"), "Excel", _excel_person),
    ):
        if mark.exists():
            person = reader(mark)
            who = f" ({person})" if person else ""
            return book_problem(
                path,
                f"The workbook is open in {program}{who}; nothing was written.",
                f"Close it there and try again. If nobody has it open, delete {mark.name} beside it.",
            )
    return _refuses_writing(path)


def _refuses_writing(path: Path) -> Problem | None:
    """Say why the file itself would not take writing; a missing file is no matter here."""
    try:
        writable = path.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
        if not writable:
            return book_problem(
                path,
                "The workbook is marked as read-only; nothing was written.",
                "Take the mark off in the file's properties, or plan a copy.",
            )
        with path.open("r+b"):
            return None
    except FileNotFoundError:
        return None
    except OSError as error:
        return book_problem(
            path,
            f"The workbook may not be written ({error.strerror or error}).",
            "Close it where it is open, or copy it to a folder where you may write.",
        )


def _libreoffice_person(mark: Path) -> str:
    """Read who and since when from the lock file: fields between commas, the first two often empty."""
    try:
        fields = mark.read_text(encoding="utf-8", errors="replace").split(",")
    except OSError:
        return ""
    said = [field.strip() for field in fields[:2] if field.strip()]
    since = fields[3].strip() if len(fields) > 3 else ""
    return ", ".join([*said[:1], *([f"since {since}"] if since else [])])


def _excel_person(mark: Path) -> str:
    """Read who from the owner file: a length byte, then the name."""
    try:
        data = mark.read_bytes()
    except OSError:
        return ""
    name = data[1 : 1 + data[0]] if data else b""
    return "".join(c for c in name.decode("cp1252", errors="ignore") if c.isprintable()).strip()


@contextmanager
def only_writer(path: Path) -> Iterator[None]:
    """Hold the right to write the book; another run that tries meanwhile gets BookInUse.

    The right is a lock of the operating system on a small hidden file beside the book: it ends
    with the process, however that ends, and the file is removed after use.
    """
    mark = path.with_name(f".{path.name}.sheetplan-writing")
    handle = _locked(mark, path)
    try:
        yield
    finally:
        if sys.platform == "win32":
            os.close(handle)
            _remove(mark)
        else:
            try:
                _remove(mark)
            finally:  # Ctrl-C may come just here
                os.close(handle)


def _locked(mark: Path, path: Path) -> int:
    """Open and lock the file, making sure that it is still the one beside the book."""
    for _ in range(_TRIES):
        handle = os.open(mark, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _take_lock(handle)
            if os.path.samestat(os.fstat(handle), os.stat(mark)):
                return handle
        except FileNotFoundError:
            pass
        except OSError as error:
            if error.errno in _NO_LOCKS:
                return handle
            os.close(handle)
            raise BookInUse(
                book_problem(
                    path,
                    "Another run is writing this workbook; nothing was written.",
                    "Wait until it has ended, then try again.",
                )
            ) from error
        os.close(handle)
    raise BookInUse(
        book_problem(
            path,
            "Other runs keep writing this workbook; nothing was written.",
            "Wait until they have ended, then try again.",
        )
    )


def _take_lock(handle: int) -> None:
    """Lock the open file for this process alone, or raise OSError at once."""
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _remove(mark: Path) -> None:
    try:
        mark.unlink()
    except OSError:
        return
